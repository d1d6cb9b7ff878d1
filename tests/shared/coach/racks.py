"""Racks for the coach's tests, dealt by a seeded generator (invented data)."""

import numpy as np

from shared.coach.distance import Counts
from shared.rules.tiles import INDEX, KINDS, full_set

_SET = np.array([INDEX[tile] for tile in full_set()])


def racks(seed: int, number: int, size: int = 14) -> Counts:
    """Return random racks as counts, shape (number, 36)."""
    dice = np.random.Generator(np.random.PCG64(seed))
    dealt = [dice.choice(_SET, size, replace=False) for _ in range(number)]
    return np.array([np.bincount(tiles, minlength=len(KINDS)) for tiles in dealt], dtype=np.uint8)

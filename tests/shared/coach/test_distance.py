"""Tiles away is the least number of tiles to change: checked by an integer program and by trying everything."""

import itertools

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, milp

from shared.coach.distance import JOKER_INDEX, Patterns, away, away_by_hand, away_one, counts_of
from shared.tiles import COPIES, INDEX, KINDS, full_set, parse_tiles
from tests.shared.coach.synthetic import make, pattern

CARD = Patterns.of_variants(make())
SET = np.array([INDEX[tile] for tile in full_set()])


def racks(seed: int, number: int, size: int = 14) -> np.ndarray:
    dice = np.random.Generator(np.random.PCG64(seed))
    dealt = [dice.choice(SET, size, replace=False) for _ in range(number)]
    return np.array([np.bincount(tiles, minlength=36) for tiles in dealt], dtype=np.uint8)


def one(groups: list[tuple[str, int]], rack: str) -> int:
    return int(away_one(Patterns.of_variants([pattern(0, groups)]), counts_of(parse_tiles(rack)))[0])


def hand_by_program(patterns: Patterns, hand: int, counts: np.ndarray) -> int:
    """Fill one hand with scipy's integer program: choose a variant, then naturals to pairs, to groups, and jokers.

    Variables: z[v] picks the variant; x[k], y[k] naturals of kind k to its pairs and groups; j[k] jokers to groups.
    """
    chosen = patterns.hand == hand
    pairs, groups = patterns.pairs[chosen].T.astype(float), patterns.groups[chosen].T.astype(float)
    used = np.flatnonzero((pairs + groups).any(axis=1))
    pairs, groups, n, v = pairs[used], groups[used], len(used), int(chosen.sum())
    eye, none, to_z = np.eye(n), np.zeros((n, n)), np.zeros((n, v))
    rows = np.block(
        [
            [-pairs, eye, none, none],
            [-groups, none, eye, eye],
            [to_z, eye, eye, none],
            [np.zeros((1, v)), np.zeros((1, 2 * n)), np.ones((1, n))],
            [np.ones((1, v)), np.zeros((1, 3 * n))],
        ]
    )
    upper = np.concatenate([np.zeros(2 * n), counts[used], [counts[JOKER_INDEX], 1]])
    gain = np.concatenate([np.zeros(v), -np.ones(3 * n)])
    answer = milp(gain, constraints=LinearConstraint(rows, -np.inf, upper), integrality=1)
    assert answer.success
    return round(14 + answer.fun)


def test_every_hand_agrees_with_an_integer_program_on_random_racks() -> None:
    dealt = racks(1, 300)
    ours = away_by_hand(CARD, dealt)
    hands = len(CARD.first)
    for row, counts in enumerate(dealt):
        for hand in range(hands):
            assert ours[row, hand] == hand_by_program(CARD, hand, counts), (row, hand)

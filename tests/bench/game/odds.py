"""How likely the missing tiles of one kind come in the rounds that are left: the table that the seats judge by.

A rough model on purpose, and nobody's but the simulator's: one kind at a time, from the copies that a seat has not
seen, by its own draws and, where the tile may be called, by the others' discards once it is the last one missing.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MOST_ROUNDS, MOST_MISSING, MOST_UNSEEN, MOST_HELP = 26, 14, 8, 4
OTHERS = 3
_ON_RACKS = 36
"""Unseen tiles that lie on the others' racks rather than in the wall, about."""
_FLOOR = 1e-9


class Odds(NamedTuple):
    """The table.

    Attributes:
        come: the chance that tiles of one kind come, shape (2, rounds, missing, unseen copies, jokers that help);
            the first index says whether a discard may be called as the last of them.
    """

    come: Floats


def odds_of(discarded: float) -> Odds:
    """Return the table for others who discard a tile that they hold with such a weight (1: like any other tile)."""
    come = np.zeros((2, MOST_ROUNDS + 1, MOST_MISSING + 1, MOST_UNSEEN + 1, MOST_HELP + 1))
    come[:, :, 0] = 1.0
    unseen = np.arange(MOST_UNSEEN + 1)[:, None]
    jokers = np.arange(MOST_HELP + 1)[None, :]
    for rounds in range(1, MOST_ROUNDS + 1):
        pool = 4 * rounds + _ON_RACKS
        natural, joker = unseen / pool, jokers / pool
        let_go = np.minimum(OTHERS * discarded * unseen / pool, 0.9)
        for call in range(2):
            after = come[call, rounds - 1]
            # What the others do, seen from each number missing: one copy goes, called if it is the last that is needed.
            fewer = np.concatenate([after[:, :1], after[:, :-1]], axis=1)
            others = (1 - let_go) * after + let_go * fewer
            if call:
                others[1] = (1 - let_go) * after[1] + let_go
            less = np.concatenate([others[:, :1], others[:, :-1]], axis=1)
            now = come[call, rounds]
            now[1:] = natural * less[:-1] + joker * others[:-1] + (1 - natural - joker) * others[1:]
            now[0] = 1.0
    return Odds(np.maximum(come, _FLOOR))

"""What the other seats tend to pass: the tiles that a card's hands want least.

Must never know what anybody really passed: we find the tendency from the card alone, by letting four seats play a few
seeded Charlestons with the softened greedy policy. Why: a flower that half the hands want hardly ever comes by a pass,
and a coach that takes all unseen tiles for equally likely would wait for it in vain.
"""

from math import exp

import numpy as np

from shared.coach.chance import Floats
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away
from shared.coach.futures import orders
from shared.coach.passes import PASS
from shared.coach.targets import SET
from shared.rules.seats import Direction

FADE = np.array([exp(-1.5 * tiles) for tiles in range(15)])
"""The weight of a variant in the softened greedy policy, by tiles away."""

_DEALS = 64
_SEED = 1
_HANDS = (14, 13, 13, 13)
SIX_PASSES = (Direction.RIGHT, Direction.ACROSS, Direction.LEFT, Direction.LEFT, Direction.ACROSS, Direction.RIGHT)


def tendency(patterns: Patterns) -> Floats:
    """Return how much likelier each kind comes by a pass than its number of copies suggests, shape (6, 35).

    One row for each of the six passes. The first brings many more unwanted tiles than the later ones: by then those
    tiles have gone round, and others have lost their use.
    """
    racks = _deals()
    share = np.empty((len(SIX_PASSES), JOKER_INDEX))
    for number, direction in enumerate(SIX_PASSES):
        gives = softened_greedy(patterns, racks.reshape(-1, racks.shape[2]), (_SEED, 1 + number)).reshape(racks.shape)
        racks = racks - gives + np.roll(gives, int(direction), axis=1)
        passed = 1.0 + gives[:, :, :JOKER_INDEX].sum(axis=(0, 1))  # the 1.0 keeps every kind possible
        share[number] = passed / SET[:JOKER_INDEX]
    # A card's notation treats the three suits alike, so we pool them and need fewer deals.
    suited = share[:, :27].reshape(len(SIX_PASSES), 3, 9)
    suited[:] = suited.mean(axis=1, keepdims=True)
    readiness: Floats = share / share.mean(axis=1, keepdims=True)
    return readiness


def softened_greedy(patterns: Patterns, racks: Counts, seed: tuple[int, ...]) -> Counts:
    """Return the three tiles that each rack misses least, each judged alone, ties by lot; shape (racks, 36)."""
    row, kind = np.nonzero(racks[:, :JOKER_INDEX])
    fewer = racks[row]
    fewer[np.arange(len(row)), kind] -= 1
    kept = np.full((len(racks), JOKER_INDEX), -1.0)
    kept[row, kind] = FADE[away(patterns, fewer)].sum(axis=1)
    # Rounded, so that floating-point noise never decides between two tiles.
    kept = np.round(kept / kept.max(axis=1, keepdims=True), 9)
    order = np.lexsort((orders(JOKER_INDEX, len(racks), seed), -kept), axis=1)
    held = np.take_along_axis(racks, order, axis=1).astype(int)
    taken = np.clip(PASS - (np.cumsum(held, axis=1) - held), 0, held)
    gives = np.zeros_like(racks)
    np.put_along_axis(gives, order, taken.astype(np.uint8), axis=1)
    return gives


def _deals() -> Counts:
    tiles = np.repeat(np.arange(len(SET)), SET)
    seats = np.repeat(np.arange(len(_HANDS)), _HANDS)
    dealt = tiles[orders(len(tiles), _DEALS, (_SEED,))[:, : len(seats)]]
    racks = np.zeros((_DEALS, len(_HANDS), len(SET)), dtype=np.uint8)
    np.add.at(racks, (np.arange(_DEALS)[:, None], seats, dealt), 1)
    return racks

"""What the other seats tend to pass: the tiles that a card asks for least.

Must never be told what was really passed: the tendency follows from the card alone, by letting four seats with the
softened greedy policy play a few seeded Charlestons. A flower that half the hands want hardly ever comes by a pass, and
a coach that takes all unseen tiles for equally likely waits for it in vain.
"""

from math import exp

import numpy as np

from tests.bench.first_release.chance import Floats
from tests.bench.first_release.distance import JOKER_INDEX, Counts, Patterns, away
from tests.bench.first_release.futures import orders
from tests.bench.first_release.passes import PASS
from tests.bench.first_release.targets import SET

FADE = np.array([exp(-1.5 * tiles) for tiles in range(15)])
"""How much a variant so many tiles away counts for the softened greedy policy."""

_DEALS = 64
_SEED = 1
_HANDS = (14, 13, 13, 13)
SIX_PASSES = (1, 2, 3, 3, 2, 1)
"""How many places to the right each pass travels: right, across, left, left, across, right."""


def tendency(patterns: Patterns) -> Floats:
    """Return how much likelier than by its number of copies each kind is to come by a pass, shape (6, 35).

    A row for each of the six passes. By the first come the tiles that nobody asks for, many more than later, when they
    have been round and others have lost their use.
    """
    racks = _deals()
    share = np.empty((len(SIX_PASSES), JOKER_INDEX))
    for number, direction in enumerate(SIX_PASSES):
        gives = softened_greedy(patterns, racks.reshape(-1, racks.shape[2]), (_SEED, 1 + number)).reshape(racks.shape)
        racks = racks - gives + np.roll(gives, int(direction), axis=1)
        passed = 1.0 + gives[:, :, :JOKER_INDEX].sum(axis=(0, 1))  # no kind is taken to be impossible
        share[number] = passed / SET[:JOKER_INDEX]
    # A card's notation treats the three suits alike: pooling them makes few deals enough.
    suited = share[:, :27].reshape(len(SIX_PASSES), 3, 9)
    suited[:] = suited.mean(axis=1, keepdims=True)
    readiness: Floats = share / share.mean(axis=1, keepdims=True)
    return readiness


def softened_greedy(patterns: Patterns, racks: Counts, seed: tuple[int, ...]) -> Counts:
    """Return three tiles that each rack gives away: the three it misses least, each alone, ties by lot; (racks, 36)."""
    row, kind = np.nonzero(racks[:, :JOKER_INDEX])
    fewer = racks[row]
    fewer[np.arange(len(row)), kind] -= 1
    kept = np.full((len(racks), JOKER_INDEX), -1.0)
    kept[row, kind] = FADE[away(patterns, fewer)].sum(axis=1)
    # Rounded, so that the last bits of a machine's sums never decide between two tiles.
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

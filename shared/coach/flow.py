"""What the other seats tend to pass: the tiles that a card asks for least.

Must never be told what was really passed: the tendency follows from the card alone, by letting four seats with the
softened greedy policy play a few seeded Charlestons. A flower that half the hands want hardly ever comes by a pass, and
a coach that takes all unseen tiles for equally likely waits for it in vain.
"""

from math import exp

import numpy as np

from shared.coach.chance import Floats
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away
from shared.coach.futures import orders
from shared.coach.passes import PASS
from shared.coach.targets import SET
from shared.seats import Direction

FADE = np.array([exp(-1.5 * tiles) for tiles in range(15)])
"""How much a variant so many tiles away counts for the softened greedy policy."""

_DEALS = 24
_SEED = 1
_HANDS = (14, 13, 13, 13)
_ROUTE = (Direction.RIGHT, Direction.ACROSS, Direction.LEFT, Direction.LEFT, Direction.ACROSS, Direction.RIGHT)


def tendency(patterns: Patterns) -> Floats:
    """Return how much likelier than by its number of copies each kind is to come by a pass, shape (35,)."""
    racks = _deals()
    passed = np.full(JOKER_INDEX, 1.0)  # one of each, so that no kind is taken to be impossible
    for direction in _ROUTE:
        gives = _least_missed(patterns, racks.reshape(-1, racks.shape[2]), int(direction)).reshape(racks.shape)
        passed += gives[:, :, :JOKER_INDEX].sum(axis=(0, 1))
        racks = racks - gives + np.roll(gives, int(direction), axis=1)
    share = passed / SET[:JOKER_INDEX]
    # A card's notation treats the three suits alike: pooling them makes few deals enough.
    suited = share[:27].reshape(3, 9)
    suited[:] = suited.mean(axis=0)
    readiness: Floats = share / share.mean()
    return readiness


def _deals() -> Counts:
    tiles = np.repeat(np.arange(len(SET)), SET)
    seats = np.repeat(np.arange(len(_HANDS)), _HANDS)
    dealt = tiles[orders(len(tiles), _DEALS, (_SEED,))[:, : len(seats)]]
    racks = np.zeros((_DEALS, len(_HANDS), len(SET)), dtype=np.uint8)
    np.add.at(racks, (np.arange(_DEALS)[:, None], seats, dealt), 1)
    return racks


def _least_missed(patterns: Patterns, racks: Counts, seed: int) -> Counts:
    """Return the three tiles that softened greedy misses least, ties by lot, for racks of shape (racks, 36)."""
    row, kind = np.nonzero(racks[:, :JOKER_INDEX])
    fewer = racks[row]
    fewer[np.arange(len(row)), kind] -= 1
    kept = np.full((len(racks), JOKER_INDEX), -1.0)
    kept[row, kind] = FADE[away(patterns, fewer)].sum(axis=1)
    order = np.lexsort((orders(JOKER_INDEX, len(racks), (_SEED, seed)), -kept), axis=1)
    held = np.take_along_axis(racks, order, axis=1).astype(int)
    taken = np.clip(PASS - (np.cumsum(held, axis=1) - held), 0, held)
    gives = np.zeros_like(racks)
    np.put_along_axis(gives, order, taken.astype(np.uint8), axis=1)
    return gives

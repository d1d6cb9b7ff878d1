"""The first discard after the Charleston: which tile a rack misses least, and who might call it.

Must never see another rack: the risk is counted over racks sampled from the unseen tiles.
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.coach.distance import JOKER_INDEX, Counts, counts_of
from shared.coach.engine import Engine
from shared.coach.futures import orders, tally
from shared.coach.passes import Choices, Position, single_tiles, tiles_of
from shared.coach.ranking import exact
from shared.coach.targets import nearest
from shared.rules.tiles import KINDS, Rack, Tile

FIRST = 3
"""How many first discards are told."""
CLOSE = 1.0
"""Points below which the loss of a discard is too close to call: in long play-outs such losses came to nothing
(tests/README.md)."""
_SAMPLED = 200
_RACK = 13
_OTHERS = 3
_NEAR = 8
_CALLERS = 2
"""Tiles of its own, jokers counted, that a seat needs at least to call a discard for a group."""


@dataclass(frozen=True)
class Discard:
    """One tile that could go.

    Attributes:
        tile: its kind.
        points: the chance of winning without it, in percent.
        loss: how much less that is than without the best discard.
        called: the chance that one of the three others can and would call it, 0 to 1.
    """

    tile: Tile
    points: float
    loss: float
    called: float


def discards(engine: Engine, position: Position, seed: int) -> tuple[Discard, ...]:
    """Return every kind of the rack but jokers as a discard, the least missed first."""
    rack = position.counts()
    singles = np.array([tile for tile in single_tiles(rack) if not tile[JOKER_INDEX]])
    if not len(singles):
        return ()
    points = [exact(100 * worth) for worth in engine.changed_as_it_is(position, -singles.astype(np.int8)).tolist()]
    called = _called(engine, position, seed)
    best = max(points)
    found = [
        Discard(tiles_of(tile)[0], worth, best - worth, float(called[int(tile.argmax())]))
        for tile, worth in zip(singles, points, strict=True)
    ]
    return tuple(sorted(found, key=lambda discard: (-discard.points, discard.called, KINDS.index(discard.tile))))


def first_discards(engine: Engine, position: Position, seed: int) -> Rack:
    """Return the tiles to let go first, in order: each is the one least missed of what is left then."""
    gone: Rack = ()
    for _ in range(FIRST):
        left = tiles_of(position.counts() - counts_of(gone))
        found = discards(engine, replace(position, rack=left, passed=(*position.passed, *gone)), seed)
        gone = (*gone, *(discard.tile for discard in found[:1]))
    return gone


def together(engine: Engine, position: Position, tiles: Rack) -> tuple[Rack, float]:
    """Return the tiles of this number that a rack misses least, and how many points less it is worth without these."""
    choices = Choices.of(replace(position, gives=(len(tiles),)))
    worths = 100 * engine.changed_as_it_is(position, choices.changes(np.arange(len(choices.tiles))))
    best = int(worths.argmax())
    return tiles_of(choices.tiles[best]), exact(float(worths[best] - worths[choices.find(tiles, 0)]))


def _called(engine: Engine, position: Position, seed: int) -> np.ndarray:
    """Return for each kind the chance that one of three others can call it for a hand that is near, shape (36,)."""
    unseen, patterns = position.unseen(), engine.patterns
    pool = np.repeat(np.arange(len(unseen)), unseen)
    racks: Counts = tally(pool[orders(len(pool), _SAMPLED, (seed, 2))[:, :_RACK]])
    near = nearest(patterns, racks, _NEAR)
    short = patterns.groups[near].astype(int) - np.maximum(racks[:, None].astype(int) - patterns.pairs[near], 0)
    wanted = ((short > 0) & ~patterns.concealed[near][:, :, None]).any(axis=1)
    able = racks + racks[:, JOKER_INDEX, None] >= _CALLERS
    one = (wanted & able & (racks > 0)).mean(axis=0)
    result: np.ndarray = 1 - (1 - one) ** _OTHERS
    return result

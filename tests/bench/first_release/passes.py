"""What a seat may give away at a step, and what it knows when it decides.

Must never look further than one seat: a position holds its rack, what it passed, and how much is still to come.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.rules.tiles import COPIES, JOKER, KINDS, Rack, by_suit
from tests.bench.first_release.chance import Indices
from tests.bench.first_release.distance import JOKER_INDEX, Counts, counts_of
from tests.bench.first_release.targets import SET

Changes: TypeAlias = NDArray[np.int8]
"""Tiles that come (positive) or go (negative) by kind, shape (changes, 36)."""
PASS = 3
"""Tiles in a whole packet."""
PASSES = 6
LOOKS = 30
"""Tiles that come within reach in play (own draws and discards one could call), unless a player sets another number."""


@dataclass(frozen=True)
class Position:
    """What one seat knows when it decides.

    Attributes:
        rack: its tiles; their order does not matter.
        passed: every tile it passed before, blind ones left out; a tile that came back counts once.
        later: passes of three tiles still to come after this one.
        gives: how many of its own tiles it may give; as many come back, all but jokers.
        looks: tiles that come within reach in play.
        blind: whether giving fewer than three means forwarding the rest unseen.
        jokers: jokers in the set, eight or none.
        courtesy: whether what it gives is a courtesy.
        made: passes made before this one; None where both Charlestons are played, since then it follows from those
            that are still to come.
    """

    rack: Rack
    passed: Rack
    later: int
    gives: tuple[int, ...] = (3,)
    blind: bool = False
    looks: int = LOOKS
    jokers: int = COPIES[JOKER]
    courtesy: bool = False
    made: int | None = None

    @property
    def number(self) -> int:
        """Which of the six passes it is by what others have passed on, 0 for first right, 5 for last right or later."""
        last = PASSES - 1
        return last - self.later if self.made is None else min(self.made, last)

    def counts(self) -> Counts:
        """Return the rack by kind, shape (36,)."""
        return counts_of(self.rack)

    def all_tiles(self) -> Counts:
        """Return the whole set that is played with by kind, shape (36,)."""
        tiles = SET.copy()
        tiles[JOKER_INDEX] = self.jokers
        return tiles

    def unseen(self) -> Counts:
        """Return the tiles that the seat has not seen by kind, shape (36,).

        A tile that was passed and came back would be counted in the rack and among the passed; which tiles came back
        cannot be known, so a kind is never taken to be less than all seen.
        """
        seen = self.counts() + counts_of(self.passed)
        unseen: Counts = self.all_tiles() - np.minimum(seen, self.all_tiles())
        return unseen


@lru_cache(maxsize=128)
def _choices(tiles: int, number: int) -> Indices:
    every = list(combinations(range(tiles), number))
    return np.array(every, dtype=np.intp).reshape(len(every), number)


def legal_passes(rack: Counts, number: int) -> Counts:
    """Return every distinct choice of so many passable tiles, in kind order, shape (choices, 36).

    No joker is ever passed (common practice in the trade).
    """
    tiles = np.repeat(np.arange(JOKER_INDEX), rack[:JOKER_INDEX])
    kinds = tiles[_choices(len(tiles), number)]
    code = np.zeros(len(kinds), dtype=np.int64)
    for column in kinds.T:
        code = code * len(KINDS) + column
    kinds = kinds[np.unique(code, return_index=True)[1]]
    passes = np.zeros((len(kinds), len(KINDS)), dtype=np.uint8)
    for column in kinds.T:
        passes[np.arange(len(kinds)), column] += 1
    return passes


def tiles_of(counts: Counts) -> Rack:
    """Return the tiles of counts of shape (36,) in kind order."""
    return tuple(kind for kind, count in zip(KINDS, counts.tolist(), strict=True) for _ in range(count))


def single_tiles(rack: Counts) -> Iterator[Counts]:
    """Yield each kind that a rack holds, jokers too, as counts of one tile."""
    for kind in np.flatnonzero(rack):
        yield np.eye(1, len(KINDS), int(kind), dtype=np.uint8)[0]


@dataclass(frozen=True, eq=False)
class Choices:
    """Every legal pass of a position.

    Attributes:
        tiles: own tiles that go by kind, shape (passes, 36).
        number: how many those are, shape (passes,).
        blind: tiles forwarded unseen, shape (passes,).
    """

    tiles: Counts
    number: Indices
    blind: Indices

    @classmethod
    def of(cls, position: Position) -> "Choices":
        """Return the passes of a position: by number given in the position's order, then in kind order."""
        rack = position.counts()
        by_number = [legal_passes(rack, number) for number in position.gives]
        number = np.repeat(position.gives, [len(passes) for passes in by_number]).astype(np.intp)
        blind = PASS - number if position.blind else np.zeros_like(number)
        return cls(np.concatenate(by_number), number, blind)

    def changes(self, rows: Indices) -> Changes:
        """Return what some of the passes take off the rack, shape (rows, 36)."""
        return -self.tiles[rows].astype(np.int8)

    def find(self, tiles: Rack, blind: int) -> int:
        """Return the row of a pass.

        Raises:
            ValueError: it is not legal here.
        """
        wanted = by_suit(tiles)
        for row in np.flatnonzero(self.blind == blind):
            if tiles_of(self.tiles[row]) == wanted:
                return int(row)
        raise ValueError(f"{' '.join(wanted) or 'nothing'} with {blind} blind is no legal pass here.")

"""What a seat may pass at a step, and what it knows when it decides.

Must never look beyond one seat: a position holds its rack, what it passed, and how many tiles are still to come.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.coach.aims import LOOKS
from shared.coach.chance import Indices
from shared.coach.distance import JOKER_INDEX, Counts, counts_of
from shared.coach.targets import SET
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import COPIES, JOKER, KINDS, Rack, by_suit

Changes: TypeAlias = NDArray[np.int8]
"""Tiles that come (positive) or go (negative) by kind, shape (changes, 36)."""
PASS = 3
"""Tiles in a full pass."""


@dataclass(frozen=True)
class Position:
    """What one seat knows when it decides.

    Attributes:
        rack: its tiles; kept in kind order, so that equal knowledge is an equal position.
        passed: its own tiles passed before, without blind ones; a tile that came back counts once.
        later: passes of three tiles still to come after this one.
        gives: how many of its own tiles it may give; the same number comes back, never jokers.
        looks: draws for the chance of finishing alone.
        blind: whether it forwards the rest unseen if it gives fewer than three.
        jokers: jokers in the set: eight, ten or none.
        courtesy: whether the courtesy pass is at hand or done.
        made: passes made before this one; None if both Charlestons are played, since later then tells it.
        valued: whether its points are the share it wins of the dearest hand's value, and not the chance of winning.
        face_down: tiles that the pass before brought and that nobody may look at yet; they are not in the rack.
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
    valued: bool = False
    face_down: int = 0

    def __post_init__(self) -> None:
        """Put the tiles into kind order."""
        object.__setattr__(self, "rack", by_suit(self.rack))
        object.__setattr__(self, "passed", by_suit(self.passed))

    @property
    def is_pass(self) -> bool:
        """Whether one of the six passes is at hand: not the courtesy, and not a step without tiles."""
        return bool(self.gives) and not self.courtesy

    @property
    def ahead(self) -> int:
        """Passes of three tiles still to come, the one at hand among them."""
        return self.later + self.is_pass

    @property
    def passes(self) -> int:
        """The number of passes that the heat has in all, as far as the seat knows."""
        return len(PASSES) if self.made is None else self.made + self.ahead

    @property
    def number(self) -> int:
        """The index of this pass among the six, 0 for first right, 5 for last right and the courtesy."""
        last = len(PASSES) - 1
        return last - self.later if self.made is None else min(self.made, last)

    def counts(self) -> Counts:
        """Return the rack as counts by kind, shape (36,)."""
        return counts_of(self.rack)

    def all_tiles(self) -> Counts:
        """Return the whole set as counts by kind, shape (36,)."""
        tiles = SET.copy()
        tiles[JOKER_INDEX] = self.jokers
        return tiles

    def unseen(self) -> Counts:
        """Return the tiles that the seat has not seen as counts by kind, shape (36,).

        A passed tile that came back counts twice, in the rack and among the passed. Nobody can tell which tiles came
        back, so we only keep the counts from going below zero.
        """
        seen = self.counts() + counts_of(self.passed)
        unseen: Counts = self.all_tiles() - np.minimum(seen, self.all_tiles())
        return unseen


def position_at(step: StepName, rack: Rack, passed: Rack, *, blind: bool = True, looks: int = LOOKS) -> Position:
    """Return the position of a seat at a step of the Charleston, assuming that both Charlestons are played.

    Args:
        step: one of the six passes, or the courtesy.
        rack: the seat's tiles.
        passed: the seat's own tiles passed so far.
        blind: whether the table allows blind passes.
        looks: tiles it will see in play.

    Raises:
        ValueError: no tiles are passed at this step.
    """
    if step in PASSES:
        may_blind = blind and bool(STEPS[step].blind_at)
        made = PASSES.index(step)
        later, gives = len(PASSES) - 1 - made, (3, 2, 1, 0) if may_blind else (3,)
        return Position(rack, passed, later, gives, may_blind, looks, made=made)
    if STEPS[step].ask in ("offer", "give"):
        return Position(rack, passed, 0, (0, 1, 2, 3), False, looks, courtesy=True, made=len(PASSES))
    raise ValueError(f"No tiles are given at {step}.")


@lru_cache(maxsize=128)
def _choices(tiles: int, number: int) -> Indices:
    every = list(combinations(range(tiles), number))
    return np.array(every, dtype=np.intp).reshape(len(every), number)


def legal_passes(rack: Counts, number: int) -> Counts:
    """Return every distinct choice of number tiles from the rack, in kind order, shape (choices, 36).

    Jokers are never passed (common practice in the trade).
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
    """Return counts of shape (36,) as tiles in kind order."""
    return tuple(kind for kind, count in zip(KINDS, counts.tolist(), strict=True) for _ in range(count))


def single_tiles(rack: Counts) -> Iterator[Counts]:
    """Yield one tile of each kind in the rack, jokers too, as counts of shape (36,)."""
    for kind in np.flatnonzero(rack):
        yield np.eye(1, len(KINDS), int(kind), dtype=np.uint8)[0]


@dataclass(frozen=True, eq=False)
class Choices:
    """Every legal pass of a position.

    Attributes:
        tiles: own tiles in each pass by kind, shape (passes, 36).
        number: the number of those tiles, shape (passes,).
        blind: the number of tiles forwarded unseen, shape (passes,).
    """

    tiles: Counts
    number: Indices
    blind: Indices

    @classmethod
    def of(cls, position: Position) -> "Choices":
        """Return the passes of a position, in the order of position.gives, then in kind order."""
        rack = position.counts()
        by_number = [legal_passes(rack, number) for number in position.gives]
        number = np.repeat(position.gives, [len(passes) for passes in by_number]).astype(np.intp)
        blind = PASS - number if position.blind else np.zeros_like(number)
        return cls(np.concatenate(by_number), number, blind)

    def changes(self, rows: Indices) -> Changes:
        """Return these passes as changes of the rack, shape (rows, 36)."""
        return -self.tiles[rows].astype(np.int8)

    def told(self, rows: Indices) -> list[tuple[Rack, int]]:
        """Return these passes as tiles in kind order, each with its blind tiles."""
        return [(tiles_of(self.tiles[row]), int(self.blind[row])) for row in rows]

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

"""Whole Charlestons by the thousand: deals, and six passes in which every seat plays the softened greedy policy.

The policy keeps the tiles with the greatest sum over all variants of exp(-1.5 x tiles away). All seats of all deals
choose at once, in single-precision arithmetic; everything follows from the generator that is passed in.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.coach.distance import Counts, Patterns, away, shortages
from shared.coach.others import SIX_PASSES
from shared.rules.tiles import COPIES, INDEX, JOKER, KINDS

SOFTNESS = 1.5
_LEVELS = 10
"""Copies of a kind, 0 to 8, and one more for columns without a tile."""
_RACKS_AT_ONCE = 256
"""Racks whose products are in memory together: more would not stay in the cache."""

Floats = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Played:
    """Racks after six passes and what each seat passed, each of shape (deals, 4, 36)."""

    racks: Counts
    passed: Counts


def deal(rng: np.random.Generator, deals: int) -> Counts:
    """Return racks of 14 tiles for the dealer and 13 for the others, shape (deals, 4, 36)."""
    tiles = np.repeat(np.arange(len(KINDS)), [COPIES[kind] for kind in KINDS])
    seats = np.repeat(np.arange(4), [14, 13, 13, 13])
    drawn = rng.permuted(np.tile(tiles, (deals, 1)), axis=1)[:, : len(seats)]
    racks = np.zeros((deals, 4, len(KINDS)), dtype=np.uint8)
    np.add.at(racks, (np.arange(deals)[:, None], seats, drawn), 1)
    return racks


def play(patterns: Patterns, rng: np.random.Generator, deals: int) -> Played:
    """Return the outcome of whole Charlestons on one card."""
    racks = deal(rng, deals)
    passed = np.zeros_like(racks)
    policy = Policy.of(patterns)
    for direction in SIX_PASSES:
        given = policy.choose(racks.reshape(-1, len(KINDS)), rng).reshape(racks.shape)
        racks = racks - given + np.roll(given, int(direction), axis=1)
        passed += given
    return Played(racks, passed)


@dataclass(frozen=True, eq=False)
class Policy:
    """The softened greedy policy on one card.

    Attributes:
        factor: what giving away the tile at a level (the count before it goes) does to a variant's term when no
            joker stands in for it, shape (kinds x levels, variants).
        from_group: whether that tile comes out of a group, shape (kinds x levels, variants).
    """

    patterns: Patterns
    factor: Floats
    from_group: NDArray[np.bool_]

    @classmethod
    def of(cls, patterns: Patterns) -> "Policy":
        """Return the policy for a card's patterns."""
        level = np.arange(_LEVELS)[None, :, None]
        pairs, wanted = patterns.pairs.T[:, None, :], (patterns.pairs + patterns.groups).T[:, None, :]
        used = (level <= wanted) & (level > 0)
        factor = np.where(used, np.exp(-SOFTNESS), 1.0).astype(np.float32)
        factor[:, _LEVELS - 1] = 0.0
        factor[INDEX[JOKER]] = 0.0
        shape = (len(KINDS) * _LEVELS, len(patterns))
        return cls(patterns, factor.reshape(shape), (used & (level > pairs)).reshape(shape))

    def choose(self, racks: Counts, rng: np.random.Generator) -> Counts:
        """Return the three tiles each rack passes, jokers never among them, shape (racks, 36)."""
        rows = _rows(racks, rng)
        given = np.zeros_like(racks)
        for start in range(0, len(racks), _RACKS_AT_ONCE):
            part = slice(start, start + _RACKS_AT_ONCE)
            best = self.sums(racks[part], rows[part]).argmax(axis=1)
            chosen = np.take_along_axis(rows[part], _TRIPLES[best], axis=1) // _LEVELS
            for column in range(3):
                given[part][np.arange(len(best)), chosen[:, column]] += 1
        return given

    def sums(self, racks: Counts, rows: NDArray[np.intp]) -> Floats:
        """Return for each rack and triple of columns the sum over variants for the tiles kept."""
        weights = np.exp(-SOFTNESS * away(self.patterns, racks).astype(np.float32))
        factor = self.factor[rows]  # racks, columns, variants
        total = np.empty((len(racks), len(_TRIPLES)), dtype=np.float32)
        for first in range(12):
            two = (weights * factor[:, first])[:, None] * factor[:, first + 1 : 13]
            three = two @ factor[:, first + 2 :].transpose(0, 2, 1)
            _, second, third = _TRIPLES[_TRIPLES[:, 0] == first].T
            total[:, _TRIPLES[:, 0] == first] = three[:, second - first - 1, third - first - 2]
        self._let_spare_jokers_stand_in(total, racks, rows, weights)
        return total

    def _let_spare_jokers_stand_in(self, total: Floats, racks: Counts, rows: NDArray[np.intp], weights: Floats) -> None:
        """Correct the sums where a rack holds more jokers than a variant's groups are short of."""
        _, short = shortages(self.patterns, racks)
        spare = racks[:, INDEX[JOKER], None].astype(int) - short
        which, variant = np.nonzero((spare > 0) & (self.patterns.groups.sum(axis=1) > 0))
        columns = rows[which]
        factor = self.factor[columns, variant[:, None]][:, _TRIPLES].prod(axis=2)
        lost = self.from_group[columns, variant[:, None]][:, _TRIPLES].sum(axis=2)
        stood_in = np.minimum(lost, spare[which, variant][:, None])
        more = weights[which, variant][:, None] * factor * np.expm1(SOFTNESS * stood_in)
        np.add.at(total, which, more.astype(np.float32))


def _rows(racks: Counts, rng: np.random.Generator) -> NDArray[np.intp]:
    """Return for each rack 14 columns, one a tile in random order, as rows of the policy's tables.

    The copies of a kind have falling levels. Giving a lower one away without the higher ones is no play, but its sum
    is never greater than that of the play it stands for, so it does no harm.
    """
    counts = racks.ravel().astype(int)
    kind = np.repeat(np.tile(np.arange(len(KINDS)), len(racks)), counts)
    level = np.repeat(np.cumsum(counts), counts) - np.arange(counts.sum())
    sizes = racks.sum(axis=1, dtype=int)
    rack = np.repeat(np.arange(len(racks)), sizes)
    shuffled = np.lexsort((rng.random(len(rack)), rack))
    column = np.arange(len(rack)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    rows = np.full((len(racks), 14), INDEX[JOKER] * _LEVELS + _LEVELS - 1, dtype=np.intp)
    rows[rack, column] = (kind * _LEVELS + level)[shuffled]
    return rows


_TRIPLES = np.array([(i, j, k) for i in range(14) for j in range(i + 1, 14) for k in range(j + 1, 14)])

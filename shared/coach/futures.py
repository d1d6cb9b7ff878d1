"""What may still come, sampled without replacement from what a seat has not seen, and a rack's prospects in it.

Must never see a rack but the seat's own. The same seed gives the same futures on every machine: the bits come straight
from PCG64, whose stream is fixed, and are turned into an order by a stable sort.
"""

from dataclasses import dataclass

import numpy as np

from shared.coach.chance import QUICK, Floats, Indices, Odds, Outlook, chances_of_slots, odds_for, outlook_of
from shared.coach.distance import JOKER_INDEX, Counts, Patterns
from shared.coach.targets import KEEP, nearest
from shared.tiles import KINDS

_CLOSE = 8
"""Patterns of one future that are looked at again after each pass: losing tiles never helps a pattern, so
the best after a pass is nearly always among the best before it (measured in the benchmark)."""


def orders(length: int, rows: int, seed: tuple[int, ...]) -> Indices:
    """Return random orders of `length` things, shape (rows, length), fixed by the seed."""
    bits = np.random.PCG64(np.random.SeedSequence(seed)).random_raw(rows * length)
    return np.argsort(np.asarray(bits).reshape(rows, length), axis=1, kind="stable")


def incoming(unseen: Counts, tiles: int, futures: int, seed: tuple[int, ...]) -> Indices:
    """Return kinds of the tiles that come by passes in sampled futures, in order, shape (futures, tiles).

    No joker comes by a pass. One shuffle of the unseen tiles serves several futures, which makes them share the tiles
    out evenly: each future alone is a fair draw, and their mean strays less than that of independent draws.
    """
    pool = np.repeat(np.arange(JOKER_INDEX), unseen[:JOKER_INDEX])
    if not tiles:
        return np.zeros((futures, 0), dtype=np.intp)
    a_shuffle = len(pool) // tiles
    shuffles = -(-futures // a_shuffle)
    drawn = pool[orders(len(pool), shuffles, seed)[:, : a_shuffle * tiles]]
    return drawn.reshape(-1, tiles)[:futures]


def tally(kinds: Indices) -> Counts:
    """Return counts by kind of rows of kinds, shape (rows, 36)."""
    counts = np.zeros((len(kinds), len(KINDS)), dtype=np.uint8)
    rows = np.arange(len(kinds))
    for column in kinds.T:
        counts[rows, column] += 1
    return counts


@dataclass(frozen=True, eq=False)
class Prospects:
    """A rack in sampled futures, ready to be asked what is left of it without some of its tiles.

    Attributes:
        patterns: the card's patterns.
        racks: the rack with all that came, shape (futures, 36).
        unseen: what is then unseen, shape (futures, 36).
        coming: the odds of what is still to come after that.
        near: the best patterns of each future, best first, shape (futures, close).
        chance: their finish chances with all tiles kept, shape (futures, close).
    """

    patterns: Patterns
    racks: Counts
    unseen: Counts
    coming: Odds
    near: Indices
    chance: Floats

    @classmethod
    def of(
        cls,
        patterns: Patterns,
        rack: Counts,
        unseen: Counts,
        came: Counts,
        looks: int,
        passed: int,
        keep: int = KEEP,
        close: int = _CLOSE,
    ) -> "Prospects":
        """Return the prospects of a rack in futures that bring `came`, shape (futures, 36), all of equally many tiles.

        Args:
            patterns: the card's patterns.
            rack: shape (36,).
            unseen: what the seat has not seen before the tiles come, shape (36,).
            came: what comes by passes, shape (futures, 36).
            looks: tiles that come within reach in play.
            passed: tiles that come by passes after that.
            keep: patterns whose chance is worked out.
            close: the best of them, which are looked at again after each pass.
        """
        racks, left = rack + came, unseen - came
        near = nearest(patterns, racks, keep)
        coming = odds_for(patterns, outlook_of(left[0], looks, passed), QUICK)
        chance = _pair_chances(patterns, near, racks, left, coming)
        order = np.argsort(-chance, axis=1, kind="stable")[:, :close]
        best, found = np.take_along_axis(near, order, axis=1), np.take_along_axis(chance, order, axis=1)
        return cls(patterns, racks, left, coming, best, found)

    def without(self, removals: Counts) -> Floats:
        """Return the finish chances after giving tiles away, shape (removals, futures, close).

        Args:
            removals: what is given, shape (removals, 36); the rack must hold it.
        """
        kinds = self.patterns.slot_kinds[self.near]
        wanted = (self.patterns.slot_pairs + self.patterns.slot_groups)[self.near]
        rows = np.arange(len(self.near))[:, None]
        # A pass changes a pattern's chance only by the tiles it wanted; equal losses are worked out once.
        code = np.zeros((len(removals), *self.near.shape), dtype=np.int64)
        for slot in range(int((wanted > 0).sum(axis=2).max())):
            held = self.racks[rows, kinds[:, :, slot]]
            most = wanted[:, :, slot]
            spare = np.maximum(held, most) - most
            lost = np.maximum(removals[:, kinds[:, :, slot]], spare) - spare
            code = code * 4 + lost
        code = code * 4 + removals[:, JOKER_INDEX, None, None]
        result = np.broadcast_to(self.chance, code.shape).copy()
        touched = np.flatnonzero(code)
        if len(touched):
            flat = code.ravel()[touched] + ((touched % self.near.size) << 32)
            _, first, back = np.unique(flat, return_index=True, return_inverse=True)
            result.ravel()[touched] = self._chances_at(touched[first], removals)[back]
        return result

    def _chances_at(self, places: Indices, removals: Counts) -> Floats:
        """Return the chances at flat places of (removals, futures, close)."""
        removal, future, column = np.unravel_index(places, (len(removals), *self.near.shape))
        which = self.near[future, column]
        kinds = self.patterns.slot_kinds[which]
        jokers = self.racks[future, JOKER_INDEX] - removals[removal, JOKER_INDEX]
        held = self.racks[future[:, None], kinds] - removals[removal[:, None], kinds]
        copies = self.unseen[future[:, None], kinds]
        return chances_of_slots(self.patterns, which, held, copies, jokers, self.coming)


def _pair_chances(patterns: Patterns, near: Indices, racks: Counts, unseen: Counts, coming: Odds) -> Floats:
    which = near.ravel()
    rows = np.repeat(np.arange(len(near)), near.shape[1])[:, None]
    kinds = patterns.slot_kinds[which]
    held = racks[rows, kinds]
    copies = unseen[rows, kinds]
    jokers = racks[rows[:, 0], JOKER_INDEX]
    return chances_of_slots(patterns, which, held, copies, jokers, coming).reshape(near.shape)

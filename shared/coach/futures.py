"""Futures: tiles that may still come, sampled without replacement from those a seat has not seen; and how a rack fares.

Must never see another seat's rack. The same seed gives the same futures on every machine: the bits come straight from
PCG64, whose stream is fixed, and a stable sort turns them into an order.
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.coach.chance import QUICK, Floats, Indices, Odds, Play, chances_of_slots, odds_for, outlook_of
from shared.coach.distance import JOKER_INDEX, Counts, Patterns
from shared.coach.passes import Changes
from shared.coach.targets import KEEP, nearest
from shared.rules.tiles import KINDS

_CLOSE = 12
"""Patterns of one future that we evaluate again after each pass. Losing tiles never helps a pattern, so the best one
after a pass is nearly always among the best before it. Measured on 36 racks: taking 50 changed three first choices,
worth 0.02 points a rack on average."""


def orders(length: int, rows: int, seed: tuple[int, ...]) -> Indices:
    """Return random orders of `length` things, shape (rows, length), fixed by the seed."""
    bits = np.random.PCG64(np.random.SeedSequence(seed)).random_raw(rows * length)
    return np.argsort(np.asarray(bits).reshape(rows, length), axis=1, kind="stable")


def several_passes(unseen: Counts, tiles: int, futures: int, seed: tuple[int, ...], weights: Floats) -> Indices:
    """Return the kinds of tiles that come by passes in sampled futures, shape (futures, passes * tiles).

    Args:
        unseen: shape (36,); no joker comes.
        tiles: how many come by each pass.
        futures: how many futures.
        seed: fixes them.
        weights: relative likelihood of a tile of each kind in each pass, shape (passes, 35).
    """
    pool = np.repeat(np.arange(JOKER_INDEX), unseen[:JOKER_INDEX])
    gone = np.zeros((futures, len(pool)), dtype=bool)
    found = []
    bits = np.random.PCG64(np.random.SeedSequence(seed)).random_raw(futures * len(weights) * len(pool))
    uniform = ((np.asarray(bits) >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53
    waits = -np.log(uniform.reshape(futures, len(weights), len(pool))) / weights[:, pool]
    for number in range(len(weights)):
        # The smallest of independent exponential times is a weighted draw; so are the second and the third after it.
        first = np.argsort(np.where(gone, np.inf, waits[:, number]), axis=1, kind="stable")[:, :tiles]
        np.put_along_axis(gone, first, values=True, axis=1)
        found.append(pool[first])
    return np.concatenate(found, axis=1)


def tally(kinds: Indices) -> Counts:
    """Count each row of kinds, shape (rows, 36)."""
    counts = np.zeros((len(kinds), len(KINDS)), dtype=np.uint8)
    rows = np.arange(len(kinds))
    for column in kinds.T:
        counts[rows, column] += 1
    return counts


@dataclass(frozen=True, eq=False)
class Prospects:
    """Racks (usually one rack in many futures), prepared to compute their chances after tiles go or come.

    Attributes:
        patterns: the card's patterns.
        racks: shape (futures, 36).
        unseen: the tiles that each rack's seat has not seen, shape (futures, 36).
        coming: the odds of the tiles still to come.
        valued: whether a chance counts as much of it as its pattern's value is of the dearest.
        near: the best patterns of each future, best first, shape (futures, close).
        chance: their finish chances with all tiles kept, shape (futures, close).
    """

    patterns: Patterns
    racks: Counts
    unseen: Counts
    coming: Odds
    valued: bool
    near: Indices
    chance: Floats

    @classmethod
    def of(
        cls,
        patterns: Patterns,
        racks: Counts,
        unseen: Counts,
        play: Play,
        passed: int,
        valued: bool = False,
        keep: int = KEEP,
        close: int = _CLOSE,
    ) -> "Prospects":
        """Return the prospects of racks whose seats have seen the same number of tiles and of jokers.

        Args:
            patterns: the card's patterns.
            racks: shape (futures, 36).
            unseen: the tiles that the seat has not seen by then, shape (futures, 36).
            play: what comes to the seat after the Charleston.
            passed: tiles that come by later passes.
            valued: whether values count.
            keep: how many patterns to compute chances for.
            close: how many of the best of them to evaluate again after each pass.
        """
        near = nearest(patterns, racks, keep)
        coming = odds_for(patterns, outlook_of(unseen[0], play, passed), QUICK)
        chance = _pair_chances(patterns, near, racks, unseen, coming)
        if valued:
            chance *= patterns.value[near]
        order = np.argsort(-chance, axis=1, kind="stable")[:, :close]
        best, found = np.take_along_axis(near, order, axis=1), np.take_along_axis(chance, order, axis=1)
        return cls(patterns, racks, unseen, coming, valued, best, found)

    def changed(self, changes: Changes) -> Floats:
        """Return the finish chances after tiles go or come, shape (changes, futures, close).

        Args:
            changes: tiles that come (positive) or go (negative), shape (changes, 36), at most three of a kind. A rack
                that holds too few of a kind ends with none of it.
        """
        kinds = self.patterns.slot_kinds[self.near]
        wanted = (self.patterns.slot_pairs + self.patterns.slot_groups)[self.near].astype(np.int8)
        rows = np.arange(len(self.near))[:, None]
        # Only wanted tiles matter to a pattern, so we compute equal changes of one pattern once.
        code = np.zeros((len(changes), *self.near.shape), dtype=np.int64)
        for slot in range(int((wanted > 0).sum(axis=2).max())):
            held = self.racks[rows, kinds[:, :, slot]].astype(np.int8)
            useful = np.minimum(held, wanted[:, :, slot])
            after = np.clip(held + changes[:, kinds[:, :, slot]], 0, wanted[:, :, slot])
            code = code << 3 | (after - useful) & 7
        code = code << 3 | changes[:, None, None, JOKER_INDEX] & 7
        result = np.broadcast_to(self.chance, code.shape).copy()
        touched = np.flatnonzero(code)
        if len(touched):
            flat = code.ravel()[touched] * self.near.size + touched % self.near.size
            _, first, back = np.unique(flat, return_index=True, return_inverse=True)
            result.ravel()[touched] = self._chances_at(touched[first], changes)[back]
        return result

    def after(self, racks: Counts, chance: Floats) -> "Prospects":
        """Return the prospects of these racks, which became of its own, with the chances that changed() told."""
        return replace(self, racks=racks, chance=chance)

    def _chances_at(self, places: Indices, changes: Changes) -> Floats:
        """Return the chances at flat places of (changes, futures, close)."""
        change, future, column = np.unravel_index(places, (len(changes), *self.near.shape))
        which = self.near[future, column]
        kinds = self.patterns.slot_kinds[which]
        held = self.racks[future[:, None], kinds] + changes[change[:, None], kinds]
        jokers = self.racks[future, JOKER_INDEX] + changes[change, JOKER_INDEX]
        copies = self.unseen[future[:, None], kinds]
        now = np.maximum(held, 0).astype(np.uint8), np.maximum(jokers, 0).astype(np.uint8)
        found = chances_of_slots(self.patterns, which, now[0], copies, now[1], self.coming)
        return found * self.patterns.value[which] if self.valued else found


def _pair_chances(patterns: Patterns, near: Indices, racks: Counts, unseen: Counts, coming: Odds) -> Floats:
    which = near.ravel()
    rows = np.repeat(np.arange(len(near)), near.shape[1])[:, None]
    kinds = patterns.slot_kinds[which]
    held = racks[rows, kinds]
    copies = unseen[rows, kinds]
    jokers = racks[rows[:, 0], JOKER_INDEX]
    return chances_of_slots(patterns, which, held, copies, jokers, coming).reshape(near.shape)

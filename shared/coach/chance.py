"""The chance that a rack becomes a given pattern: exact in integers, or in floats for thousands of racks at once.

Must never sample: every probability here is computed, not counted in sampled futures.

The model: a seat receives tiles by passes, never jokers, and T looks (own draws, and discards it could call). Among the
looks are y jokers, a hypergeometric number. The other T - y looks and the passed tiles are drawn together, without
replacement, from the unseen tiles that are not jokers: m out of M. A pattern is complete when naturals fill its pairs
and jokers fill what its groups still miss.

`finish_chance` is the reference. It counts the ways with one small polynomial for each kind that is short (ways by
tiles drawn and by shortfall left). The float version interpolates: if every unseen tile were drawn independently with
probability p, the chance would be a product of polynomials in p, one for each short kind. Drawing exactly m of M
replaces p^j in that product by m(m-1)...(m-j+1) / M(M-1)...(M-j+1). That map is linear, so the chance is a weighted sum
of the product's values at a few points p; we compute the weights in integers. Points and tables do not depend on the
rack.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import comb, cos, perm, pi
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.coach.distance import JOKER_INDEX, MOST_COPIES, Counts, Patterns

Floats: TypeAlias = NDArray[np.float64]
Reals: TypeAlias = NDArray[np.float32 | np.float64]
Indices: TypeAlias = NDArray[np.intp]

_GRID = 10**6  # interpolation points are whole millionths, so that we can compute their weights in integers
_CENTRES = 50  # the points lie around a multiple of 1/50
_BLOCK = 512  # (rack, pattern) pairs in one batch: the state should fit the L2 cache


@dataclass(frozen=True)
class Precision:
    """The number of interpolation points, how far they reach to each side of the mean, and the float type."""

    points: int
    reach: float
    dtype: type[np.float32 | np.float64]


QUICK = Precision(8, 0.15, np.float32)
"""Within 2e-5 of the exact chance (measured)."""
FINE = Precision(20, 0.2, np.float64)
"""Within 1e-12 of the exact chance (measured)."""


@dataclass(frozen=True)
class Outlook:
    """What a seat can still receive, in numbers: everything about the unseen tiles except their kinds.

    Attributes:
        naturals: unseen tiles that are not jokers.
        jokers: unseen jokers.
        looks: tiles the seat will see in play (own draws, and discards it could call).
        passed: tiles still to come by passes.
    """

    naturals: int
    jokers: int
    looks: int
    passed: int

    def joker_chances(self) -> list[tuple[int, Fraction]]:
        """Return each possible number of jokers among the looks, with its probability."""
        looks = min(self.looks, self.naturals + self.jokers)
        every = comb(self.naturals + self.jokers, looks)
        ways = [comb(self.jokers, y) * comb(self.naturals, looks - y) for y in range(min(self.jokers, looks) + 1)]
        return [(y, Fraction(count, every)) for y, count in enumerate(ways) if count]

    def drawn(self, jokers: int) -> int:
        """Return how many naturals come if this many looks are jokers."""
        looks = min(self.looks, self.naturals + self.jokers)
        return min(looks - jokers + self.passed, self.naturals)


def outlook_of(unseen: Counts, looks: int, passed: int) -> Outlook:
    """Return the outlook of a seat: unseen has shape (36,), passed is the number of tiles to come by passes."""
    return Outlook(int(unseen[:JOKER_INDEX].sum(dtype=int)), int(unseen[JOKER_INDEX]), looks, passed)


def finish_chance(pairs: Counts, groups: Counts, rack: Counts, unseen: Counts, looks: int, passed: int) -> Fraction:
    """Return the exact chance that a rack completes one pattern; all arrays have shape (36,). The reference."""
    outlook = outlook_of(unseen, looks, passed)
    ways: dict[tuple[int, int], int] = {(0, 0): 1}
    others = outlook.naturals
    for kind in range(JOKER_INDEX):
        held, pair, group, copies = int(rack[kind]), int(pairs[kind]), int(groups[kind]), int(unseen[kind])
        pair_short = max(pair - held, 0)
        group_short = max(group - max(held - pair, 0), 0)
        if not pair_short and not group_short:
            continue
        others -= copies
        grown: dict[tuple[int, int], int] = {}
        for (drawn, short), count in ways.items():
            for tiles in range(pair_short, copies + 1):
                key = (drawn + tiles, short + max(group_short - (tiles - pair_short), 0))
                grown[key] = grown.get(key, 0) + count * comb(copies, tiles)
        ways = grown
    jokers = int(rack[JOKER_INDEX])
    total = Fraction(0)
    for more, chance in outlook.joker_chances():
        m = outlook.drawn(more)
        complete = sum(
            count * comb(others, m - drawn)
            for (drawn, short), count in ways.items()
            if short <= jokers + more and drawn <= m
        )
        total += chance * Fraction(complete, comb(outlook.naturals, m))
    return total


@lru_cache(maxsize=64)
def _points(precision: Precision, centre: int) -> tuple[int, ...]:
    """Return Chebyshev points around a mean, in whole millionths."""
    middle = centre / _CENTRES
    low, high = max(middle - precision.reach, 0.0), min(middle + precision.reach, 1.0)
    count = precision.points
    return tuple(
        round(_GRID * ((low + high) / 2 - (high - low) / 2 * cos((2 * i + 1) * pi / (2 * count)))) for i in range(count)
    )


@lru_cache(maxsize=64)
def _basis(points: tuple[int, ...]) -> tuple[tuple[tuple[int, ...], int], ...]:
    """Return each point's Lagrange polynomial (1 there, 0 at the other points): coefficients, divisor."""
    basis = []
    for point in points:
        coefficients, divisor = [1], 1
        for other in points:
            if other != point:
                shifted = [0, *coefficients]
                coefficients = [a - other * b for a, b in zip(shifted, [*coefficients, 0], strict=True)]
                divisor *= point - other
        basis.append((tuple(coefficients), divisor))
    return tuple(basis)


@lru_cache(maxsize=4096)
def _weights(points: tuple[int, ...], drawn: int, out_of: int) -> tuple[Fraction, ...]:
    """Return the weight of each point if exactly `drawn` tiles of `out_of` come."""
    last = min(len(points) - 1, out_of)
    moments = [_GRID**j * perm(drawn, j) * perm(out_of - j, last - j) if j <= last else 0 for j in range(len(points))]
    whole = perm(out_of, last)
    return tuple(
        Fraction(sum(a * b for a, b in zip(coefficients, moments, strict=True)), whole * divisor)
        for coefficients, divisor in _basis(points)
    )


@lru_cache(maxsize=64)
def _kind_table(points: tuple[int, ...], most_pairs: int, most_groups: int) -> Floats:
    """Return the polynomial's value at every point, for every sort of short kind.

    Shape (shortfall left, points, sorts); a sort is (pairs short, groups short, unseen copies), see `_sorts`.
    """
    p = np.array(points) / _GRID
    pmf = np.zeros((MOST_COPIES + 1, MOST_COPIES + 1, len(points)))  # unseen copies, drawn, points
    pmf[0, 0] = 1.0
    for copies in range(MOST_COPIES):
        pmf[copies + 1] = pmf[copies] * (1 - p)
        pmf[copies + 1, 1:] += pmf[copies, :-1] * p
    table = np.zeros((most_groups + 1, len(points), most_pairs + 1, most_groups + 1, MOST_COPIES + 1))
    table[0, :, 0, 0, :] = 1.0
    for pair, group, copies in np.ndindex(most_pairs + 1, most_groups + 1, MOST_COPIES + 1):
        if pair or group:
            for drawn in range(pair, copies + 1):
                table[max(group - (drawn - pair), 0), :, pair, group, copies] += pmf[copies, drawn]
    return table.reshape(most_groups + 1, len(points), -1)


@dataclass(frozen=True, eq=False)
class Odds:
    """Weights and tables that turn shortages into chances, for one outlook and one card.

    Attributes:
        table: see `_kind_table`.
        tail: summed weights by the least number of jokers still to come, shape (y, points); the last row is zero.
        most_groups: the largest group shortage of a kind that the table covers.
    """

    table: Reals
    tail: Reals
    most_groups: int


@lru_cache(maxsize=1024)
def odds(outlook: Outlook, precision: Precision, most_pairs: int, most_groups: int) -> Odds:
    """Return the odds of an outlook for patterns with at most this many tiles of a kind in pairs and in groups."""
    by_jokers = outlook.joker_chances()
    mean = sum(float(chance) * outlook.drawn(y) for y, chance in by_jokers) / max(outlook.naturals, 1)
    points = _points(precision, round(mean * _CENTRES))
    most = by_jokers[-1][0]
    exact = [[Fraction(0)] * len(points) for _ in range(most + 2)]
    for y, chance in reversed(by_jokers):
        weights = _weights(points, outlook.drawn(y), outlook.naturals)
        exact[y] = [chance * weight for weight in weights]
    for y in reversed(range(most + 1)):
        exact[y] = [a + b for a, b in zip(exact[y], exact[y + 1], strict=True)]
    tail: Reals = np.array([[float(weight) for weight in row] for row in exact], dtype=precision.dtype)
    table: Reals = _kind_table(points, most_pairs, most_groups).astype(precision.dtype)
    return Odds(table, tail, most_groups)


def odds_for(patterns: Patterns, outlook: Outlook, precision: Precision = QUICK) -> Odds:
    """Return the odds of an outlook for a card's patterns."""
    return odds(outlook, precision, int(patterns.slot_pairs.max()), int(patterns.slot_groups.max()))


def chances(patterns: Patterns, which: Indices, racks: Counts, unseen: Counts, coming: Odds) -> Floats:
    """Return the finish chances of (pattern, rack) pairs under one outlook, shape (pairs,).

    Args:
        which: the pattern of each pair, shape (pairs,).
        racks: the rack of each pair, shape (pairs, 36).
        unseen: the tiles that the seat has not seen, shape (pairs, 36) or (36,).
        coming: the odds of the outlook that all pairs share.
    """
    kinds = patterns.slot_kinds[which]
    held = np.take_along_axis(racks, kinds, axis=1)
    copies = np.take_along_axis(unseen, kinds, axis=1) if unseen.ndim == 2 else unseen[kinds]
    return chances_of_slots(patterns, which, held, copies, racks[:, JOKER_INDEX], coming)


def chances_of_slots(
    patterns: Patterns, which: Indices, held: Counts, copies: Counts, jokers: Counts, coming: Odds
) -> Floats:
    """Return finish chances from the held and unseen tiles of each slot of the patterns, shape (pairs,).

    Args:
        which: the pattern of each pair, shape (pairs,).
        held: tiles held of the kind of each slot, shape (pairs, slots).
        copies: unseen tiles of the kind of each slot, shape (pairs, slots).
        jokers: jokers held, shape (pairs,).
        coming: the odds of the outlook that all pairs share.
    """
    pairs, groups = patterns.slot_pairs[which], patterns.slot_groups[which]
    to_pairs = np.minimum(held, pairs)
    pair_short = pairs - to_pairs
    group_short = groups - np.minimum(held - to_pairs, groups)
    short = (pair_short | group_short) != 0
    # First kinds short of pairs only, then of groups, then complete ones: so the state stays small longest.
    order = np.argsort(np.where(short, group_short, np.uint8(255)), axis=1, kind="stable")
    sorts = (pair_short.astype(np.intp) * (coming.most_groups + 1) + group_short) * (MOST_COPIES + 1) + copies
    sorts = np.take_along_axis(sorts, order, axis=1)
    group_short = np.take_along_axis(np.where(short, group_short, 0), order, axis=1)
    number = short.sum(axis=1)
    rows = np.argsort(-number, kind="stable")
    result = np.empty(len(which))
    for start in range(0, len(rows), _BLOCK):
        block = rows[start : start + _BLOCK]
        state = _products(sorts[block], group_short[block], number[block], int(jokers[block].max()), coming)
        result[block] = _weighed(state, jokers[block], coming)
    return np.clip(result, 0.0, 1.0)


def _products(sorts: Indices, group_short: Counts, number: Indices, jokers: int, coming: Odds) -> Reals:
    """Multiply the polynomials of each pair's short kinds; pairs with the most short kinds come first.

    Returns ways by shortfall left and point, shape (shortfall, points, pairs).
    """
    most = jokers + len(coming.tail) - 1  # the largest shortfall that held and coming jokers can fill
    state = np.ones((1, coming.table.shape[1], len(sorts)), dtype=coming.table.dtype)
    for slot in range(int(number[0])):
        count = int(np.searchsorted(-number, -slot, side="left"))  # the pairs with more short kinds than this
        largest = int(group_short[:count, slot].max())
        factor = coming.table[: largest + 1].take(sorts[:count, slot], axis=2)
        before = state
        if largest == 0:
            before[:, :, :count] *= factor
            continue
        height = min(len(before) + largest, most)
        state = np.zeros((height, *before.shape[1:]), dtype=before.dtype)
        state[: len(before), :, count:] = before[:, :, count:]
        for left in range(min(largest + 1, height)):
            state[left : left + len(before), :, :count] += before[: height - left, :, :count] * factor[left]
    return state


def _weighed(state: Reals, jokers: Counts, coming: Odds) -> Reals:
    """Sum the state over points and shortfalls, weighted by the chance of the jokers needed, shape (pairs,)."""
    total = np.zeros(state.shape[2], dtype=state.dtype)
    alike = bool((jokers == jokers[0]).all())
    for shortfall, ways in enumerate(state):
        if alike:
            weight = coming.tail[max(shortfall - int(jokers[0]), 0), :, None]
        else:
            needed = np.clip(shortfall - jokers.astype(np.intp), 0, len(coming.tail) - 1)
            weight = coming.tail.T.take(needed, axis=1)
        total += (ways * weight).sum(axis=0)
    return total

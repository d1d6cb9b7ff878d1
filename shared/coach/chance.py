"""The chance that a rack becomes a given pattern: exact in integers, or in floats for thousands of racks at once.

Must never sample: every probability here is computed, not counted in sampled futures.

The model. A seat receives tiles by passes, never jokers, and then plays: it makes its own draws until somebody ends the
hand, t of them with a known chance for each t. Among the own draws are y jokers, a hypergeometric number. Meanwhile the
others discard tiles, a fixed number for each own draw and never jokers. All tiles that come this way and are no jokers
are drawn together, without replacement, from the unseen tiles that are not jokers: m out of M.

Each of those m is, independently, either free or a discard. Free are the seat's own draws, what comes by passes, and
the few discards that complete a hand; free tiles serve every need. Any other discard serves one thing: to complete a
group of a hand that is not concealed, one discard a group, and only after the seat's own tiles for that group have
come. It also has to be offered: the fewer copies are out, the less use they are to the others.
A pattern is complete when free naturals fill its pairs, and naturals and jokers its groups.

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
from math import comb, cos, lcm, perm, pi
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from shared.coach.distance import JOKER_INDEX, MOST_COPIES, Counts, Patterns

Floats: TypeAlias = NDArray[np.float64]
Reals: TypeAlias = NDArray[np.float32 | np.float64]
Indices: TypeAlias = NDArray[np.intp]
Slots: TypeAlias = NDArray[np.int32]

_GRID = 10**6  # interpolation points are whole millionths, so that we can compute their weights in integers
_STEPS = 50  # the points lie between two multiples of 1/50
_COMPLETE, _PLACE_BITS, _SORT_BITS = 127, 4, 16  # of a packed slot: above any shortfall; for 16 slots, 65,536 sorts
_BLOCK = 512  # (rack, pattern) pairs in one batch: the state should fit the L2 cache


@dataclass(frozen=True)
class Precision:
    """The number of interpolation points, how far they reach at least to each side of the mean, and the float type."""

    points: int
    reach: float
    dtype: type[np.float32 | np.float64]


QUICK = Precision(8, 0.15, np.float32)
"""Within 7e-6 of the exact chance at a table of four, within 4e-5 for a seat that plays alone (the greatest error of
16,000 and 24,000 chances)."""
FINE = Precision(20, 0.2, np.float64)
"""Within 1e-12 of the exact chance (measured)."""


@dataclass(frozen=True)
class Play:
    """What comes to a seat after the Charleston.

    Attributes:
        draws: weights of 0, 1, 2... own draws before somebody ends the hand; whole numbers, any sum.
        discards: others' discards for each own draw.
        last: the share of them that a seat can use for any need, as the last tile of its hand.
        offered: the chance that a copy among the others' tiles is discarded in time, by unseen copies of its kind,
            0 to 8; empty if there are no discards.
    """

    draws: tuple[int, ...]
    discards: int = 0
    last: float = 0.0
    offered: tuple[float, ...] = ()

    @classmethod
    def alone(cls, draws: int) -> "Play":
        """Return a play of exactly so many draws, with nobody else at the table."""
        return cls((0,) * draws + (1,))

    def free(self, passed: int) -> float:
        """Return the share of all tiles that come, with this many passed, which may serve any need."""
        draws = sum(own * weight for own, weight in enumerate(self.draws)) / sum(self.draws)
        every = draws * (1 + self.discards) + passed
        return (draws * (1 + self.last * self.discards) + passed) / every if every else 1.0


@dataclass(frozen=True)
class Outlook:
    """What a seat can still receive, in numbers: everything about the unseen tiles except their kinds.

    Attributes:
        naturals: unseen tiles that are not jokers.
        jokers: unseen jokers.
        play: what comes after the Charleston.
        passed: tiles still to come by passes.
    """

    naturals: int
    jokers: int
    play: Play
    passed: int

    def comes(self) -> dict[tuple[int, int], Fraction]:
        """Return the chance of each (jokers, naturals) that may come."""
        found: dict[tuple[int, int], Fraction] = {}
        every, weights = self.naturals + self.jokers, sum(self.play.draws)
        for draws, weight in enumerate(self.play.draws):
            own = min(draws, every)
            for jokers in range(max(own - self.naturals, 0), min(self.jokers, own) + 1 if weight else 0):
                ways = comb(self.jokers, jokers) * comb(self.naturals, own - jokers)
                naturals = min(own - jokers + self.play.discards * draws + self.passed, self.naturals)
                key = jokers, naturals
                found[key] = found.get(key, Fraction(0)) + Fraction(weight * ways, weights * comb(every, own))
        return found


def outlook_of(unseen: Counts, play: Play, passed: int) -> Outlook:
    """Return the outlook of a seat: unseen has shape (36,), passed is the number of tiles to come by passes."""
    return Outlook(int(unseen[:JOKER_INDEX].sum(dtype=int)), int(unseen[JOKER_INDEX]), play, passed)


N = TypeVar("N", Fraction, float)


def _left_over(tiles: int, pair: int, group: int, free: N, offered: N) -> dict[int, N]:
    """Return the chance of each shortfall left of a kind's group if so many of its tiles come.

    Cases in which the pair stays incomplete are left out.

    Args:
        tiles: tiles of the kind that come.
        pair, group: how many the pair and the group are short of.
        free: the chance that a tile is free.
        offered: the chance that one that is not is discarded in time; 0 for a concealed hand.
    """
    found: dict[int, N] = {}
    for own in range(pair, tiles + 1):
        left = max(group - (own - pair), 0)
        for called in range(tiles - own + 1):
            rest = tiles - own - called
            ways = comb(tiles, own) * comb(tiles - own, called)
            chance = ways * free**own * (1 - free) ** (called + rest) * offered**called * (1 - offered) ** rest
            if left and called:
                # The group's own tiles and the offered discards come in any order; the last must be a discard.
                of_all = own - pair + called
                found[left - 1] = found.get(left - 1, 0 * free) + chance * called / of_all
                chance = chance * (of_all - called) / of_all
            found[left] = found.get(left, 0 * free) + chance
    return found


def finish_chance(
    pairs: Counts, groups: Counts, rack: Counts, unseen: Counts, play: Play, passed: int, *, concealed: bool = False
) -> Fraction:
    """Return the exact chance that a rack completes one pattern; all arrays have shape (36,). The reference."""
    outlook = outlook_of(unseen, play, passed)
    free = Fraction(play.free(passed))
    ways: dict[tuple[int, int], Fraction] = {(0, 0): Fraction(1)}
    others = outlook.naturals
    for kind in range(JOKER_INDEX):
        held, pair, group, copies = int(rack[kind]), int(pairs[kind]), int(groups[kind]), int(unseen[kind])
        pair_short = max(pair - held, 0)
        group_short = max(group - max(held - pair, 0), 0)
        if not pair_short and not group_short:
            continue
        others -= copies
        offered = Fraction(play.offered[copies]) if play.offered and not concealed else Fraction(0)
        grown: dict[tuple[int, int], Fraction] = {}
        for (drawn, short), count in ways.items():
            for tiles in range(copies + 1):
                for left, chance in _left_over(tiles, pair_short, group_short, free, offered).items():
                    key = drawn + tiles, short + left
                    grown[key] = grown.get(key, Fraction(0)) + count * comb(copies, tiles) * chance
        ways = grown
    jokers = int(rack[JOKER_INDEX])
    total = Fraction(0)
    for (more, m), chance in outlook.comes().items():
        complete = sum(
            (
                count * comb(others, m - drawn)
                for (drawn, short), count in ways.items()
                if short <= jokers + more and drawn <= m
            ),
            Fraction(0),
        )
        total += chance * complete / comb(outlook.naturals, m)
    return total


@lru_cache(maxsize=64)
def _points(count: int, low: int, high: int) -> tuple[int, ...]:
    """Return Chebyshev points between two bounds in fiftieths, as whole millionths."""
    least, most = max(low / _STEPS, 0.0), min(high / _STEPS, 1.0)
    return tuple(
        round(_GRID * ((least + most) / 2 - (most - least) / 2 * cos((2 * i + 1) * pi / (2 * count))))
        for i in range(count)
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


def _weights(points: tuple[int, ...], drawn: dict[int, Fraction], out_of: int) -> list[Fraction]:
    """Return the weight of each point if exactly m tiles of `out_of` come, each m with its chance."""
    last = min(len(points) - 1, out_of)
    # Summed as whole numbers over one divisor: sums of fractions took half of a review's time.
    whole = lcm(*(chance.denominator for chance in drawn.values()))
    counts = {m: chance.numerator * (whole // chance.denominator) for m, chance in drawn.items()}
    moments = [
        sum(count * perm(m, j) for m, count in counts.items()) * perm(out_of - j, last - j) * _GRID**j
        for j in range(last + 1)
    ]
    whole *= perm(out_of, last)
    return [
        Fraction(sum(a * b for a, b in zip(moments, coefficients, strict=False)), whole * divisor)
        for coefficients, divisor in _basis(points)
    ]


@lru_cache(maxsize=64)
def _kind_table(
    points: tuple[int, ...], most_pairs: int, most_groups: int, free: float, offered: tuple[float, ...]
) -> Floats:
    """Return the polynomial's value at every point, for every sort of short kind.

    Shape (shortfall left, points, sorts); a sort is (concealed, pairs short, groups short, unseen copies), see
    `chances_of_slots`.
    """
    drawn = _binomial(np.array(points) / _GRID)  # copies, drawn, points
    table = np.zeros((most_groups + 1, len(points), 2, most_pairs + 1, most_groups + 1, MOST_COPIES + 1))
    table[0, :, :, 0, 0, :] = 1.0
    for pair, group in np.ndindex(most_pairs + 1, most_groups + 1):
        if pair or group:
            for copies in range(MOST_COPIES + 1):
                for concealed in range(2):
                    left = _left(free, offered[copies] if offered and not concealed else 0.0, pair, group)
                    spread = left.T[:, : copies + 1] @ drawn[copies, : copies + 1]
                    table[: len(spread), :, concealed, pair, group, copies] = spread
    return table.reshape(most_groups + 1, len(points), -1)


@lru_cache(maxsize=4096)
def _left(free: float, offered: float, pair: int, group: int) -> Floats:
    """Return the chance of each shortfall left of a group by tiles of its kind that come, shape (tiles, left)."""
    found = np.zeros((MOST_COPIES + 1, group + 1))
    for tiles in range(MOST_COPIES + 1):
        for left, chance in _left_over(tiles, pair, group, free, offered).items():
            found[tiles, left] = chance
    return found


def _binomial(p: Floats) -> Floats:
    """Return the chance that so many of so many copies are drawn, shape (copies, drawn, points)."""
    pmf = np.zeros((MOST_COPIES + 1, MOST_COPIES + 1, len(p)))
    pmf[0, 0] = 1.0
    for copies in range(MOST_COPIES):
        pmf[copies + 1] = pmf[copies] * (1 - p)
        pmf[copies + 1, 1:] += pmf[copies, :-1] * p
    return pmf


@dataclass(frozen=True, eq=False)
class Odds:
    """Weights and tables that turn shortages into chances, for one outlook and one card.

    Attributes:
        table: see `_kind_table`.
        tail: summed weights by the least number of jokers still to come, shape (y, points); the last row is zero.
        most_groups: the largest group shortage of a kind that the table covers.
        open_sorts: how many sorts the table has for hands that are not concealed; those for concealed ones follow.
    """

    table: Reals
    tail: Reals
    most_groups: int
    open_sorts: int


@lru_cache(maxsize=1024)
def odds(outlook: Outlook, precision: Precision, most_pairs: int, most_groups: int) -> Odds:
    """Return the odds of an outlook for patterns with at most this many tiles of a kind in pairs and in groups."""
    comes = outlook.comes()
    drawn = [m / max(outlook.naturals, 1) for _, m in comes]
    mean = sum(share * float(chance) for share, chance in zip(drawn, comes.values(), strict=True))
    low, high = min(*drawn, mean - precision.reach), max(*drawn, mean + precision.reach)
    points = _points(precision.points, round(_STEPS * low), round(_STEPS * high))
    most = max(jokers for jokers, _ in comes)
    exact = [[Fraction(0)] * len(points) for _ in range(most + 2)]
    for y in reversed(range(most + 1)):
        now = {m: chance for (jokers, m), chance in comes.items() if jokers == y}
        exact[y] = [a + b for a, b in zip(_weights(points, now, outlook.naturals), exact[y + 1], strict=True)]
    tail: Reals = np.array([[float(weight) for weight in row] for row in exact], dtype=precision.dtype)
    free = outlook.play.free(outlook.passed)
    table: Reals = _kind_table(points, most_pairs, most_groups, free, outlook.play.offered).astype(precision.dtype)
    return Odds(table, tail, most_groups, (most_pairs + 1) * (most_groups + 1) * (MOST_COPIES + 1))


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
    sorts = (pair_short.astype(np.int32) * (coming.most_groups + 1) + group_short) * (MOST_COPIES + 1) + copies
    sorts += coming.open_sorts * patterns.concealed[which, None]
    # First kinds short of pairs only, then of groups, then complete ones: so the state stays small longest. Everything
    # travels in one number: sorting places and fetching by them takes four times as long.
    places = np.arange(short.shape[1], dtype=np.int32)
    packed = np.where(short, group_short, np.int32(_COMPLETE)) << _PLACE_BITS | places
    packed = np.sort(packed << _SORT_BITS | sorts, axis=1)
    sorts, left = packed & (1 << _SORT_BITS) - 1, packed >> _SORT_BITS + _PLACE_BITS
    number = short.sum(axis=1, dtype=np.int8)
    rows = np.argsort(-number, kind="stable")
    result = np.empty(len(which))
    for start in range(0, len(rows), _BLOCK):
        block = rows[start : start + _BLOCK]
        state = _products(sorts[block], left[block], number[block], int(jokers[block].max()), coming)
        result[block] = _weighed(state, jokers[block], coming)
    return np.clip(result, 0.0, 1.0)


def _products(sorts: Slots, group_short: Slots, number: Indices, jokers: int, coming: Odds) -> Reals:
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

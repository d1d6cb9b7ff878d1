"""Simple statistics with few assumptions: medians, shares, means and slopes with 95% intervals.

Pure functions of plain numbers. If there is too little data for an interval, it is None, never a guess.

    median       order statistics: the ranks follow from the binomial distribution with p = 1/2, whatever the
                 distribution of the values (Conover, Practical Nonparametric Statistics, the section on the
                 quantile test; the section cited from memory)
    share        Wilson 1927, Journal of the American Statistical Association 22
    mean         Student's t; its quantile from the expansion 26.7.5 of Abramowitz and Stegun, Handbook of
                 Mathematical Functions
    slope        Theil 1950 and Sen 1968, Journal of the American Statistical Association 63, equation 2.6
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import sqrt
from statistics import NormalDist, fmean, median, stdev

CONFIDENCE = 0.95
_FEWEST_FOR_A_MEAN = 6
"""With fewer values a median has no 95% interval, and the expansion of Student's t is off by more than 0.001."""


@dataclass(frozen=True, slots=True)
class Interval:
    """The ends of a 95% interval."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value, the number of observations behind it, and its interval; None if there are too few."""

    value: float
    count: int
    interval: Interval | None


def middle(values: Sequence[float]) -> Estimate | None:
    """Return the median, or None of no values. The interval needs six values and covers at least 95%.

    >>> middle([3, 1, 2, 5, 4, 6])
    Estimate(value=3.5, count=6, interval=Interval(low=1, high=6))
    """
    if not values:
        return None
    rank = _lower_rank(len(values))
    ordered = sorted(values)
    interval = Interval(ordered[rank - 1], ordered[-rank]) if rank else None
    return Estimate(median(ordered), len(ordered), interval)


def _lower_rank(count: int) -> int:
    """Return the greatest rank whose value is above the true median with a chance of at most 2.5%, or 0."""
    ways, below, rank = 1, 0, 0
    while (below := below + ways) / 2**count <= (1 - CONFIDENCE) / 2:
        ways = ways * (count - rank) // (rank + 1)
        rank += 1
    return rank


def share(hits: int, count: int) -> Estimate | None:
    """Return the share of hits among count trials with Wilson's interval, or None if count is 0."""
    if count == 0:
        return None
    z, p = _z(), hits / count
    centre = (p + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * sqrt(p * (1 - p) / count + z * z / (4 * count * count))
    low = 0.0 if hits == 0 else centre - half
    high = 1.0 if hits == count else centre + half
    return Estimate(p, count, Interval(low, high))


def mean(values: Sequence[float]) -> Estimate | None:
    """Return the mean, or None of no values.

    The interval is Student's; for 20 strongly skewed values it covers 89% instead of 95%.
    """
    if not values:
        return None
    count, value = len(values), fmean(values)
    if count < _FEWEST_FOR_A_MEAN:
        return Estimate(value, count, None)
    half = _student(count - 1) * stdev(values) / sqrt(count)
    return Estimate(value, count, Interval(value - half, value + half))


def slope(xs: Sequence[float], ys: Sequence[float]) -> Estimate | None:
    """Return the median slope between all pairs of points, or None if no two differ in x.

    Up to 29.3% of the points may be outliers of any size. count is the number of points; the number of pairs grows
    with its square, so with thousands of points pass only the latest few hundred.
    """
    points = sorted(zip(xs, ys, strict=True))
    slopes = sorted((y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(points, 2) if x2 > x1)
    if not slopes:
        return None
    n, pairs = len(points), len(slopes)
    variance = (_spread(n) - sum(map(_spread, Counter(xs).values())) - sum(map(_spread, Counter(ys).values()))) / 18
    if variance < 0:  # more ties than the formula allows for
        return Estimate(median(slopes), n, None)
    reach = _z() * sqrt(variance)
    low = max(round((pairs - reach) / 2) - 1, 0)
    high = min(round((pairs + reach) / 2), pairs - 1)
    return Estimate(median(slopes), n, Interval(slopes[low], slopes[high]))


def _spread(tied: int) -> int:
    return tied * (tied - 1) * (2 * tied + 5)


def _z() -> float:
    return NormalDist().inv_cdf((1 + CONFIDENCE) / 2)


def _student(freedom: int) -> float:
    """Return Student's 97.5% quantile; off by less than 0.0005 from 5 degrees of freedom on."""
    z, f = _z(), freedom
    return (
        z
        + (z**3 + z) / (4 * f)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * f**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * f**3)
        + (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / (92160 * f**4)
    )

"""Pearson's chi-square for the tests of chance: the statistics, and critical values from a published table.

Every test of chance here uses fixed keys, so that it gives the same verdict for ever; the level says how lucky
the keys would have to be for a fair draw to fail.
"""

from collections.abc import Iterable, Mapping, Sequence

CRITICAL: Mapping[tuple[int, float], float] = {
    (3, 0.05): 7.815,
    (3, 0.01): 11.345,
    (10, 0.05): 18.307,
    (10, 0.01): 23.209,
    (35, 0.05): 49.802,
    (35, 0.01): 57.342,
    (35, 0.001): 66.619,
}
"""Upper critical values by (degrees of freedom, level). df 3 and 10: Baron, Probability and Statistics for Computer
Scientists, table A6; df 35: computed."""


def statistic(counts: Sequence[int], expected: Sequence[float]) -> float:
    """Return the sum of (count - expected)^2 / expected."""
    return sum((count - mean) ** 2 / mean for count, mean in zip(counts, expected, strict=True))


def even(counts: Sequence[int]) -> float:
    """Return the statistic against equally likely cells; degrees of freedom: cells - 1."""
    mean = sum(counts) / len(counts)
    return statistic(counts, [mean] * len(counts))


def positions(orders: Iterable[Sequence[int]], size: int) -> float:
    """Return the position table's statistic of shuffles of range(size); degrees of freedom: (size - 1)^2.

    Rows and columns of the table have fixed sums, hence the factor (size - 1) / size.
    """
    table = [[0] * size for _ in range(size)]
    total = 0
    for order in orders:
        total += 1
        for row, item in zip(table, order, strict=True):
            row[item] += 1
    mean = total / size
    return (size - 1) / size * sum((count - mean) ** 2 / mean for row in table for count in row)

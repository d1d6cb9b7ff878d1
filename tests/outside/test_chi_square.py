"""The chi-square critical values that the tests of chance use, against scipy and against a published table."""

import random

import pytest
from scipy import stats

from tests.chi_square import CRITICAL, even, positions, statistic


@pytest.mark.parametrize(("df", "level"), CRITICAL)
def test_the_published_critical_values_are_those_of_scipy(df: int, level: float) -> None:
    """Source: Baron, Probability and Statistics for Computer Scientists, table A6 (df 3 and 10), three decimals."""
    assert float(stats.chi2.isf(level, df)) == pytest.approx(CRITICAL[df, level], abs=5.1e-4)


def test_the_statistic_is_that_of_scipy() -> None:
    counts, expected = [18, 25, 22, 35], [20.0, 30.0, 20.0, 30.0]
    assert statistic(counts, expected) == pytest.approx(float(stats.chisquare(counts, expected).statistic))
    assert even(counts) == pytest.approx(float(stats.chisquare(counts).statistic))


def test_the_position_tables_statistic_has_the_mean_and_spread_that_its_degrees_of_freedom_say() -> None:
    """A chi-square with k degrees has mean k and variance 2k; Python's own shuffle serves as the fair one here."""
    chance = random.Random(1)
    values = [positions((chance.sample(range(6), 6) for _ in range(200)), 6) for _ in range(400)]
    mean = sum(values) / len(values)
    variance = sum((value - mean) ** 2 for value in values) / len(values)
    assert mean == pytest.approx(25, abs=4 * (50 / 400) ** 0.5)
    assert variance == pytest.approx(50, rel=0.3)

"""Finish chances against published worked examples and a reference library.

Sources, each named at its check: the MathWorks documentation of hygepdf and hygecdf; OpenStax, Introductory
Statistics, hypergeometric distribution; a textbook example of drawing coloured balls (value from memory, and exact);
scipy.stats.hypergeom and multivariate_hypergeom.
"""

from fractions import Fraction

import numpy as np
import pytest
from scipy.stats import hypergeom, multivariate_hypergeom

from shared.coach.chance import FINE, Outlook, Play, chances, finish_chance, odds_for, outlook_of
from shared.coach.distance import Counts, Patterns
from shared.rules.tiles import INDEX, Tile
from tests.shared.coach.synthetic import pattern

NOTHING = np.zeros(36, dtype=np.uint8)


def counts(**tiles: int) -> Counts:
    result = np.zeros(36, dtype=np.uint8)
    for tile, count in tiles.items():
        result[INDEX[tile]] = count  # type: ignore[index]
    return result


def at_least(unseen: Counts, looks: int, passed: int = 0, **needs: int) -> Fraction:
    """The chance to draw at least so many of each kind, as the finish chance of a pattern of pairs."""
    return finish_chance(counts(**needs), NOTHING, NOTHING, unseen, Play.alone(looks), passed)


def exactly(unseen: Counts, looks: int, tile: Tile, count: int) -> Fraction:
    return at_least(unseen, looks, **{tile: count}) - at_least(unseen, looks, **{tile: count + 1})


def jokers_among(naturals: int, jokers: int, draws: int) -> dict[int, Fraction]:
    """The chance of each number of jokers among so many draws."""
    comes = Outlook(naturals, jokers, Play.alone(draws), 0).comes()
    assert all(found + others == draws for found, others in comes)
    return {found: chance for (found, _), chance in comes.items()}


def test_a_sample_of_ten_from_a_hundred_with_twenty_defective_as_in_the_mathworks_documentation() -> None:
    """MathWorks, hygepdf: N=100, K=20, n=10, and hygecdf for at most two."""
    published = [0.0951, 0.2679, 0.3182, 0.2092, 0.0841, 0.0215]
    lot = counts(N=20, E=80)
    for count, value in enumerate(published):
        assert float(exactly(lot, 10, "N", count)) == pytest.approx(value, abs=5e-5)
    assert float(1 - at_least(lot, 10, N=3)) == pytest.approx(0.6812, abs=5e-5)
    jokers = jokers_among(80, 20, 10)
    assert [round(float(jokers[count]), 4) for count in range(6)] == published


def test_a_committee_of_four_with_two_men_as_in_openstax() -> None:
    """OpenStax, Introductory Statistics: six men and five women, four drawn, two of them men: 5/11."""
    assert exactly(counts(N=6, E=5), 4, "N", 2) == Fraction(5, 11)


def test_two_blue_and_at_least_one_red_of_thirty_balls() -> None:
    """Ten red, ten white, ten blue, four drawn: two blue and at least one red have chance 5/21."""
    balls = counts(R=10, O=10, G=10)
    assert at_least(balls, 4, G=2, R=1) - at_least(balls, 4, G=3, R=1) == Fraction(5, 21)


@pytest.mark.parametrize(
    ("tiles", "published"),
    [(13, [0.480418, 0.378511, 0.119530, 0.019624]), (14, [0.452768, 0.387100, 0.133432, 0.024078])],
)
def test_jokers_in_a_deal(tiles: int, published: list[float]) -> None:
    """C(144, 13) / C(152, 13) and its neighbours, computed for the project from the set of 152 with eight jokers."""
    chance = jokers_among(144, 8, tiles)
    assert [float(chance[count]) for count in range(4)] == pytest.approx(published, abs=5e-7)
    assert sum(count * share for count, share in chance.items()) == Fraction(8 * tiles, 152)


@pytest.mark.parametrize("looks", [0, 1, 7, 30, 60, 99])
@pytest.mark.parametrize("passed", [0, 3, 18])
@pytest.mark.parametrize("copies", [1, 2, 3, 4])
def test_one_short_kind_is_scipys_hypergeometric(looks: int, passed: int, copies: int) -> None:
    """Both the integers and the floats, to 1e-12, for pairs (naturals only) and for groups without jokers."""
    unseen = counts(N=copies, E=4, W=4, R=40, G=40, O=40)
    drawn, out_of = min(looks + passed, int(unseen.sum())), int(unseen.sum())
    for need in (1, 2, 3):
        expected = float(hypergeom.sf(need - 1, out_of, copies, drawn))
        for variant in (pattern(0, [("N", 1)] * need), pattern(0, [("N", need + 2)])):
            patterns = Patterns.of_variants([variant])
            held = counts(N=2) if patterns.groups.any() else NOTHING
            exact = finish_chance(patterns.pairs[0], patterns.groups[0], held, unseen, Play.alone(looks), passed)
            assert float(exact) == pytest.approx(expected, abs=1e-12)
            coming = odds_for(patterns, outlook_of(unseen, Play.alone(looks), passed), FINE)
            quick = chances(patterns, np.zeros(1, dtype=np.intp), held[None], unseen, coming)
            assert quick[0] == pytest.approx(expected, abs=1e-12)


def test_several_short_kinds_are_scipys_multivariate_hypergeometric() -> None:
    unseen = counts(N=4, E=3, W=2, R=30, G=30, O=30)
    looks = 20
    every = [(north, east, west) for north in range(2, 5) for east in range(1, 4) for west in range(1, 3)]
    others = 90
    expected = sum(
        float(multivariate_hypergeom.pmf([*drawn, looks - sum(drawn)], [4, 3, 2, others], looks)) for drawn in every
    )
    assert float(at_least(unseen, looks, N=2, E=1, W=1)) == pytest.approx(expected, abs=1e-12)

"""How many jokers a deal brings: against the closed form and against simulated walls."""

import hashlib
from collections.abc import Iterable
from math import comb

import pytest
from scipy import stats

from shared.rules.tiles import JOKER, Rack
from shared.rules.wall import build_wall, deal
from tests.chi_square import CRITICAL, statistic

WALLS = 2_000


def closed_form(tiles: int) -> list[float]:
    """Return the chances of 0, 1, 2, 3 or more jokers among so many of 152 tiles with 8 jokers."""
    chances = [comb(8, jokers) * comb(144, tiles - jokers) / comb(152, tiles) for jokers in range(3)]
    return [*chances, 1 - sum(chances)]


@pytest.mark.parametrize(
    ("tiles", "published"),
    [(13, (0.480418, 0.378511, 0.119530, 0.019624)), (14, (0.452768, 0.387100, 0.133432, 0.024078))],
)
def test_the_closed_form_is_that_of_scipy_and_has_the_values_computed_before(
    tiles: int, published: tuple[float, ...]
) -> None:
    """Values: computed outside the project from C(144,13)/C(152,13) and so on; reference: scipy.stats.hypergeom."""
    law = stats.hypergeom(152, 8, tiles)
    exact = [comb(8, jokers) * comb(144, tiles - jokers) / comb(152, tiles) for jokers in range(4)]
    assert exact == pytest.approx([float(law.pmf(jokers)) for jokers in range(4)], rel=1e-9)
    assert exact == pytest.approx(published, abs=5.1e-7)
    assert float(law.mean()) == pytest.approx(tiles * 8 / 152) == pytest.approx(tiles / 19)


def racks(jokers: int) -> Iterable[tuple[Rack, Rack]]:
    """Yield East's and South's racks of many walls, each from a key of its own."""
    for number in range(WALLS):
        dealt, _ = deal(build_wall(hashlib.sha256(f"joker wall {number}".encode()).digest(), jokers))
        yield dealt[0], dealt[1]


def cells(counts: Iterable[int]) -> list[int]:
    """Count the racks with 0, 1, 2, 3 or more jokers."""
    found = [0, 0, 0, 0]
    for count in counts:
        found[min(count, 3)] += 1
    return found


def test_dealt_racks_hold_as_many_jokers_as_they_should() -> None:
    """Chi-square with three degrees at the 1% level, fixed keys; 13 tiles and 14 tiles apart."""
    both = list(racks(8))
    for tiles, index in ((14, 0), (13, 1)):
        expected = [chance * WALLS for chance in closed_form(tiles)]
        counts = cells(pair[index].count(JOKER) for pair in both)
        assert statistic(counts, expected) < CRITICAL[3, 0.01]
        mean = sum(pair[index].count(JOKER) for pair in both) / WALLS
        spread = (tiles / 19 * 18 / 19 * (152 - tiles) / 151 / WALLS) ** 0.5
        assert abs(mean - tiles / 19) < 3 * spread


def test_the_same_statistic_catches_a_deal_that_favours_a_seat() -> None:
    """Planted: whenever South has no joker and East has two, one of them changes the rack."""
    counts = cells(
        pair[1].count(JOKER) + (pair[1].count(JOKER) == 0 and pair[0].count(JOKER) == 2) for pair in racks(8)
    )
    assert statistic(counts, [chance * WALLS for chance in closed_form(13)]) > CRITICAL[3, 0.01]


def test_a_wall_without_jokers_deals_none() -> None:
    assert not any(JOKER in rack for pair in racks(0) for rack in pair)

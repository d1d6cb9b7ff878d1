"""Going on or stopping: a rack far ahead stops, a poor one goes on, with a courtesy pass or without."""

import pytest

from shared.coach.engine import Stopped
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import Effort
from shared.coach.votes import votes
from shared.rules.tiles import KINDS, Rack, parse_tiles
from tests.shared.coach.lives import coach
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE

POOR = parse_tiles("1b 4b 8b 1c 4c 9c 2d 5d 9d N E W S")


def hand(number: int, idle: int = 0) -> Rack:
    """A hand of the small card, the first few of its tiles changed for winds and dragons that it does not want."""
    patterns = coach().engine.patterns
    wanted = (patterns.pairs[number] + patterns.groups[number]).tolist()
    full = [kind for kind, count in zip(KINDS, wanted, strict=True) for _ in range(count)]
    others = [kind for kind in parse_tiles("N E W S R G O") if kind not in full]
    return (*others[:idle], *full[idle:])


@pytest.mark.parametrize("courtesy", [True, False])
@pytest.mark.parametrize("idle", [0, 1])
def test_a_finished_rack_and_one_that_is_nearly_finished_stop(idle: int, courtesy: bool) -> None:
    for number in (0, 100, 200):
        found = votes(coach().engine, Position(hand(number, idle), (), 3, ()), 1, courtesy=courtesy)
        assert found.gap.points < 0
        assert found.stop.points > 60


@pytest.mark.parametrize("courtesy", [True, False])
def test_a_poor_rack_goes_on(courtesy: bool) -> None:
    assert votes(coach().engine, Position(POOR, (), 3, ()), 1, courtesy=courtesy).gap.points > 0


def test_without_a_courtesy_stopping_is_the_rack_as_it_is() -> None:
    for rack in racks(61, 3, 13):
        now = Position(tiles_of(rack), (), 2, (), made=3)
        found = votes(ENGINE, now, 1, courtesy=False)
        as_it_is = ENGINE.as_it_is(Position(tiles_of(rack), (), 0, (), made=3))
        assert (found.stop.tiles, found.stop.points, found.stop.se) == ((), as_it_is, 0.0)
        assert found.gap.se == found.go_on.se
        offered = votes(ENGINE, now, 1, courtesy=True)
        assert offered.go_on == found.go_on
        assert 0 <= len(offered.stop.tiles) <= 3
        assert offered.stop.points >= as_it_is - 4 * offered.stop.se - 0.5, "offering nothing is one of its answers"


def test_the_gap_is_what_going_on_is_worth_more_gifts_counted() -> None:
    found = votes(ENGINE, Position(tiles_of(racks(62, 1, 13)[0]), (), 2, ()), 1, courtesy=True)
    assert found.go_on.given > 0
    assert found.stop.given == 0
    assert found.gap.points == found.go_on.net - found.stop.net
    assert found.gap.se == pytest.approx((found.go_on.se**2 + found.stop.se**2) ** 0.5)
    assert len(found.go_on.tiles) == 3


def test_the_vote_is_the_same_for_the_same_seed_and_can_be_stopped() -> None:
    now = Position(tiles_of(racks(63, 1, 13)[0]), (), 2, ())
    effort = Effort(((10, 8), (4, 16)))
    assert votes(ENGINE, now, 5, courtesy=True, effort=effort) == votes(ENGINE, now, 5, courtesy=True, effort=effort)

    def check(share: float) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        votes(ENGINE, now, 5, courtesy=True, effort=effort, check=check)

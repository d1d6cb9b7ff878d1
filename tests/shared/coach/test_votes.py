"""Going on or stopping: a rack far ahead stops, a poor one goes on."""

from dataclasses import replace

import numpy as np
import pytest

from shared.cards.shipped import practice_card
from shared.coach.distance import counts_of
from shared.coach.engine import Engine, Stopped
from shared.coach.estimate import Estimate
from shared.coach.others import SIX_PASSES
from shared.coach.passes import Position, tiles_of
from shared.coach.policies import choose
from shared.coach.questions import vote_said
from shared.coach.ranking import Effort, RankedPass
from shared.coach.votes import Votes, votes
from shared.rules.tiles import KINDS, Rack
from shared.rules.typed_tiles import typed
from tests.bench.charlestons import deal
from tests.shared.coach.lives import coach
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE

POOR = typed("1b 4b 8b 1c 4c 9c 2d 5d 9d N E W S")


def hand(number: int, idle: int = 0) -> Rack:
    """A hand of the small card, the first few of its tiles changed for winds and dragons that it does not want."""
    patterns = coach().engine.patterns
    wanted = (patterns.pairs[number] + patterns.groups[number]).tolist()
    full = [kind for kind, count in zip(KINDS, wanted, strict=True) for _ in range(count)]
    others = [kind for kind in typed("N E W S R G O") if kind not in full]
    return (*others[:idle], *full[idle:])


@pytest.mark.parametrize("idle", [0, 1])
def test_a_finished_rack_and_one_that_is_nearly_finished_stop(idle: int) -> None:
    for number in (0, 100, 200):
        found = votes(coach().engine, Position(hand(number, idle), (), 3, ()), 1)
        assert found.gap.points < 0
        assert found.stop.points > 60


def test_a_poor_rack_goes_on() -> None:
    assert votes(coach().engine, Position(POOR, (), 3, ()), 1).gap.points > 0


def test_stopping_is_worth_the_rack_as_it_is_after_one_charleston() -> None:
    for rack in racks(61, 3, 13):
        now = Position(tiles_of(rack), (), 2, (), made=3)
        found = votes(ENGINE, now, 1)
        as_it_is = ENGINE.as_it_is(Position(tiles_of(rack), (), 0, (), made=3))
        assert (found.stop.tiles, found.stop.points, found.stop.se) == ((), as_it_is, 0.0)


def test_the_gap_counts_gifts_and_how_exact_a_level_is() -> None:
    found = votes(ENGINE, Position(tiles_of(racks(62, 1, 13)[0]), (), 2, ()), 1)
    assert found.go_on.given > 0
    assert found.gap.points == found.go_on.net - found.stop.net
    assert found.gap.se >= 1.0
    assert len(found.go_on.tiles) == 3


def test_going_on_and_stopping_are_levelled_over_a_whole_table() -> None:
    """What one seat wins the others lose: over many seats neither vote is worth much more than the other."""
    dice = np.random.Generator(np.random.PCG64(492))
    engine, gaps = Engine.of_card(practice_card()), []
    for dealt in deal(dice, 10):
        seats = [Position(tiles_of(rack), (), 5) for rack in dealt]
        for direction in SIX_PASSES[:3]:
            given = [choose(engine, seat, "coach, at a glance", dice).tiles for seat in seats]
            seats = [
                replace(
                    seat,
                    rack=tiles_of(seat.counts() - counts_of(given[at]) + counts_of(given[at - direction])),
                    passed=(*seat.passed, *given[at]),
                    later=seat.later - 1,
                )
                for at, seat in enumerate(seats)
            ]
        gaps += [votes(engine, replace(seat, made=3), 1).gap.points for seat in seats]
    assert abs(np.mean(gaps)) < 1.5
    assert 0.4 < np.mean(np.array(gaps) > 0) < 0.85


def test_only_a_clear_gain_stops_the_table() -> None:
    pass_, stop = RankedPass((), 0, 20.0, 0.0), RankedPass((), 0, 21.0, 0.0)
    assert not Votes(pass_, stop, Estimate(-1.0, 1.0)).clearly_stop
    assert Votes(pass_, stop, Estimate(-2.5, 1.0)).clearly_stop


def test_the_vote_is_the_same_for_the_same_seed_and_can_be_stopped() -> None:
    now = Position(tiles_of(racks(63, 1, 13)[0]), (), 2, ())
    effort = Effort(((10, 8), (4, 16)))
    assert votes(ENGINE, now, 5, effort) == votes(ENGINE, now, 5, effort)

    def check(share: float) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        votes(ENGINE, now, 5, effort, check)


# ---- the vote before anybody may look


def test_a_vote_before_the_look_is_the_mean_over_what_may_lie_there() -> None:
    """Worked out again from its parts: the gap is the mean of the gaps of the racks that may lie there."""
    rack = tiles_of(racks(63, 1, 10)[0])
    now = Position(rack, (), 3, (), face_down=3)
    found = votes(ENGINE, now, 1)
    under = ENGINE.under(replace(now, made=3), 8)
    assert under.sum(axis=1).tolist() == [3] * 8
    assert not under[:, KINDS.index("J")].any(), "a joker cannot have been passed"
    whole = [votes(ENGINE, Position((*rack, *tiles_of(came)), (), 3, ()), 1).gap.points for came in under]
    assert found.gap.points == pytest.approx(np.mean(whole))
    assert found.gap.points == pytest.approx(found.go_on.net - found.stop.net)
    assert found.gap.se >= float(np.std(whole, ddof=1)) / 8**0.5
    assert found == votes(ENGINE, now, 1)


def test_what_may_lie_there_is_what_the_seat_has_not_seen() -> None:
    rack, passed = typed("1b 1b 1b 2b 3b 4b N N N N"), typed("1b R R R R")
    now = Position(rack, passed, 3, (), made=3, face_down=3)
    under = ENGINE.under(now, 200)
    for kind in ("1b", "N", "R", "J"):
        assert not under[:, KINDS.index(kind)].any()
    assert len(np.unique(under, axis=0)) > 100


def test_before_the_look_no_tiles_to_give_are_named() -> None:
    now = Position(POOR[:10], (), 3, (), face_down=3)
    found = votes(coach().engine, now, 1)
    assert found.go_on.tiles == ()
    said = vote_said(coach().engine, coach().card, now, found)
    assert "three tiles lie face down" in said.plain[0]
    assert "would give" not in " ".join(said.numbers)


def test_with_ten_jokers_the_unseen_tiles_hold_more_of_them() -> None:
    """A rack without a joker is worth more where more of them are still to be drawn."""
    eight, ten = (Position(POOR, (), 0, (), jokers=jokers, made=3) for jokers in (8, 10))
    assert (ten.unseen() - eight.unseen()).sum() == 2 == ten.unseen()[KINDS.index("J")] - 8
    assert ENGINE.as_it_is(ten) > ENGINE.as_it_is(eight)
    full = Position(("J",) * 10 + typed("1b 2b 3b"), (), 0, (), jokers=10, made=3)
    assert coach().engine.as_it_is(full) > 50

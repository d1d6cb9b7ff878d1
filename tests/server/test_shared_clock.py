"""A table with real tiles: who is waited for, what a host may do, who is told their times, and what a kill leaves."""

import pytest

from shared.rules.intents import (
    Extend,
    FreeChair,
    GoWithout,
    Leave,
    NewSet,
    NotReady,
    Pass,
    Pause,
    Resume,
    SitAt,
    Start,
    StepDone,
    TakeBack,
    Vote,
)
from shared.rules.settings import Settings
from shared.wire.messages import Close
from tests.groups import READY, Circle
from tests.tables import Evening

RIGHT = StepDone(step="first right")


def test_a_heat_begins_when_everybody_is_ready_and_empty_chairs_do_not_exist() -> None:
    circle = Circle(people=2)
    assert circle.stands() == ["not ready", "not ready", "free", "free"]
    circle.ready(0)
    circle.do(0, NotReady(), READY)
    assert circle.stands() == ["ready", "not ready", "free", "free"]
    assert circle.view().phase == "ready"
    circle.ready(1)
    assert (circle.view().step, circle.view().heat_number) == ("first right", 1)
    assert circle.stands() == ["thinking", "thinking", "free", "free"]
    circle.done(0)
    circle.done(1)
    assert circle.view().step == "first across"


def test_one_alone_has_a_clock_as_well() -> None:
    circle = Circle(people=1)
    circle.ready(0)
    circle.play_heat(0)
    assert circle.view().phase == "set-up"
    assert len(circle.times(0)) == 1


def test_everybody_sees_who_is_done_who_is_late_and_by_how_much() -> None:
    circle = Circle()
    circle.ready()
    circle.wait(10)
    circle.done(0)
    circle.wait(25)
    for chair in range(4):
        view = circle.view(chair)
        assert view.you == chair + 1
        assert [(place.stand, place.left_ms) for place in view.places] == [
            ("done", 18_800),
            *[("thinking", -6_200)] * 3,
        ]
    assert circle.view().heat_ms == 35_000


def test_a_done_is_taken_back_while_others_think_and_no_longer() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    circle.wait(3)
    circle.done(0)
    circle.do(0, TakeBack(step="first right"))
    assert circle.stands()[:2] == ["thinking", "thinking"]
    circle.wait(2)
    circle.done(0, 1)
    assert circle.refused(1, TakeBack(step="first right")) == "out of turn"
    assert circle.view().places[0].budget_ms == 16_800 + 23_800


def test_what_was_meant_for_another_heat_or_step_is_refused() -> None:
    circle = Circle(people=2)
    assert circle.refused(0, RIGHT) == "out of turn"
    circle.ready(0, 1)
    assert circle.refused(0, RIGHT, heat=0) == "other heat"
    assert circle.refused(0, StepDone(step="last right")) == "out of turn"
    assert circle.refused(0, StepDone(step="first right", says_no=True)) == "out of turn"


@pytest.mark.parametrize(
    "intent", [Pass(step="first right", tiles=("1b", "2b", "3b")), Vote(go_on=False), Start(), Extend(by_ms=5_000)]
)
def test_nothing_of_a_dealt_game_is_done_here(intent: Pass | Vote | Start | Extend) -> None:
    circle = Circle()
    circle.ready()
    assert circle.refused(0, intent) == "not now"
    assert circle.refused(0, FreeChair(chair=1)) == "not now"


@pytest.mark.parametrize("intent", [StepDone(step="first right"), SitAt(place=2), GoWithout()])
def test_nothing_of_a_clock_is_done_at_a_table_where_the_program_deals(intent: StepDone | SitAt | GoWithout) -> None:
    evening = Evening()
    evening.ready()
    assert evening.refused(0, intent) == "not now"


# ---- the host


def test_only_the_host_pauses_and_no_time_passes_meanwhile() -> None:
    circle = Circle()
    circle.ready()
    circle.wait(5)
    assert circle.refused(1, Pause()) == "host only"
    circle.do(0, Pause())
    assert circle.refused(0, Pause()) == "not now"
    circle.wait(600)
    assert circle.refused(1, RIGHT) == "paused"
    assert circle.places()[1].left_ms == 23_800
    circle.do(0, Resume())
    circle.wait(1)
    circle.done()
    assert circle.view().step == "first across"
    assert circle.view().heat_ms == 6_000


def test_nobody_gets_ready_while_the_clock_stands_still() -> None:
    circle = Circle(people=1)
    assert circle.refused(0, Pause()) == "not now"
    circle.ready(0)
    circle.play_heat(0)
    circle.do(0, Pause())
    assert circle.refused(0, READY) == "paused"
    circle.do(0, Resume())
    circle.ready(0)
    assert circle.view().heat == 2


def test_a_host_whose_line_is_down_is_stood_in_for_by_somebody_who_is_there() -> None:
    circle = Circle()
    circle.ready()
    circle.cut(0)
    assert not circle.view(1).host, "a short cut makes nobody the host"
    circle.now_ms += 60_000
    circle.take(circle.table.tick(circle.now_ms))
    assert circle.view(1).host
    assert circle.view(1).code == ""
    circle.do(1, Pause())
    circle.back(0)
    assert circle.view(0).host
    assert not circle.view(1).host


# ---- away, gone, come late


def test_after_a_restart_somebody_else_keeps_the_clock_if_its_host_does_not_come_back() -> None:
    circle = Circle(people=2)
    circle.ready(0)
    circle.ready(1)
    circle.restart()
    circle.back(1)
    circle.wait(59)
    circle.take(circle.table.tick(circle.now_ms))
    assert circle.refused(1, Resume()) == "host only"
    circle.wait(1)
    circle.take(circle.table.tick(circle.now_ms))
    circle.do(1, Resume())


def test_a_cut_line_keeps_its_seat_and_the_others_wait_until_the_host_goes_on_without() -> None:
    circle = Circle()
    circle.ready()
    assert circle.refused(0, GoWithout()) == "not now"
    circle.cut(3)
    circle.wait(7)
    circle.done(0, 1, 2)
    assert circle.view().step == "first right"
    assert circle.places()[3].stand == "thinking"
    assert circle.refused(1, GoWithout()) == "host only"
    circle.do(0, GoWithout())
    assert circle.view().step == "first across"
    assert circle.places()[3].stand == "not waited for"
    circle.back(3)
    assert circle.places()[3].stand == "thinking"
    circle.play_heat()
    assert [len(circle.times(chair)) for chair in range(4)] == [1, 1, 1, 0]
    assert circle.view().results[0].places_ms[3] is None


def test_whoever_comes_back_in_time_lacks_nothing() -> None:
    circle = Circle()
    circle.ready()
    circle.cut(2)
    circle.wait(12)
    circle.back(2)
    circle.done()
    circle.play_heat()
    assert [len(circle.times(chair)) for chair in range(4)] == [1, 1, 1, 1]
    assert circle.times(2)[0].heat.steps[0].spent_ms == 12_000


def test_whoever_leaves_for_good_is_waited_for_no_more_and_the_chair_is_theirs_until_the_heat_ends() -> None:
    circle = Circle()
    circle.ready()
    circle.done(0, 1, 2)
    circle.do(3, Leave())
    assert circle.closed == [(3, Close.TABLE_CLOSED)]
    assert circle.view().step == "first across"
    circle.back(3)
    assert circle.places()[3].stand == "thinking"
    circle.do(3, Leave())
    circle.play_heat(0, 1, 2)
    assert circle.stands() == ["not ready", "not ready", "not ready", "free"]


def test_whoever_leaves_in_a_pause_is_waited_for_no_more_once_the_clock_runs() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    circle.wait(2)
    circle.done(0)
    circle.do(0, Pause())
    circle.do(1, Leave())
    assert (circle.view().step, circle.stands()[0]) == ("first right", "done")
    circle.do(0, Resume())
    assert circle.view().step == "first across"
    circle.play_heat(0)
    assert len(circle.times(0)) == 1


def test_when_the_only_one_who_was_not_ready_leaves_the_heat_begins() -> None:
    circle = Circle(people=3)
    circle.ready(0, 1)
    circle.do(2, Leave())
    assert circle.view().step == "first right"


def test_a_host_who_leaves_is_followed_by_another() -> None:
    circle = Circle(people=2)
    circle.do(0, Leave())
    assert circle.view(1).host
    assert circle.view(1).code == "marigold-otter-lemon-07"


def test_a_set_up_pause_waits_for_nobody_who_is_away_once_the_host_says_so() -> None:
    circle = Circle(people=3)
    circle.ready(0, 1)
    circle.cut(2)
    circle.do(0, GoWithout())
    assert circle.view().step == "first right"
    circle.back(2)
    assert circle.places()[2].stand == "next heat"
    assert circle.refused(2, RIGHT) == "out of turn"
    circle.play_heat(0, 1)
    circle.ready(0, 1, 2)
    assert circle.stands()[2] == "thinking"


def test_a_newcomer_comes_in_with_the_next_heat() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    assert circle.join("Eve") == 2
    assert circle.places()[2].stand == "next heat"
    circle.done(0, 1)
    assert circle.view().step == "first across"


def test_a_newcomer_at_a_full_table_takes_the_chair_of_somebody_who_is_away_and_not_waited_for() -> None:
    circle = Circle()
    circle.ready()
    circle.play_heat()
    circle.cut(1)
    assert not hasattr(circle.knock("Eve"), "chair")
    circle.do(0, GoWithout())
    assert circle.join("Eve") == 1
    assert circle.places()[1].name == "Eve"
    assert circle.times(1)[1:] == [], "the times of whoever sat there before are nobody else's"
    assert circle.view().results[0].places_ms[1] is None


def test_whoever_takes_the_chair_of_a_host_who_is_away_is_not_the_host() -> None:
    circle = Circle()
    circle.cut(0)
    circle.now_ms += 60_000
    circle.take(circle.table.tick(circle.now_ms))
    circle.do(1, GoWithout())
    assert circle.join("Eve") == 0
    assert [place.host for place in circle.places()] == [False, True, False, False]
    assert (circle.view(0).host, circle.view(0).code) == (False, "")
    circle.cut(1)
    assert circle.view(0).host, "somebody who is there stands in for a host whose line is down"


# ---- places, sets, times


def test_people_say_where_they_sit_and_east_is_told_by_place() -> None:
    circle = Circle(people=2)
    circle.do(1, SitAt(place=3))
    assert circle.view(1).you == 3
    assert [place.name for place in circle.places()] == ["Anna", "", "Bo", ""]
    circle.ready(0, 1)
    assert circle.refused(1, SitAt(place=2)) == "not now"
    circle.play_heat(0, 1)
    assert circle.view().east == 2
    heat = circle.times(1)[0].heat
    assert (heat.seat, heat.played_at) == (2, "2030-01-01T20:00:00+00:00")
    circle.do(1, SitAt(place=2))
    circle.cut(1)
    circle.back(1)
    assert circle.times(1)[1].heat == heat, "where one sat in a heat that is over does not change"


def test_the_host_begins_a_new_set_whose_heats_are_others() -> None:
    circle = Circle(people=1, settings=Settings(level_ms=120_000, heats=1))
    circle.ready(0)
    assert circle.refused(0, NewSet()) == "not now"
    circle.play_heat(0)
    assert circle.view().phase == "over"
    assert circle.refused(0, READY) == "not now"
    circle.do(0, NewSet())
    assert (circle.view().phase, circle.view().heat, circle.view().results) == ("ready", 1, ())
    circle.ready(0)
    circle.play_heat(0)
    first, second = circle.times(0)
    assert first.heat.commitment != second.heat.commitment
    assert (first.heat.number, second.heat.number) == (1, 1)


def test_times_are_told_at_the_end_of_a_heat_and_the_same_again_after_every_return() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    circle.cut(1)
    circle.back(1)
    circle.play_heat(0, 1)
    circle.cut(1)
    circle.ready(0)
    circle.back(1)
    assert len(circle.times(0)) == 1
    first, again = circle.times(1)
    assert first == again
    assert [step.spent_ms for step in first.heat.steps] == [4_000] * 9


def test_whoever_was_away_at_the_end_hears_their_times_on_return() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    while circle.view().following:
        circle.done(0, 1)
    circle.done(1)
    circle.cut(1)
    circle.done(0)
    assert circle.times(1) == []
    circle.back(1)
    assert len(circle.times(1)) == 1


# ---- trouble with the machine


def test_a_killed_host_comes_back_paused_at_the_last_thing_that_was_acknowledged() -> None:
    circle = Circle()
    circle.ready()
    circle.wait(10)
    circle.done(0)
    circle.wait(2)
    circle.restart()
    view = circle.view()
    assert view.paused
    assert [place.connected for place in view.places] == [False] * 4
    assert [(place.stand, place.left_ms) for place in view.places] == [("done", 18_800), *[("thinking", 18_800)] * 3]
    for chair in range(4):
        circle.back(chair)
    circle.wait(100)
    circle.do(0, Resume())
    circle.wait(5)
    circle.done(1, 2, 3)
    assert circle.view().step == "first across"
    circle.play_heat()
    assert circle.times(1)[0].heat.steps[0].spent_ms == 15_000


def test_a_host_killed_in_a_pause_or_between_heats_comes_back_there() -> None:
    circle = Circle(people=1)
    circle.restart()
    assert (circle.view().phase, circle.view().paused) == ("ready", False)
    circle.back(0)
    circle.ready(0)
    circle.wait(3)
    circle.do(0, Pause())
    circle.restart()
    assert circle.places()[0].left_ms == 25_800
    circle.back(0)
    circle.do(0, Resume())
    circle.play_heat(0)
    circle.wait(20)
    circle.restart()
    assert (circle.view().phase, circle.view().paused, circle.view().setup_ms) == ("set-up", True, 0)
    circle.back(0)
    assert len(circle.times(0)) == 2
    circle.do(0, Resume())
    circle.ready(0)
    circle.play_heat(0)
    circle.restart()
    assert (circle.view().phase, circle.view().paused) == ("over", False)


def test_a_stall_of_the_machine_costs_nobody_time() -> None:
    circle = Circle(people=1)
    circle.ready(0)
    circle.wait(4)
    circle.take(circle.table.stalled(3_000, circle.now_ms))
    assert circle.places()[0].left_ms == 27_800
    circle.done(0)
    assert circle.view().places[0].budget_ms == 16_800 + 27_800


def test_what_could_not_be_stored_did_not_happen() -> None:
    circle = Circle()
    circle.ready()
    before, seen = circle.table.checkpoint(), circle.places()
    circle.done()
    circle.table.go_back(before, (0, 1, 2, 3))
    assert circle.places() == seen
    circle.ids[2] -= 1
    circle.done(2)
    assert circle.stands()[2] == "done"


def test_an_id_that_was_dealt_with_is_answered_again_and_done_once() -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    circle.done(0)
    circle.ids[0] -= 1
    assert circle.ask(0, TakeBack(step="first right")).kind == "done"
    assert circle.stands()[0] == "done"

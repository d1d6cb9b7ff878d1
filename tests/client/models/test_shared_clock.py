"""What a client makes of a shared clock's views: times run on by themselves, and nothing is done before it is told."""

import pytest

from client.models.shared_clock import READY, SharedClockModel
from shared.rules.intents import GoWithout, NewSet, Pause, SitAt, StepDone
from shared.rules.pace import GRACE_MS
from shared.rules.settings import Settings
from shared.wire.messages import Refused
from tests.groups import Circle


def hearing(circle: Circle, chair: int = 0, rtt_ms: int = 0) -> SharedClockModel:
    model = SharedClockModel()
    model.hear(circle.view(chair), circle.now_ms, rtt_ms)
    return model


def running(people: int = 4) -> Circle:
    circle = Circle(people)
    circle.ready(*range(people))
    return circle


def test_clocks_of_those_who_think_run_on_between_views_and_go_below_zero() -> None:
    circle = running()
    circle.wait(4)
    circle.done(1)
    model, at_ms = hearing(circle), circle.now_ms
    assert [model.left_ms(place, at_ms + 30_000) for place in (1, 2, 3, 4)] == [-5_200, 24_800, -5_200, -5_200]
    assert [model.is_late(place, at_ms + 30_000) for place in (1, 2)] == [True, False]
    assert model.heat_ms(at_ms + 30_000) == 34_000


def test_half_a_round_trip_is_taken_off() -> None:
    circle = running()
    model = hearing(circle, rtt_ms=60)
    assert model.left_ms(1, circle.now_ms + 1_000) == 28_800 - 1_000 - 30


def test_nobody_is_called_late_within_the_grace_in_which_a_press_may_still_travel() -> None:
    circle = running()
    model = hearing(circle)
    up_ms = circle.now_ms + 28_800
    assert not model.is_late(1, up_ms + GRACE_MS)
    assert model.is_late(1, up_ms + GRACE_MS + 1)


def test_nothing_runs_on_in_a_pause_or_while_the_plan_is_made() -> None:
    circle = running()
    circle.do(0, Pause())
    model = hearing(circle)
    assert model.left_ms(1, circle.now_ms + 9_000) == 28_800
    assert model.heat_ms(circle.now_ms + 9_000) == 0
    planning = Circle(1, Settings(level_ms=120_000, second="never", courtesy=False, plan=True))
    planning.ready(0)
    for _ in range(3):
        planning.wait(2)
        planning.done(0)
    assert planning.view().step == "plan"
    assert hearing(planning).heat_ms(planning.now_ms + 9_000) == 6_000


def test_an_older_view_is_dropped_until_the_line_is_new() -> None:
    circle = running()
    older = circle.view()
    circle.done(1)
    model = hearing(circle)
    model.hear(older, circle.now_ms, 0)
    assert model.view
    assert model.view.places[1].stand == "done"
    model.connected()
    model.hear(older, circle.now_ms, 0)
    assert model.view.places[1].stand == "thinking"


def test_what_is_on_its_way_is_asked_once_and_over_when_the_next_view_shows_what_came_of_it() -> None:
    circle = running()
    model = hearing(circle)
    assert model.press("space") == (StepDone(step="first right"),)
    model.sent(1, StepDone(step="first right"))
    assert model.press("space") == ()
    model.done(1)
    assert model.is_sending
    model.hear(circle.view(), circle.now_ms, 0)
    assert not model.is_sending


def test_a_refusal_is_said_and_ends_with_the_step() -> None:
    circle = running()
    model = hearing(circle)
    model.sent(1, StepDone(step="first right"))
    model.refused(Refused(id=1, code="paused", text="The clock is paused.", late_ms=None))
    assert (model.note, model.is_sending) == ("The clock is paused.", False)
    circle.done()
    model.hear(circle.view(), circle.now_ms, 0)
    assert model.note == ""


@pytest.mark.parametrize("key", ["space", "u", "0", "enter", "1", "p", "w"])
def test_no_key_asks_anything_before_the_clock_is_heard(key: str) -> None:
    assert SharedClockModel().press(key) == ()


def test_keys_between_the_heats() -> None:
    circle = Circle(people=2)
    model = hearing(circle)
    assert model.press("space") == ()
    assert model.press("1") == (), "one sits there already"
    assert model.press("4") == (SitAt(place=4),)
    assert model.press("p") == (), "nothing runs yet"
    assert model.press("enter") == (READY,)
    circle.cut(1)
    assert hearing(circle).press("w") == (GoWithout(),)
    assert hearing(circle).away() == ("Bo",)


def test_only_the_host_begins_another_set() -> None:
    circle = Circle(2, Settings(level_ms=120_000, heats=1))
    circle.ready(0, 1)
    circle.play_heat(0, 1)
    assert hearing(circle).press("enter") == (NewSet(),)
    assert hearing(circle, chair=1).press("enter") == ()


def test_names_are_cleaned_again_before_they_are_drawn() -> None:
    circle = Circle(people=1)
    view = circle.view()
    evil = view.places[0].model_copy(update={"name": "An\x1b[31mna"})
    model = SharedClockModel()
    model.hear(view.model_copy(update={"places": (evil, *view.places[1:])}), 0, 0)
    assert model.name(1) == "An[31mna"
    assert model.name(2) == ""

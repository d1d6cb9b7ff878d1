"""A seat's view: all that it may know, and nothing that depends on anything else."""

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st
from pydantic import ValidationError

from shared.rules.charleston import route
from shared.rules.heat import final_state
from shared.rules.intents import Lift, Offer, Plan, Vote
from shared.rules.seats import SEATS, Direction, PerSeat, Seat, chair_of
from shared.rules.settings import Settings
from shared.rules.state import State
from shared.rules.tiles import JOKER, by_suit
from shared.wire.views import HeatView, View, heat_result, heat_view, set_begun
from tests.heats import EAST, NORTH, SOUTH, WEST, Heat, veiled

CHAIRS = PerSeat((2, 3, 0, 1))
BLIND_STEPS = ("first left", "last right")


def view(played: Heat, seat: Seat, state: State | None = None) -> HeatView:
    return heat_view(state or played.state, seat, 4, CHAIRS, played.at_ms, route(played.state))


def moments(played: Heat, blind: int = 0) -> Iterator[None]:
    """Play a heat plainly and stop after every answer."""
    yield
    while not played.state.over:
        for seat in SEATS:
            if played.state.owes[seat]:
                played.wait(100)
                played.answer(seat, blind=blind if played.state.step in BLIND_STEPS else 0)
                yield


@given(st.binary(max_size=16), st.integers(0, 3), st.sampled_from(["racks", "wall"]))
@effort(max_examples=15, deadline=None)
def test_a_view_stays_the_same_whatever_all_that_is_hidden_is(key: bytes, blind: int, incoming: str) -> None:
    played = Heat(Settings.model_validate({"incoming": incoming, "plan": True}), contributions=(key, b"", b"", b""))
    for _ in moments(played, blind):
        for seat in SEATS:
            assert view(played, seat) == view(played, seat, veiled(played.state, seat))


def test_the_veil_of_these_tests_hides_something() -> None:
    """Guard: the state that a seat must not tell apart from the true one is another state."""
    played = Heat().go_to("second left")
    other = veiled(played.state, EAST)
    assert other.racks[SOUTH] == (JOKER,) * 13
    assert other.racks[EAST] == played.state.racks[EAST]
    assert set(other.wall) == {JOKER}
    assert view(played, SOUTH) != view(played, SOUTH, other)


def test_a_seat_sees_its_own_rack_its_lifted_tiles_and_what_came_last() -> None:
    played = Heat()
    played.do(EAST, Lift(step="first right", tiles=played.state.racks[EAST][:2]))
    seen = view(played, EAST)
    assert seen.rack == seen.dealt == played.state.racks[EAST]
    assert (seen.lifted, seen.lifted_blind, seen.give, seen.owes, seen.answered) == (seen.rack[:2], 0, 3, True, False)
    assert (seen.number, seen.seat, seen.step) == (4, 0, "first right")
    played.answer_all()
    seen = view(played, EAST)
    assert seen.fresh == seen.route[0].came == played.state.done[0].came[EAST]
    assert seen.route[0].given == played.state.done[0].sent[EAST]
    assert not seen.lifted


def test_who_passed_blind_sees_how_many_but_never_which() -> None:
    played = Heat().go_to("first left")
    for seat in SEATS:
        played.answer(seat, blind=3 if seat == EAST else 0)
    step = view(played, EAST).route[2]
    assert (step.given, step.blind, step.came) == ((), 3, ())
    assert [one.blind for one in view(played, SOUTH).route] == [0] * 9
    forwarded = played.state.done[2].sent[EAST]
    assert len(forwarded) == 3
    assert view(played, NORTH).route[2].came == by_suit(forwarded)


def test_votes_and_numbers_are_shown_only_after_all_have_answered() -> None:
    played = Heat().go_to("go on")
    played.do(SOUTH, Vote(go_on=False))
    seen = view(played, EAST)
    assert seen.seats[SOUTH].answered
    assert [seat.vote for seat in seen.seats] == [None] * 4
    played.answer_all(go_on=True)
    assert [seat.vote for seat in view(played, EAST).seats] == [True, False, True, True]
    played.do(WEST, Offer(count=2))
    assert [seat.offer for seat in view(played, EAST).seats] == [None] * 4
    played.answer_all(count=1)
    assert [seat.offer for seat in view(played, EAST).seats] == [1, 1, 2, 1]


def test_a_plan_is_nobody_elses() -> None:
    played = Heat(Settings(plan=True)).go_to("plan")
    before = view(played, EAST)
    played.do(SOUTH, Plan(hand="the hand of South", discards=played.state.racks[SOUTH][:3]))
    after = view(played, EAST)
    assert "the hand of South" not in repr(after)
    seats = tuple(seat.model_copy(update={"owes": True, "answered": False}) for seat in after.seats)
    assert after.model_copy(update={"seats": seats}) == before


def test_the_clock_shows_what_is_left_and_whether_it_runs() -> None:
    played = Heat(Settings(level_ms=100_000))
    played.wait(4_000)
    played.answer(EAST)
    played.wait(1_000)
    own, other = view(played, EAST).clock, view(played, SOUTH).clock
    assert (own.left_ms, own.budget_ms, own.carried_ms, own.running) == (20_000, 24_000, 0, False)
    assert (other.left_ms, other.running) == (19_000, True)
    played.pause()
    assert view(played, SOUTH).paused
    assert not view(played, SOUTH).clock.running
    played.resume()
    played.answer_all()
    assert view(played, EAST).clock.carried_ms == 20_000
    assert view(played, EAST).route[0].spent_ms == 4_000


def test_a_pause_covers_the_racks_and_afterwards_all_is_as_it_was() -> None:
    played = Heat().go_to("first across")
    played.do(SOUTH, Lift(step="first across", tiles=played.state.racks[SOUTH][:2]))
    before = {seat: view(played, seat) for seat in SEATS}
    assert all(seen.dealt and seen.rack and seen.fresh for seen in before.values())
    played.pause()
    empty = dict.fromkeys(("dealt", "rack", "lifted", "fresh"), ())
    for seat, seen in before.items():
        still = {"paused": True, "clock": view(played, seat).clock}
        assert view(played, seat) == seen.model_copy(update=empty | still)
    played.resume()
    assert {seat: view(played, seat) for seat in SEATS} == before


def test_the_route_tells_what_is_done_what_runs_and_what_lies_ahead() -> None:
    played = Heat().go_to("first left")
    states = [step.state for step in view(played, EAST).route]
    assert states == ["done", "done", "now", *["ahead"] * 6]
    assert [step.length_ms for step in view(played, EAST).route][:3] == [43_200, 25_200, 25_200]
    assert view(played, EAST).most_blind == 3


def test_an_answer_is_told_at_its_own_step_alone() -> None:
    played = Heat().go_to("first left")
    played.answer(EAST)
    _, _, now, *ahead = view(played, EAST).route
    assert (now.state, now.by, len(now.given)) == ("now", "person", 3)
    for step in ahead:
        assert (step.spent_ms, step.by, step.given, step.blind, step.came) == (None, None, (), 0, ())


def test_a_neighbour_is_in_the_direction_of_the_step_at_which_tiles_change_hands() -> None:
    played = Heat(Settings(side_courtesy=True)).go_to("side offer")
    assert view(played, EAST).direction("side give") is None
    played.answer(EAST, to="left", count=1)
    played.answer_all(to="right", count=1)
    seen = view(played, EAST)
    assert [seat.side for seat in seen.seats] == ["left", "right", "right", "right"]
    assert [seat.side_offer for seat in seen.seats] == [1] * 4
    assert seen.direction("side give") is Direction.LEFT
    assert seen.direction("courtesy give") is Direction.ACROSS
    assert [seen.direction(step) for step in ("first right", "go on", "plan", "side offer")] == [
        Direction.RIGHT,
        None,
        None,
        None,
    ]


def test_tiles_that_nobody_has_looked_at_yet_are_missing_from_the_last_step_and_no_other() -> None:
    played = Heat(Settings(stop_unseen=True)).go_to("go on")
    came = [step.came for step in view(played, EAST).route[:3]]
    assert came == [played.state.done[0].came[EAST], played.state.done[1].came[EAST], ()]
    assert came[0]
    assert came[1]


def test_there_is_no_fifth_seat() -> None:
    seen = view(Heat(), EAST)
    assert HeatView.model_validate({**dict(seen), "seat": 3}).seat == 3
    with pytest.raises(ValidationError):
        HeatView.model_validate({**dict(seen), "seat": 4})


@pytest.mark.parametrize(
    ("phase", "number", "finished", "first"),
    [
        ("seating", 0, 0, 0),
        ("heat", 1, 0, 1),
        ("between", 1, 1, 1),
        ("heat", 3, 2, 1),
        ("over", 3, 3, 1),
        ("heat", 4, 0, 4),
        ("between", 5, 2, 4),
        ("between", 3, 0, 3),
    ],
)
def test_a_view_knows_the_first_heat_of_its_set(phase: str, number: int, finished: int, first: int) -> None:
    seen = View.model_construct(phase=phase, heat_number=number, results=(None,) * finished)
    assert seen.first_heat == first
    assert set_begun(max(number, 1), seen) == first
    assert set_begun(9, None) == 9
    assert set_begun(0, seen) == 0


def test_each_seat_is_shown_with_its_chair() -> None:
    assert [seat.chair for seat in view(Heat(), WEST).seats] == list(CHAIRS)


@pytest.mark.parametrize("opened", [True, False])
def test_a_result_shows_everybodys_seconds_and_the_racks_only_if_they_are_opened(opened: bool) -> None:
    played = Heat()
    for _ in moments(played):
        pass
    saved = played.saved().model_copy(update={"east": 2})
    result = heat_result(saved, final_state(saved), opened)
    assert [seat.chair for seat in result.seats] == [chair_of(seat, 2) for seat in SEATS] == [2, 3, 0, 1]
    for seat, shown in zip(SEATS, result.seats, strict=True):
        spent = [done.answers[seat].spent_ms for done in played.state.done if done.answers[seat]]  # type: ignore[union-attr]
        assert [step.spent_ms for step in shown.spent] == spent
        assert shown.total_ms == sum(spent) > 0
        assert shown.final == (played.state.racks[seat] if opened else ())
        assert shown.dealt == (played.state.dealt[seat] if opened else ())
    assert result.secret == (saved.secret.hex() if opened else "")


def test_a_view_has_no_field_that_this_list_does_not_know() -> None:
    """Whoever adds one must think about who may see it."""
    known: dict[str, Any] = dict.fromkeys(HeatView.model_fields)
    assert set(known) == {
        "number", "seat", "step", "dealt", "rack", "lifted", "lifted_blind", "answered", "owes", "fresh", "give",
        "most_blind", "face_down", "stopped", "paused", "clock", "route", "seats",
    }  # fmt: skip

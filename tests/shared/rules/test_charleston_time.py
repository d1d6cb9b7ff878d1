"""The rules of the passing phase, one sentence a test: clocks, refusals, what is taken back, and what lies ahead."""

from collections import Counter

import pytest

from shared.rules.charleston import DRAFTS, TAKEN_BACK, route
from shared.rules.intents import Arrange, Lift, Offer, Pass, Plan, TakeBack, Vote
from shared.rules.pace import GRACE_MS
from shared.rules.seats import SEATS
from shared.rules.settings import Settings
from shared.rules.state import own_tiles
from shared.rules.steps import StepName
from shared.rules.tiles import JOKER, full_set
from shared.rules.wall import Stream
from tests.heats import EAST, NORTH, SOUTH, WEST, Heat, every_tile, passable
from tests.shared.four_racks import FOUR_RACKS, heat, last_move

# ---- time runs out


def test_a_timeout_passes_the_rightmost_tiles_that_may_be_passed() -> None:
    played = heat()
    played.do(EAST, Arrange(tiles=(*FOUR_RACKS[0].split()[:11], "F", "N", "J")))  # type: ignore[arg-type]
    played.wait_out()
    answer = played.state.done[-1].answers[EAST]
    assert own_tiles(answer) == ("N", "F", "N")


def test_a_timeout_passes_what_was_lifted_topped_up_with_the_rightmost() -> None:
    played = heat()
    played.do(EAST, Lift(step="first right", tiles=("1b", "4b")))
    played.do(SOUTH, Lift(step="first right", tiles=("1c", "1c", "2c")))
    played.wait_out()
    assert own_tiles(played.state.done[-1].answers[EAST]) == ("1b", "4b", "F")
    assert own_tiles(played.state.done[-1].answers[SOUTH]) == ("1c", "1c", "2c")


def test_only_the_last_lift_counts_and_a_new_step_begins_with_nothing_lifted() -> None:
    played = heat()
    played.do(EAST, Lift(step="first right", tiles=("1b", "4b", "5b")))
    played.do(EAST, Lift(step="first right", tiles=("9b",)))
    played.wait_out()
    assert own_tiles(played.state.done[-1].answers[EAST]) == ("9b", "F", "N")
    assert not played.state.drafts[EAST].tiles


def test_a_courtesy_that_was_promised_is_given_by_the_clock() -> None:
    played = heat(second="never").go_to("courtesy offer")
    played.answer_all(count=2)
    played.wait_out()
    assert played.state.over
    assert [len(tiles) for tiles in last_move(played).sent] == [2, 2, 2, 2]


@pytest.mark.parametrize(("after_ms", "counts"), [(GRACE_MS - 1, True), (GRACE_MS, True), (GRACE_MS + 1, False)])
def test_an_answer_counts_up_to_the_end_of_the_grace_and_a_later_one_hears_by_how_much(
    after_ms: int, counts: bool
) -> None:
    played = heat()
    played.at_ms = 24_000 + after_ms
    intent = Pass(step="first right", tiles=("1b", "1b", "2b"))
    if not counts:
        refusal = played.refused(EAST, intent)
        assert (refusal.code, refusal.late_ms) == ("late", after_ms)
        assert f"{after_ms} ms" in refusal.text
        return
    played.do(EAST, intent)
    answer = played.state.answers[EAST]
    assert answer is not None
    assert answer.spent_ms == 24_000, "the time charged is at most the length of the step"


def test_the_clock_does_nothing_before_the_grace_is_over() -> None:
    played = heat()
    played.wait(24_000 + GRACE_MS)
    assert played.state.step == "first right"
    played.wait(1)
    assert played.state.step == "first across"


@pytest.mark.parametrize("others_answer", [True, False])
def test_who_comes_after_the_clock_answered_hears_by_how_much_too(others_answer: bool) -> None:
    played = heat()
    for seat in (SOUTH, WEST, NORTH) if others_answer else ():
        played.answer(seat)
    played.wait(24_000 + 300)
    assert played.state.step == "first across"
    for more_ms, late_ms in ((100, 400), (59_600, 60_000)):
        played.wait(more_ms)
        for intent in (Pass(step="first right", tiles=("1b", "1b", "2b")), Lift(step="first right", tiles=("1b",))):
            refusal = played.refused(EAST, intent)
            assert (refusal.code, refusal.late_ms) == ("late", late_ms)


def test_only_the_seat_whose_time_is_up_is_answered_for() -> None:
    played = heat()
    played.wait(4_000)
    played.answer(SOUTH)
    played.wait(16_000)
    for seat in (EAST, WEST, NORTH):
        played.answer(seat)
    played.wait(14_000 + 4_000 + GRACE_MS + 1)
    answers = played.state.answers
    assert [answer.by if answer else None for answer in answers] == ["timeout", None, "timeout", "timeout"]
    assert played.state.owes[SOUTH]


# ---- the clocks


@pytest.mark.parametrize(("carry_over", "carried"), [(True, (23_000, 22_000, 21_000, 20_000)), (False, (0,) * 4)])
def test_what_a_seat_leaves_unused_is_added_to_its_next_step_where_the_host_wants_it(
    carry_over: bool, carried: tuple[int, ...]
) -> None:
    played = heat(carry_over=carry_over)
    for seat in SEATS:
        played.wait(1_000)
        played.answer(seat)
    clocks = played.state.clocks
    assert tuple(clock.carried_ms for clock in clocks) == carried
    assert tuple(clock.budget_ms for clock in clocks) == tuple(14_000 + ms for ms in carried)
    assert [answer.spent_ms for answer in played.state.done[0].answers if answer] == [1_000, 2_000, 3_000, 4_000]


def test_a_seat_that_is_not_asked_keeps_what_it_carries() -> None:
    played = heat(second="never", plan=True).go_to("courtesy offer")
    for seat, count in ((EAST, 0), (SOUTH, 1), (WEST, 0), (NORTH, 1)):
        played.do(seat, Offer(count=count))
    carried = played.state.carried_ms[EAST]
    assert carried > 0
    assert played.state.clocks[EAST].since_ms is None
    played.wait(1_000)
    played.answer_all()
    assert played.state.carried_ms[EAST] == carried


def test_a_clock_runs_only_while_its_seat_owes_an_answer() -> None:
    played = heat()
    played.wait(5_000)
    played.answer(EAST)
    played.wait(5_000)
    left = [clock.left(played.at_ms) for clock in played.state.clocks]
    assert left == [19_000, 14_000, 14_000, 14_000]


def test_a_pause_stops_every_clock_and_costs_nobody_time() -> None:
    played = heat()
    played.wait(5_000)
    played.answer(EAST)
    played.pause()
    played.wait(3_600_000)
    assert played.refused(SOUTH, Pass(step="first right", tiles=("1c", "1c", "2c"))).code == "paused"
    assert played.refused(SOUTH, Lift(step="first right", tiles=("1c",))).code == "paused"
    assert played.refused(SOUTH, Arrange(tiles=played.state.racks[SOUTH])).code == "paused"
    assert [clock.left(played.at_ms) for clock in played.state.clocks] == [19_000] * 4
    played.resume()
    played.wait(1_000)
    assert [clock.left(played.at_ms) for clock in played.state.clocks] == [19_000, 18_000, 18_000, 18_000]


def test_a_stall_of_the_machine_moves_the_running_deadlines_and_nothing_else() -> None:
    played = heat()
    played.answer(EAST)
    before = played.state.clocks
    played.at_ms += 10_000
    played.move_deadlines(10_000, "stall")
    assert played.state.clocks[EAST] == before[EAST]
    assert [clock.left(played.at_ms) for clock in played.state.clocks] == [24_000] * 4
    played.wait(24_000 + GRACE_MS)
    assert played.state.step == "first right"
    played.wait(1)
    assert played.state.step == "first across"


def test_the_host_can_give_more_time_to_those_who_still_decide_also_in_a_pause() -> None:
    played = heat()
    played.answer(EAST)
    played.move_deadlines(10_000, "host")
    played.pause()
    played.move_deadlines(5_000, "host")
    assert [clock.budget_ms for clock in played.state.clocks] == [24_000, 39_000, 39_000, 39_000]


# ---- refusals


def test_each_thing_that_a_seat_must_not_do_is_refused_with_a_reason_of_its_own_and_changes_nothing() -> None:
    played = heat()

    def code(*tiles: str) -> str:
        return played.refused(EAST, Pass.model_validate({"step": "first right", "tiles": tiles})).code

    codes = [
        code("1b", "2b"),
        code("1b", "2b", "3b", "4b"),
        code("1b", "2b", "5c"),
        code("2b", "2b", "3b"),
        code("1b", "2b", "J"),
        played.refused(EAST, Pass(step="first across", tiles=("1b", "2b", "3b"))).code,
    ]
    played.answer(EAST)
    codes.append(played.refused(EAST, Pass(step="first right", tiles=("4b", "5b", "6b"))).code)
    assert codes == ["too few", "too many", "not held", "too few copies", "joker", "out of turn", "already answered"]
    assert len(set(codes)) == len(codes)


def test_the_sentences_name_what_is_wrong() -> None:
    played = heat()

    def text(*tiles: str) -> str:
        return played.refused(EAST, Pass.model_validate({"step": "first right", "tiles": tiles})).text

    assert "5 crak" in text("1b", "2b", "5c")
    assert "1 of 2 bam, not 2" in text("2b", "2b", "3b")
    assert "3" in text("1b", "2b")
    assert "joker" in text("1b", "2b", "J")
    assert "first right" in played.refused(EAST, Pass(step="first left", tiles=())).text


@pytest.mark.parametrize("intent", [Vote(go_on=True), Offer(count=1), Plan(hand="", discards=())])
def test_an_answer_to_another_question_is_out_of_turn(intent: Vote | Offer | Plan) -> None:
    assert heat().refused(EAST, intent).code == "out of turn"


@pytest.mark.parametrize("step", ["go on", "courtesy offer", "plan"])
def test_an_empty_pass_is_no_answer_to_a_question(step: StepName) -> None:
    played = heat(plan=True).go_to(step)
    assert played.refused(EAST, Pass(step=step, tiles=())).code == "out of turn"


def test_more_than_three_tiles_are_not_even_lifted() -> None:
    played = heat().go_to("first left")
    rack = passable(played.state.racks[EAST])
    assert played.refused(EAST, Lift(step="first left", tiles=rack[:4])).code == "too many"
    assert played.refused(EAST, Lift(step="first left", tiles=rack[:2], blind=2)).code == "too many"
    assert played.refused(EAST, Lift(step="first left", tiles=("G",))).code == "not held"
    played.do(EAST, Lift(step="first left", tiles=rack[:2], blind=1))


def test_nothing_is_lifted_after_the_commit() -> None:
    played = heat()
    played.answer(EAST)
    assert played.refused(EAST, Lift(step="first right", tiles=("9b",))).code == "already answered"


def test_a_seat_lifts_and_arranges_a_thousand_times_a_step_and_no_more() -> None:
    """So that nobody can make a heat grow without end."""
    played = heat()
    rack = played.state.racks[EAST]
    for number in range(DRAFTS):
        played.do(EAST, Arrange(tiles=rack) if number % 2 else Lift(step="first right", tiles=rack[:1]))
    assert played.refused(EAST, Arrange(tiles=rack)).code == "too often"
    assert played.refused(EAST, Lift(step="first right", tiles=())).code == "too often"
    played.do(SOUTH, Lift(step="first right", tiles=()))
    played.answer_all()
    played.do(EAST, Arrange(tiles=played.state.racks[EAST]))


def test_a_seat_takes_back_twenty_answers_a_step_and_the_next_one_stands() -> None:
    played = heat(final_at="step end")
    for _ in range(TAKEN_BACK):
        played.answer(EAST)
        played.do(EAST, TakeBack(step="first right"))
    played.answer(EAST)
    assert played.refused(EAST, TakeBack(step="first right")).code == "too often"
    played.answer_all()
    played.answer(EAST)
    played.do(EAST, TakeBack(step="first across"))


def test_a_rack_is_arranged_only_into_an_order_of_its_own_tiles() -> None:
    played = heat()
    rack = played.state.racks[EAST]
    played.do(EAST, Arrange(tiles=rack[::-1]))
    assert played.state.racks[EAST] == rack[::-1]
    assert played.refused(EAST, Arrange(tiles=rack[:13])).code == "other tiles"
    assert played.refused(EAST, Arrange(tiles=("9d", *rack[1:]))).code == "other tiles"


def test_after_the_end_nothing_can_be_done() -> None:
    played = heat().play_out()
    assert played.refused(EAST, Arrange(tiles=played.state.racks[EAST])).code == "ended"
    assert played.refused(EAST, Pass(step="courtesy give", tiles=())).code == "out of turn"
    assert played.refused(EAST, Vote(go_on=True)).code == "out of turn"


# ---- taking an answer back


def test_a_committed_pass_is_final_unless_the_setting_says_at_the_steps_end() -> None:
    final = heat()
    final.answer(EAST)
    assert final.refused(EAST, TakeBack(step="first right")).code == "final"

    open_until_the_end = heat(final_at="step end")
    open_until_the_end.wait(2_000)
    open_until_the_end.answer(EAST)
    open_until_the_end.wait(3_000)
    open_until_the_end.do(EAST, TakeBack(step="first right"))
    state = open_until_the_end.state
    assert state.owes[EAST]
    assert state.drafts[EAST].tiles == ("1b", "1b", "2b")
    assert state.clocks[EAST].left(open_until_the_end.at_ms) == 22_000
    open_until_the_end.do(EAST, Pass(step="first right", tiles=("9b", "N", "N")))
    for seat in (SOUTH, WEST, NORTH):
        open_until_the_end.answer(seat)
    assert own_tiles(open_until_the_end.state.done[-1].answers[EAST]) == ("9b", "N", "N")


def test_what_was_not_committed_or_has_moved_cannot_be_taken_back() -> None:
    played = heat(final_at="step end")
    assert played.refused(EAST, TakeBack(step="first right")).code == "nothing to take back"
    played.answer_all()
    assert played.refused(EAST, TakeBack(step="first right")).code == "nothing to take back"
    assert played.refused(EAST, TakeBack(step="first across")).code == "nothing to take back"


def test_what_the_clock_answered_cannot_be_taken_back() -> None:
    played = heat(final_at="step end")
    played.wait(1_000)
    played.answer(SOUTH)
    played.wait(1_000)
    for seat in (EAST, WEST, NORTH):
        played.answer(seat)
    played.wait(36_000 + GRACE_MS + 1)
    answer = played.state.answers[EAST]
    assert answer is not None
    assert answer.by == "timeout"
    assert played.refused(EAST, TakeBack(step="first across")).code == "late"


def test_taking_back_never_makes_new_time() -> None:
    """Otherwise the grace could be had again and again, for as long as another seat thinks."""
    played = heat(final_at="step end")
    played.move_deadlines(100_000, "host")
    played.answer_all()
    played.wait(114_000 + 24_000 + GRACE_MS)
    played.answer(EAST)
    assert played.refused(EAST, TakeBack(step="first across")).code == "final"


# ---- tiles from the wall


def test_in_a_drill_the_incoming_tiles_are_random_ones_from_the_wall_without_jokers() -> None:
    played = heat(incoming="wall")
    before = played.state
    played.answer_all()
    moved = last_move(played)
    came = Counter(tile for tiles in moved.came for tile in tiles)
    sent = Counter(tile for tiles in moved.sent for tile in tiles)
    assert JOKER not in came
    assert not came - Counter(before.wall)
    assert Counter(played.state.wall) == Counter(before.wall) - came
    assert Counter(played.state.aside) == sent
    assert came != sent


@pytest.mark.parametrize("jokers", [0, 8])
def test_the_wall_is_long_enough_for_a_whole_drill_with_blind_passes(jokers: int) -> None:
    played = Heat(Settings(incoming="wall", jokers=jokers))
    free = len(passable(played.state.wall))
    assert free >= 91 >= 84, "99 tiles less 8 jokers; six passes and a courtesy of three for four seats take 84"
    while not played.state.over:
        step = played.state.step
        played.answer_all(blind=1 + Stream(b"", str(step)).below(3) if step in ("first left", "last right") else 0)
        assert every_tile(played.state) == Counter(full_set(jokers))
        assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
    assert len(passable(played.state.wall)) == free - 84


# ---- what lies ahead


def test_the_route_ahead_says_what_will_come_as_far_as_it_is_settled() -> None:
    played = heat()
    assert route(played.state)[-2:] == ("courtesy offer", "courtesy give")
    played.go_to("go on").answer_all(go_on=False)
    assert route(played.state) == (
        "first right", "first across", "first left", "go on", "courtesy offer", "courtesy give",
    )  # fmt: skip
    played.answer_all(count=0)
    assert route(played.state)[-1] == "courtesy offer"

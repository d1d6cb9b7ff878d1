"""The rules of the passing phase, one sentence a test.

Steps, directions, counts, the stop window and the rule that no joker is passed are common practice in the trade;
the encyclopedia article "American mahjong" (Wikipedia) and the American Mah Jongg Association's guide to the
Charleston describe them. Where guides differ the project plays by a setting, and the test names it.
"""

from collections import Counter
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.charleston import DRAFTS, TAKEN_BACK, open_heat, route, timeout_tiles
from shared.events import Agreed, Dealt, Decided, Moved, Passed, Voided
from shared.intents import Arrange, Lift, Offer, Pass, Plan, TakeBack, Vote
from shared.pace import GRACE_MS
from shared.seats import SEATS, Direction, Seat
from shared.settings import Settings
from shared.state import own_tiles, replay
from shared.steps import PASSES, STEPS, StepName
from shared.tiles import JOKER, KINDS, Rack, full_set
from shared.wall import Stream
from tests.heats import EAST, KEY, NORTH, SOUTH, WEST, Heat, every_tile, passable

FOUR_RACKS = (
    "1b 1b 2b 3b 4b 5b 6b 7b 8b 9b N N F J",
    "1c 1c 2c 3c 4c 5c 6c 7c 8c 9c E E F",
    "1d 1d 2d 3d 4d 5d 6d 7d 8d 9d S S F",
    "R R R G G G O O O W W F J",
)
LEVEL_MS = 100_000
"""At this level a step's share of the level is its length in seconds."""


def heat(**settings: Any) -> Heat:
    return Heat(Settings(level_ms=LEVEL_MS, **settings), racks=FOUR_RACKS)


def last_move(played: Heat) -> Moved:
    return next(event for event in reversed(played.events) if isinstance(event, Moved))


# ---- the deal


def test_east_is_dealt_fourteen_tiles_the_others_thirteen_and_ninety_nine_are_left() -> None:
    played = Heat()
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
    assert len(played.state.wall) == 99
    assert every_tile(played.state) == Counter(full_set())


def test_without_jokers_the_set_has_eight_tiles_less() -> None:
    played = Heat(Settings(jokers=0))
    assert len(played.state.wall) == 91
    assert JOKER not in every_tile(played.state)


def test_a_complete_hand_in_easts_deal_voids_the_heat_and_it_is_dealt_again() -> None:
    verdicts = iter([True, True, False])
    events = open_heat(Settings(), KEY, lambda rack: next(verdicts))
    deals = [event for event in events if isinstance(event, Dealt)]
    assert [event.kind for event in events] == ["dealt", "voided", "dealt", "voided", "dealt", "step began"]
    assert len({deal.racks for deal in deals}) == 3
    state = replay(Settings(), events)
    assert state.voids == 2
    assert state.racks == deals[-1].racks
    assert every_tile(state) == Counter(full_set())


def test_only_easts_fourteen_tiles_are_looked_at_for_a_complete_hand() -> None:
    seen: list[Rack] = []
    events = open_heat(Settings(), KEY, lambda rack: bool(seen.append(rack)))
    assert [len(rack) for rack in seen] == [14]
    assert not any(isinstance(event, Voided) for event in events)


# ---- the sequence


def test_the_whole_charleston_is_six_passes_with_the_question_between_and_the_courtesy_after() -> None:
    assert heat().play_out().steps() == [
        "first right", "first across", "first left", "go on",
        "second left", "second across", "last right", "courtesy offer", "courtesy give",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("step", "direction", "receivers"),
    [
        ("first right", Direction.RIGHT, (SOUTH, WEST, NORTH, EAST)),
        ("first across", Direction.ACROSS, (WEST, NORTH, EAST, SOUTH)),
        ("first left", Direction.LEFT, (NORTH, EAST, SOUTH, WEST)),
        ("second left", Direction.LEFT, (NORTH, EAST, SOUTH, WEST)),
        ("second across", Direction.ACROSS, (WEST, NORTH, EAST, SOUTH)),
        ("last right", Direction.RIGHT, (SOUTH, WEST, NORTH, EAST)),
        ("courtesy give", Direction.ACROSS, (WEST, NORTH, EAST, SOUTH)),
    ],
)
def test_each_pass_goes_in_its_direction_and_right_is_the_next_to_play(
    step: StepName, direction: Direction, receivers: tuple[Seat, ...]
) -> None:
    played = heat().go_to(step)
    given = [passable(played.state.racks[seat])[:3] for seat in SEATS]
    played.answer_all()
    assert STEPS[step].direction == direction
    for seat, receiver in zip(SEATS, receivers, strict=True):
        assert Counter(played.state.done[-1].came[receiver]) == Counter(given[seat])
        assert Counter(given[seat]) <= Counter(played.state.racks[receiver])


@pytest.mark.parametrize("step", PASSES)
def test_each_of_the_six_passes_takes_exactly_three_tiles_and_brings_three(step: StepName) -> None:
    played = heat().go_to(step)
    before = played.state.racks
    played.answer_all()
    moved = last_move(played)
    for seat in SEATS:
        assert (len(moved.sent[seat]), len(moved.came[seat])) == (3, 3)
        expected = Counter(before[seat]) - Counter(moved.sent[seat]) + Counter(moved.came[seat])
        assert Counter(played.state.racks[seat]) == expected


@pytest.mark.parametrize("step", PASSES)
def test_no_pass_can_be_declined(step: StepName) -> None:
    played = heat().go_to(step)
    assert played.refused(EAST, Pass(step=step, tiles=())).code == "too few"


def test_what_comes_in_lies_at_the_right_of_the_rack_and_the_rest_keeps_its_order() -> None:
    played = heat()
    kept = played.state.racks[EAST][3:]
    played.answer_all()
    assert played.state.racks[EAST] == (*kept, *played.state.done[-1].came[EAST])
    assert played.state.fresh[EAST] == played.state.done[-1].came[EAST]


def test_the_table_waits_for_the_slowest() -> None:
    played = heat()
    for seat in (NORTH, EAST, WEST):
        played.answer(seat)
        assert played.state.step == "first right"
    played.answer(SOUTH)
    assert played.state.step == "first across"


def test_twenty_one_tiles_leave_a_rack_at_most() -> None:
    played = heat().play_out()
    for seat in SEATS:
        assert sum(len(done.sent[seat]) for done in played.state.done) == 21


# ---- go on, or stop


def test_the_question_comes_when_the_tiles_of_first_left_are_in_the_racks() -> None:
    played = heat().go_to("first left")
    for seat in (EAST, SOUTH, WEST):
        played.answer(seat)
    assert played.refused(EAST, Vote(go_on=False)).code == "out of turn"
    played.answer(NORTH)
    assert played.state.step == "go on"
    assert all(played.state.done[-1].came)
    played.do(EAST, Vote(go_on=False))


@pytest.mark.parametrize("votes", list(product([True, False], repeat=4)))
def test_any_seat_that_stops_ends_it_and_four_that_go_on_go_on(votes: tuple[bool, ...]) -> None:
    played = heat().go_to("go on")
    for seat in SEATS:
        played.do(seat, Vote(go_on=votes[seat]))
    assert played.state.stopped is not all(votes)
    assert played.state.step == ("second left" if all(votes) else "courtesy offer")
    decided = next(event for event in played.events if isinstance(event, Decided))
    assert decided.go_on is all(votes)


def test_the_window_is_open_until_all_seats_have_answered() -> None:
    played = heat().go_to("go on")
    played.do(EAST, Vote(go_on=False))
    played.do(SOUTH, Vote(go_on=True))
    assert played.state.step == "go on"
    assert not played.state.stopped
    played.do(WEST, Vote(go_on=True))
    played.do(NORTH, Vote(go_on=True))
    assert played.refused(NORTH, Vote(go_on=False)).code == "out of turn"


def test_no_answer_in_time_means_go_on() -> None:
    played = heat().go_to("go on")
    played.wait_out()
    assert played.state.step == "second left"
    assert {answer.by for answer in played.state.done[-1].answers if answer} == {"timeout"}


def test_once_begun_the_second_charleston_cannot_be_stopped() -> None:
    for step in ("second left", "second across", "last right"):
        played = heat().go_to(step)
        assert played.refused(WEST, Vote(go_on=False)).code == "out of turn"


def test_after_a_stop_the_courtesy_is_still_played() -> None:
    played = heat().go_to("go on")
    played.answer_all(go_on=False)
    played.play_out()
    assert played.steps()[4:] == ["courtesy offer", "courtesy give"]


@pytest.mark.parametrize(
    ("second", "asked", "played_on"), [("offered", True, True), ("always", False, True), ("never", False, False)]
)
def test_the_second_charleston_is_offered_always_or_never_played(second: str, asked: bool, played_on: bool) -> None:
    steps = heat(second=second).play_out().steps()
    assert ("go on" in steps) is asked
    assert [step in steps for step in ("second left", "second across", "last right")] == [played_on] * 3
    assert steps[-2:] == ["courtesy offer", "courtesy give"]


# ---- courtesy


def test_of_two_opposite_numbers_the_smaller_counts_and_the_pairs_are_independent() -> None:
    for offers in product(range(4), repeat=4):
        played = heat(second="never").go_to("courtesy offer")
        for seat in SEATS:
            played.do(seat, Offer(count=offers[seat]))
        agreed = next(event for event in played.events if isinstance(event, Agreed))
        east_west, south_north = min(offers[0], offers[2]), min(offers[1], offers[3])
        assert agreed.counts == (east_west, south_north, east_west, south_north)
        assert played.state.over is not any(agreed.counts)
        if any(agreed.counts):
            assert [played.state.owes[seat] for seat in SEATS] == [count > 0 for count in agreed.counts]
            played.answer_all()
            moved = last_move(played)
            assert [len(tiles) for tiles in moved.sent] == list(agreed.counts)
            assert [len(tiles) for tiles in moved.came] == list(agreed.counts)
        assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]


def test_three_meets_none_and_no_tile_moves_and_two_meets_three_and_two_move_each_way() -> None:
    played = heat(second="never").go_to("courtesy offer")
    for seat, count in ((EAST, 3), (SOUTH, 2), (WEST, 0), (NORTH, 3)):
        played.do(seat, Offer(count=count))
    before = played.state.racks
    assert played.refused(EAST, Pass(step="courtesy give", tiles=before[EAST][:1])).code == "out of turn"
    assert played.refused(SOUTH, Pass(step="courtesy give", tiles=passable(before[SOUTH])[:3])).code == "too many"
    assert played.refused(SOUTH, Pass(step="courtesy give", tiles=before[SOUTH][:1])).code == "too few"
    south, north = before[SOUTH][:2], before[NORTH][:2]
    played.do(SOUTH, Pass(step="courtesy give", tiles=south))
    played.do(NORTH, Pass(step="courtesy give", tiles=north))
    assert played.state.racks[EAST] == before[EAST]
    assert played.state.racks[WEST] == before[WEST]
    assert played.state.done[-1].came[NORTH] == tuple(sorted(south, key=KINDS.index))
    assert played.state.done[-1].came[SOUTH] == tuple(sorted(north, key=KINDS.index))


def test_a_seat_that_names_no_number_in_time_offers_none() -> None:
    played = heat(second="never").go_to("courtesy offer")
    played.do(EAST, Offer(count=3))
    played.wait_out()
    assert played.state.over
    assert not any(played.state.agreed)


def test_without_courtesy_the_heat_ends_with_the_last_pass() -> None:
    assert heat(courtesy=False).play_out().steps()[-1] == "last right"
    assert heat(courtesy=False, second="never").play_out().steps()[-1] == "first left"


# ---- the plan


def test_the_plan_step_asks_for_a_hand_and_discards_from_the_rack_after_everything_else() -> None:
    played = heat(plan=True, plan_ms=20_000).go_to("plan")
    rack = played.state.racks[EAST]
    assert not any(clock.carried_ms for clock in played.state.clocks)
    assert {clock.budget_ms for clock in played.state.clocks} == {20_000}
    absent = next(tile for tile in KINDS if tile not in rack)
    assert played.refused(EAST, Plan(hand="a hand", discards=(absent,))).code == "no such discard"
    played.do(EAST, Plan(hand="a hand", discards=rack[:3]))
    for seat in (SOUTH, WEST):
        played.answer(seat)
    assert not played.state.over
    played.wait_out()
    assert played.state.over
    assert played.state.done[-1].step == "plan"
    assert [answer.by for answer in played.state.done[-1].answers if answer] == ["person"] * 3 + ["timeout"]


def test_no_plan_is_asked_for_unless_the_host_wants_it() -> None:
    assert "plan" not in heat().play_out().steps()


# ---- jokers


@pytest.mark.parametrize("step", [*PASSES, "courtesy give"])
def test_no_joker_is_ever_passed_nor_lifted_in_any_step(step: StepName) -> None:
    played = heat().go_to(step)
    rack = played.state.racks[EAST]
    assert JOKER in rack
    tiles = (JOKER, *passable(rack)[:2])
    assert played.refused(EAST, Pass(step=step, tiles=tiles)).code == "joker"
    assert played.refused(EAST, Lift(step=step, tiles=(JOKER,))).code == "joker"


def test_no_joker_is_among_a_blind_passes_own_tiles() -> None:
    played = heat().go_to("first left")
    assert played.refused(EAST, Pass(step="first left", tiles=(JOKER,), blind=2)).code == "joker"


def test_with_eight_jokers_in_thirteen_tiles_three_can_always_be_passed() -> None:
    """Thirteen tiles with all eight jokers leave five; so every rack can always give three."""
    racks = ("1b 1b 2b 3b 4b 5b 6b 7b 8b 9b N N F F", "J J J J J J J J 1c 2c 3c 4c 5c", *FOUR_RACKS[2:3])
    played = Heat(racks=(*racks, "R R R G G G O O O W W F W"))
    free = passable(played.state.racks[SOUTH])
    assert len(free) == 5
    played.do(SOUTH, Pass(step="first right", tiles=free[:3]))


@given(st.permutations(full_set()), st.integers(0, 2), st.integers(0, 3))
def test_the_clock_finds_three_tiles_in_any_rack_whatever_was_lifted(wall: Rack, lifted: int, count: int) -> None:
    rack = wall[:13]
    draft = passable(rack)[:lifted]
    tiles = timeout_tiles(tuple(rack), tuple(draft), count)
    assert len(tiles) == count
    assert JOKER not in tiles
    assert not Counter(tiles) - Counter(rack)


def test_flowers_and_pairs_may_be_passed() -> None:
    played = heat()
    played.do(EAST, Pass(step="first right", tiles=("F", "1b", "1b")))
    played.do(NORTH, Pass(step="first right", tiles=("R", "R", "R")))


# ---- blind passes


def blind_heat(**blind: int) -> Heat:
    """Return a heat in which first left was passed with so many blind tiles by each seat."""
    played = heat().go_to("first left")
    for seat in SEATS:
        played.answer(seat, blind=blind.get(seat.word, 0))
    return played


@pytest.mark.parametrize("step", [step for step in STEPS if STEPS[step].ask in ("pass", "give")])
def test_a_blind_pass_is_allowed_at_first_left_and_last_right_only(step: StepName) -> None:
    played = heat().go_to(step)
    intent = Pass(step=step, tiles=played.state.racks[SOUTH][:2], blind=1)
    if step in ("first left", "last right"):
        played.do(SOUTH, intent)
    else:
        assert played.refused(SOUTH, intent).code == "no blind here"
        assert played.refused(SOUTH, Lift(step=step, tiles=(), blind=1)).code == "no blind here"


def test_without_blind_passes_none_is_allowed_anywhere() -> None:
    played = heat(blind=False).go_to("first left")
    tiles = played.state.racks[SOUTH][:2]
    assert played.refused(SOUTH, Pass(step="first left", tiles=tiles, blind=1)).code == "no blind here"


@pytest.mark.parametrize(("own", "blind", "code"), [(3, 1, "too many"), (1, 1, "too few"), (1, 3, "too many")])
def test_own_and_blind_tiles_together_are_three(own: int, blind: int, code: str) -> None:
    played = heat().go_to("first left")
    tiles = passable(played.state.racks[SOUTH])[:own]
    assert played.refused(SOUTH, Pass(step="first left", tiles=tiles, blind=blind)).code == code


@pytest.mark.parametrize("blind", [1, 2, 3])
def test_one_blind_seat_forwards_so_many_of_the_tiles_that_come_to_it_and_keeps_the_rest(blind: int) -> None:
    played = blind_heat(south=blind)
    moved = last_move(played)
    feeder, receiver = SOUTH.feeder(Direction.LEFT), SOUTH.to(Direction.LEFT)
    assert (feeder, receiver) == (WEST, EAST)
    forwarded = moved.sent[SOUTH][3 - blind :]
    assert len(forwarded) == blind
    assert Counter(moved.sent[WEST]) == Counter(forwarded) + Counter(moved.came[SOUTH])
    assert Counter(moved.came[EAST]) == Counter(moved.sent[SOUTH])
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]


def test_any_number_of_seats_may_pass_blind_at_once() -> None:
    for blind in product(range(4), repeat=4):
        played = blind_heat(**{seat.word: blind[seat] for seat in SEATS})
        moved = last_move(played)
        if blind == (3, 3, 3, 3):
            assert moved.sent == moved.came == ((), (), (), ())
            assert not any(played.state.fresh)
        else:
            assert [len(sent) for sent in moved.sent] == [3, 3, 3, 3]
            assert [len(came) for came in moved.came] == [3 - b for b in blind]
        for seat in SEATS:
            received = Counter(moved.sent[seat.feeder(Direction.LEFT)])
            assert received == Counter(moved.came[seat]) + Counter(moved.sent[seat][3 - blind[seat] :])
        assert not any(JOKER in tiles for tiles in (*moved.sent, *moved.came))
        assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
        assert every_tile(played.state) == Counter(full_set())


def test_a_blind_seat_passes_on_what_a_timeout_passed() -> None:
    played = heat().go_to("first left")
    rack = played.state.racks[WEST]
    played.answer(SOUTH, blind=2)
    played.answer(EAST)
    played.answer(NORTH)
    played.wait_out()
    moved = last_move(played)
    assert Counter(moved.sent[WEST]) == Counter(passable(rack)[-3:])
    assert not Counter(moved.sent[SOUTH][1:]) - Counter(moved.sent[WEST])


def test_a_blind_mark_that_was_not_committed_is_not_passed_by_the_clock() -> None:
    played = heat().go_to("first left")
    played.do(EAST, Lift(step="first left", tiles=played.state.racks[EAST][:1], blind=2))
    lifted = played.state.racks[EAST][:1]
    for seat in (SOUTH, WEST, NORTH):
        played.answer(seat)
    played.wait_out()
    answer = played.state.done[-1].answers[EAST]
    assert isinstance(answer, Passed)
    assert answer.blind == 0
    assert len(answer.tiles) == 3
    assert answer.tiles[:1] == lifted


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
    played.wait(100)
    for intent in (Pass(step="first right", tiles=("1b", "1b", "2b")), Lift(step="first right", tiles=("1b",))):
        refusal = played.refused(EAST, intent)
        assert (refusal.code, refusal.late_ms) == ("late", 400)


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

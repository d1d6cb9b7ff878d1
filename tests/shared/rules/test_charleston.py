"""The rules of the passing phase, one sentence a test.

Steps, directions, counts, the stop window and the rule that no joker is passed are common practice in the trade;
the encyclopedia article "American mahjong" (Wikipedia) and the American Mah Jongg Association's guide to the
Charleston describe them. Where guides differ the project plays by a setting, and the test names it.
"""

from collections import Counter
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rules.charleston import open_heat, timeout_tiles
from shared.rules.events import Agreed, Dealt, Decided, Passed, Voided
from shared.rules.intents import Lift, Offer, Pass, Plan, Vote
from shared.rules.seats import SEATS, Direction, Seat
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import JOKER, KINDS, Rack, full_set
from tests.heats import EAST, KEY, NORTH, SOUTH, WEST, Heat, every_tile, passable
from tests.shared.four_racks import FOUR_RACKS, heat, last_move

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
    played = heat(side_courtesy=True).go_to(step)
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

"""The table as one synchronous value: chairs, hosts, heats, promises."""

import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from server import bots
from server.chairs import EMPTY, TableRecord
from server.output import Joined, Rejected
from server.table import Table
from shared.events import ClocksStopped, Passed, RackArranged
from shared.heat import HEAT, chair_of, faults, final_state
from shared.intents import (
    Arrange,
    ChangeSettings,
    Extend,
    FreeChair,
    Intent,
    Leave,
    Lift,
    NewSet,
    NotReady,
    Offer,
    Pass,
    Pause,
    Ready,
    Resume,
    SeatBot,
    Start,
    TakeSeat,
    Vote,
)
from shared.messages import TO_CLIENT, Close, Done, HeatFile, OwnHeat, Refused
from shared.names import NAME_CELLS, cell_width
from shared.pace import GRACE_MS
from shared.settings import Settings
from shared.state import replay
from shared.steps import STEPS
from shared.tiles import JOKER
from shared.wall import commitment, seeded_secret, wall_key
from tests.tables import QUICK, Evening

READY = Ready(contribution=b"sixteen bytes ok")
STEPS_OF_A_HEAT = [step for step in STEPS if step != "plan"]


def never(card: str, rack: Any) -> bool:
    return False


def slow(**settings: Any) -> Settings:
    """Bots that answer late, so that people can be watched alone."""
    return Settings(level_ms=100_000, bot_pace="slow", **settings)


# ---- coming in


def test_people_take_the_chairs_in_turn_and_the_first_is_the_host() -> None:
    evening = Evening(people=0)
    assert [evening.join(name) for name in ("Ann", "Bo", "Cy", "Di")] == [0, 1, 2, 3]
    assert [evening.view(chair).host for chair in range(4)] == [True, False, False, False]
    assert [evening.view(chair).code for chair in range(4)] == ["tern-12", "", "", ""]
    assert [chair.name for chair in evening.view().chairs] == ["Ann", "Bo", "Cy", "Di"]


def test_a_fifth_person_finds_no_chair() -> None:
    answer = Evening(people=4).knock("Ed")
    assert isinstance(answer, Rejected)
    assert answer.close == Close.TABLE_FULL


def test_a_newcomer_takes_an_empty_chair_before_a_bots_and_then_the_bots() -> None:
    evening = Evening(people=1)
    evening.do(0, SeatBot(chair=1))
    assert [evening.join("Bo"), evening.join("Cy"), evening.join("Di")] == [2, 3, 1]


def test_names_are_cleaned_told_apart_and_never_too_wide() -> None:
    evening = Evening(people=0)
    for name in ("Ann\x1b[2J\u202e", "Ann[2J", "漢字漢字漢字漢字", "漢字漢字漢字漢字"):
        evening.join(name)
    names = [chair.name for chair in evening.view().chairs]
    assert names[0] == "Ann[2J"
    assert len(set(names)) == 4
    assert all(sum(map(cell_width, name)) <= NAME_CELLS for name in names)
    assert Evening(people=0).join("\x00\u200b") == 0


def test_a_token_opens_its_own_chair_again_and_is_stored_hashed_only() -> None:
    evening = Evening(people=3)
    token = evening.tokens[1]
    assert len(token) == 16
    assert token not in repr(evening.table.record).encode()
    assert repr(token)[2:-1] not in repr(evening.table.record)
    evening.take(evening.table.disconnected(1))
    assert not evening.view().chairs[1].connected
    answer = evening.knock("Somebody else", token)
    assert isinstance(answer, Joined)
    assert (answer.chair, answer.token) == (1, token)
    assert evening.view().chairs[1].name == "Person 2"
    assert evening.view().chairs[1].connected


def test_an_unknown_token_opens_nobodys_chair() -> None:
    evening = Evening(people=1)
    assert evening.join("Bo", b"\0" * 16) == 1
    assert evening.join("Bo", b"\0" * 16) == 1, "and is the new chair's from then on"
    full = Evening(people=4)
    assert isinstance(full.knock("Ed", b"\0" * 16), Rejected)


def test_the_same_token_from_another_line_is_the_same_seat_with_everything_as_it_was() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    evening.do(1, Lift(step="first right", tiles=evening.heat(1).rack[-2:-1]))
    before = evening.view(1)
    evening.join("", evening.tokens[1])
    assert evening.view(1).model_copy(update={"revision": before.revision}) == before


# ---- ready, and the start


def test_the_heat_starts_when_every_person_is_ready_and_bots_fill_the_other_chairs() -> None:
    evening = Evening(people=2)
    evening.do(0, READY)
    assert evening.view().phase == "seating"
    assert evening.view().chairs[0].ready
    evening.do(1, READY)
    assert evening.view().phase == "heat"
    assert [chair.sitter for chair in evening.view().chairs] == ["person", "person", "bot", "bot"]
    assert not any(chair.ready for chair in evening.view().chairs)
    names = [chair.name for chair in evening.view().chairs]
    assert len(set(names)) == 4
    assert set(names[2:]) <= set(bots.BIRDS)


def test_ready_can_be_taken_back_and_never_starts_anything_then() -> None:
    evening = Evening(people=2)
    evening.do(0, READY)
    evening.do(0, NotReady())
    evening.do(1, READY)
    assert evening.view().phase == "seating"
    alone = Evening(people=1)
    alone.do(0, SeatBot(chair=0))
    alone.do(0, NotReady())
    assert alone.view().phase == "seating"


def test_the_host_can_start_without_waiting() -> None:
    evening = Evening(people=3)
    evening.do(0, Start())
    assert evening.view().phase == "heat"


def test_every_contribution_goes_into_the_wall_of_its_chair_and_the_commitment_was_shown_before() -> None:
    evening = Evening(people=3)
    shown = evening.view(2).commitment
    heat = None
    for chair in range(3):
        assert evening.view(chair).commitment == shown
        evening.do(chair, Ready(contribution=bytes([65 + chair]) * 16))
    heat = evening.play_heat()
    assert heat.contributions == (b"A" * 16, b"B" * 16, b"C" * 16, b"")
    assert heat.commitment == shown == commitment(heat.secret)
    assert faults(heat, never) == ()


def test_a_new_heat_has_a_new_secret_and_new_settings_too() -> None:
    evening = Evening(people=1)
    first = evening.view().commitment
    evening.do(0, ChangeSettings(settings=QUICK))
    second = evening.view().commitment
    evening.play_heat()
    assert len({first, second, evening.view().commitment}) == 3
    assert evening.finished[0].commitment == second


def test_new_settings_ask_everybody_to_be_ready_again() -> None:
    evening = Evening(people=2)
    evening.do(1, READY)
    evening.do(0, ChangeSettings(settings=QUICK))
    assert not evening.view().chairs[1].ready


def test_settings_changed_during_a_heat_count_from_the_next_one_on() -> None:
    evening = Evening(people=1)
    evening.ready()
    evening.do(0, ChangeSettings(settings=QUICK.model_copy(update={"courtesy": False})))
    assert "courtesy offer" in [step.step for step in evening.heat().route]
    assert evening.play_heat().settings == QUICK
    assert not evening.play_heat().settings.courtesy


# ---- only the host


HOSTS: list[Intent] = [
    Start(), Pause(), Resume(), Extend(by_ms=5_000), NewSet(), ChangeSettings(settings=QUICK),
    SeatBot(chair=0), FreeChair(chair=0),
]  # fmt: skip


@pytest.mark.parametrize("intent", HOSTS)
def test_only_the_host_can_do_what_changes_the_table_for_all(intent: Intent) -> None:
    evening = Evening(people=2)
    assert evening.refused(1, intent) == "host only"
    evening.ready()
    assert evening.refused(1, intent) == "host only"


def test_when_the_host_leaves_another_person_is_host() -> None:
    evening = Evening(people=3)
    evening.do(0, Leave())
    assert evening.closed == [(0, Close.TABLE_CLOSED)]
    assert [evening.view(chair).host for chair in (1, 2)] == [True, False]
    assert evening.table.record.chairs[0].sitter == "nobody"
    evening.ready()
    evening.do(1, Leave())
    assert evening.view(2).host
    evening.do(2, Pause())


def test_when_everybody_left_the_next_who_comes_is_host() -> None:
    evening = Evening(people=2)
    evening.do(1, Leave())
    evening.do(0, Leave())
    assert evening.join("Cy") == 0
    assert evening.view(0).host


def test_while_the_hosts_line_is_down_another_can_keep_the_table_and_the_host_comes_back() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.take(evening.table.disconnected(0))
    evening.do(1, Pause())
    evening.join("", evening.tokens[0])
    assert evening.view(0).host
    assert not evening.view(1).host


def test_a_host_who_was_sent_away_meanwhile_does_not_make_a_newcomer_host() -> None:
    evening = Evening(people=2)
    evening.take(evening.table.disconnected(0))
    evening.do(1, FreeChair(chair=0))
    assert evening.join("Cy") == 0
    assert evening.view(1).host
    assert not evening.view(0).host


@pytest.mark.parametrize(
    ("phase", "intent"),
    [
        ("seating", Pause()), ("seating", Resume()), ("seating", Extend(by_ms=1_000)), ("seating", NewSet()),
        ("heat", READY), ("heat", NotReady()), ("heat", Start()), ("heat", NewSet()), ("heat", Resume()),
        ("heat", TakeSeat()), ("between", Pause()), ("over", READY), ("over", Start()), ("seating", TakeSeat()),
    ],
)  # fmt: skip
def test_what_makes_no_sense_now_is_refused(phase: str, intent: Intent) -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 1 if phase == "over" else 2}), people=1)
    if phase == "heat":
        evening.ready()
    elif phase in ("between", "over"):
        evening.play_heat()
    assert evening.view().phase == phase
    assert evening.refused(0, intent) == "not now"


def test_chairs_that_cannot_be_freed_or_given_to_a_bot() -> None:
    evening = Evening(people=1)
    assert evening.refused(0, FreeChair(chair=0)) == "no such chair"
    assert evening.refused(0, FreeChair(chair=2)) == "no such chair"
    evening.do(0, SeatBot(chair=2))
    assert evening.refused(0, SeatBot(chair=2)) == "not now"
    evening.do(0, FreeChair(chair=2))
    assert evening.table.record.chairs[2] == EMPTY


def test_a_seat_intent_without_a_heat_or_for_another_heat_is_refused() -> None:
    evening = Evening(people=1)
    assert evening.refused(0, Vote(go_on=True)) == "other heat"
    evening.play_heat()
    evening.ready()
    answer = evening.ask(0, Arrange(tiles=evening.heat().rack), heat=7)
    assert isinstance(answer, Refused)
    assert answer.code == "other heat"


# ---- people and bots change places


@pytest.mark.parametrize("step", STEPS_OF_A_HEAT)
def test_a_person_who_leaves_is_played_by_a_bot_from_that_step_on_and_can_come_back(step: str) -> None:
    evening = Evening(people=2, seed=3)
    evening.ready()
    evening.go_to(step)
    evening.do(1, Leave())
    assert evening.view(0).chairs[1].sitter == "bot"
    evening.people_answer()
    evening.wait(100_000)
    evening.join("Person 2", evening.tokens[1])
    assert evening.table.record.chairs[1].is_present
    heat = evening.finished[0] if evening.finished else evening.play_heat()
    assert faults(heat, never) == ()
    by = {event.by for event in heat.events if isinstance(event, Passed) and chair_of_event(heat, event) == 1}
    assert "bot" in by or step == "courtesy give"


def chair_of_event(heat: Any, event: Any) -> int:
    return chair_of(event.seat, heat.east)


@pytest.mark.parametrize("step", STEPS_OF_A_HEAT)
def test_a_newcomer_takes_a_bots_seat_over_at_any_step(step: str) -> None:
    evening = Evening(slow(), people=1, seed=3)
    evening.ready()
    evening.go_to(step)
    chair = evening.join("Bo")
    assert evening.view(chair).chairs[chair].sitter == "person"
    rack = evening.heat(chair).rack
    assert len(rack) in (13, 14)
    if evening.heat(chair).owes:
        evening.answer(chair)
    assert faults(evening.play_heat(), never) == ()


@pytest.mark.parametrize("step", STEPS_OF_A_HEAT)
def test_the_host_lets_a_bot_stand_in_for_a_person_who_takes_the_seat_back(step: str) -> None:
    evening = Evening(slow(), people=2, seed=3)
    evening.ready()
    evening.go_to(step)
    evening.do(0, SeatBot(chair=1))
    assert evening.view(0).chairs[1].sitter == "bot"
    assert evening.refused(1, Arrange(tiles=evening.heat(1).rack)) == "out of turn"
    evening.do(1, TakeSeat())
    evening.do(1, Arrange(tiles=evening.heat(1).rack[::-1]))
    heat = evening.play_heat()
    assert faults(heat, never) == ()
    answers = [event for event in heat.events if isinstance(event, Passed) and chair_of_event(heat, event) == 1]
    assert {event.by for event in answers} == {"person"}, "the bot's turn was dropped in time"


def test_whoever_is_sent_away_loses_the_chair_and_the_token_and_a_bot_plays_on() -> None:
    evening = Evening(people=2)
    evening.ready()
    token = evening.tokens[1]
    evening.do(0, FreeChair(chair=1))
    assert evening.closed == [(1, Close.SENT_AWAY)]
    assert evening.view(0).chairs[1].sitter == "bot"
    assert evening.join("Bo") == 1, "a newcomer takes the first bot's chair"
    assert evening.join("Person 2", token) == 2, "and who was sent away is a newcomer too"


def test_who_left_during_a_heat_has_no_chair_after_it() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.do(1, Leave())
    evening.play_heat()
    assert evening.table.record.chairs[1].sitter == "nobody"


def test_a_person_whose_line_is_down_stays_and_the_clock_answers() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.take(evening.table.disconnected(1))
    evening.answer(0)
    evening.wait(24_000 + GRACE_MS)
    assert evening.heat(1).owes
    evening.wait(1)
    assert evening.heat(1).route[0].by == "timeout"
    assert evening.view(0).chairs[1].sitter == "person"


# ---- clocks at the table


@pytest.mark.parametrize(("after_ms", "counts"), [(-1, True), (0, True), (1, False)])
def test_a_commit_counts_if_it_was_read_by_the_deadline_and_its_grace(after_ms: int, counts: bool) -> None:
    evening = Evening(people=1)
    evening.ready()
    own = evening.heat().rack
    tiles = tuple(tile for tile in own if tile != JOKER)[:3]
    evening.now_ms += 24_000 + GRACE_MS + after_ms
    answer = evening.ask(0, Pass(step="first right", tiles=tiles))
    assert isinstance(answer, Done) is counts
    if isinstance(answer, Refused):
        assert (answer.code, answer.late_ms) == ("late", GRACE_MS + after_ms)


def test_who_is_too_late_for_the_last_step_of_all_hears_by_how_much() -> None:
    evening = Evening(QUICK.model_copy(update={"second": "never"}), people=4)
    evening.ready()
    evening.go_to("courtesy offer")
    for chair in range(4):
        evening.do(chair, Offer(count=1))
    tiles = tuple(tile for tile in evening.heat(2).rack if tile != JOKER)[:1]
    deadline_ms = evening.heat(2).clock.left_ms
    evening.wait(deadline_ms + 300)
    assert evening.finished
    answer = evening.ask(2, Pass(step="courtesy give", tiles=tiles))
    assert isinstance(answer, Refused)
    assert (answer.code, answer.late_ms) == ("late", 300)


def test_a_pause_stops_people_and_bots_and_neither_loses_time() -> None:
    evening = Evening(people=1)
    evening.ready()
    evening.wait(1_000)
    left = evening.heat().clock.left_ms
    evening.do(0, Pause())
    assert evening.refused(0, Pause()) == "not now"
    evening.wait(3_600_000)
    assert evening.heat().paused
    assert evening.heat().clock.left_ms == left
    assert not any(seat.answered for seat in evening.heat().seats)
    assert evening.table.next_deadline_ms() is None
    evening.do(0, Resume())
    evening.wait(800)
    assert not any(seat.answered for seat in evening.heat().seats), "a bot takes two seconds at least, one had gone"
    evening.answer(0)
    evening.wait(24_000)
    assert [answer.by for answer in evening.heat().route[:1]] == ["person"]
    finished = evening.play_heat()
    bots_by = {event.by for event in finished.events if isinstance(event, Passed) and event.seat != 0}
    assert bots_by == {"bot"}


def test_a_bot_that_takes_a_seat_during_a_pause_begins_when_the_clocks_run_again() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.do(0, Pause())
    evening.wait(600_000)
    evening.do(0, SeatBot(chair=1))
    assert evening.heat(1).rack == (), "covered for people, not for the bird that takes over"
    evening.wait(600_000)
    evening.do(0, Resume())
    evening.answer(0)
    evening.wait(24_000)
    assert evening.heat(1).route[0].by == "bot"


def test_a_bot_that_takes_a_seat_over_late_still_answers_before_the_clock() -> None:
    evening = Evening(slow(carry_over=False), people=2)
    evening.ready()
    evening.answer(0)
    evening.wait(23_000)
    evening.do(1, Leave())
    evening.wait(1_000)
    assert evening.heat(1).route[0].by == "bot"


def test_a_stall_is_given_back_and_written_down() -> None:
    evening = Evening(slow(), people=1)
    evening.ready()
    evening.wait(1_000)
    left = evening.heat().clock.left_ms
    evening.now_ms += 7_000
    evening.take(evening.table.stalled(7_000, evening.now_ms))
    assert evening.heat().clock.left_ms == left
    moved = [event for event in evening.events[1] if event.kind == "deadlines moved"]
    assert [event.model_dump() for event in moved] == [{"kind": "deadlines moved", "by_ms": 7_000, "why": "stall"}]
    assert not evening.table.stalled(7_000, evening.now_ms + 1).thoughts


def test_no_stall_is_given_back_while_no_clock_runs() -> None:
    evening = Evening(people=1)
    assert not evening.table.stalled(5_000, evening.now_ms).events
    evening.ready()
    evening.do(0, Pause())
    assert not evening.table.stalled(5_000, evening.now_ms).events


def test_the_host_gives_more_time_to_those_who_still_decide() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    evening.answer(0)
    before = [evening.heat(chair).clock.left_ms for chair in (0, 1)]
    evening.do(0, Extend(by_ms=30_000))
    assert [evening.heat(chair).clock.left_ms for chair in (0, 1)] == [before[0], before[1] + 30_000]


def test_a_bot_whose_answer_the_rules_refuse_is_answered_for_by_the_clock_and_stops_nothing() -> None:
    def wrong(view: Any, stream: Any) -> Any:
        return Pass(step="first right", tiles=("J", "J", "J"))

    evening = Evening(people=1, think=wrong)
    evening.ready()
    evening.answer(0)
    evening.wait(24_000)
    assert evening.table.next_deadline_ms() > evening.now_ms, "nothing is tried again and again"  # type: ignore[operator]
    evening.wait(GRACE_MS + 1)
    assert evening.heat().step == "first across"


# ---- each command counts exactly once


def test_a_command_sent_twice_is_answered_twice_and_done_once() -> None:
    evening = Evening(slow(), people=1)
    evening.ready()
    evening.answer(0)
    events, id = list(evening.events[1]), evening.ids[0]
    again = evening.ask(0, Vote(go_on=False), id=id)
    assert again == Done(id=id)
    assert evening.events[1] == events


def test_every_command_of_a_set_sent_again_at_any_later_moment_changes_nothing() -> None:
    evening = Evening(slow(heats=1), people=2, seed=5)
    old: list[tuple[int, int]] = []

    def repeat() -> None:
        seen = [(chair, number) for chair in (0, 1) for number in range(1, evening.ids[chair] + 1)]
        old[:] = seen

    evening.after = repeat
    evening.ready()
    while not evening.finished:
        evening.people_answer()
        for chair, number in old:
            before = evening.table.record, evening.views()
            answer = evening.ask(chair, Extend(by_ms=600_000), id=number)
            assert isinstance(answer, Done)
            assert (evening.table.record, evening.views()) == before
        evening.wait(1_000)
    assert faults(evening.finished[0], never) == ()


def test_a_command_that_was_overtaken_by_a_later_one_is_not_done() -> None:
    evening = Evening(people=1)
    assert isinstance(evening.ask(0, READY, id=5), Done)
    answer = evening.ask(0, Pause(), id=4)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated"
    assert not evening.heat().paused


def test_a_refused_command_sent_again_is_refused_again_with_the_same_words() -> None:
    evening = Evening(people=1)
    first = evening.ask(0, Pause(), id=1)
    evening.ids[0] = 1
    evening.do(0, READY)
    assert evening.ask(0, Pause(), id=1) == first
    assert not evening.heat().paused


def test_old_answers_are_not_kept_for_ever_and_old_commands_still_do_nothing() -> None:
    evening = Evening(people=1)
    evening.ready()
    for number in range(1, 200):
        evening.ask(0, Arrange(tiles=evening.heat().rack), id=1_000 * number)
    answer = evening.ask(0, Pause(), id=1_000)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated"
    assert not evening.heat().paused


def test_the_ids_of_a_former_sitter_do_not_bind_the_next() -> None:
    evening = Evening(people=2)
    evening.ids[1] = 900
    evening.do(1, NotReady())
    evening.do(1, Leave())
    assert evening.join("Cy") == 1
    assert isinstance(evening.ask(1, NotReady(), id=1), Done)


# ---- east, heats and sets


@pytest.mark.parametrize("first", ["1", "2", "3", "4"])
def test_the_deal_moves_one_seat_to_the_right_after_each_heat(first: Any) -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 5, "first_east": first}), people=4)
    order = []
    for _ in range(5):
        ahead = evening.view().east
        order.append(evening.play_heat().east)
        assert ahead == order[-1]
    start = int(first) - 1
    assert order == [(start + turn) % 4 for turn in range(5)]


def test_who_is_alone_deals_and_does_not_deal_in_turn() -> None:
    evening = Evening(people=1)
    dealt = [len(final_state(evening.play_heat()).dealt[evening_seat(evening)]) for _ in range(3)]
    assert dealt == [14, 13, 14]


def evening_seat(evening: Evening) -> int:
    return (0 - evening.finished[-1].east) % 4


def test_the_lot_gives_a_chair_that_stays_the_same_when_asked_again() -> None:
    settings = QUICK.model_copy(update={"first_east": "lot"})
    easts = set()
    for number in range(40):
        record = TableRecord(id=f"table {number}", name="Boathouse", code="c", settings=settings)
        evening = Evening(record=record, people=2)
        assert evening.view().east == evening.view(1).east
        easts.add(evening.view().east)
    assert easts == {0, 1, 2, 3}


def test_heats_are_counted_and_the_set_ends_with_the_last_and_a_new_one_begins() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 2}), people=2)
    assert evening.play_heat().number == 1
    assert evening.view().phase == "between"
    assert evening.play_heat().number == 2
    assert evening.view().phase == "over"
    assert [result.number for result in evening.view().results] == [1, 2]
    evening.do(0, NewSet())
    assert evening.view().phase == "seating"
    assert evening.view().results == ()
    heat = evening.play_heat()
    assert (heat.number, heat.east) == (3, 0)


def test_a_seed_makes_the_same_deals_again_whatever_people_contribute() -> None:
    def deals(seed: int | None, dice: int) -> list[Any]:
        evening = Evening(QUICK.model_copy(update={"seed": seed, "heats": 2}), people=1, seed=dice)
        return [evening.play_heat().events[0] for _ in range(2)]

    assert deals(7, 1) == deals(7, 2)
    assert deals(7, 1)[0] != deals(7, 1)[1]
    assert deals(8, 1) != deals(7, 1)
    assert deals(None, 1) != deals(None, 2)


def test_a_repeatable_heat_can_be_verified_too() -> None:
    evening = Evening(QUICK.model_copy(update={"seed": 7}), people=2)
    heats = [evening.play_heat() for _ in range(3)]
    assert [heat.secret for heat in heats] == [seeded_secret(7, number) for number in (1, 2, 3)]
    assert all(heat.contributions == (b"",) * 4 for heat in heats)
    assert all(faults(heat, never) == () for heat in heats)


def test_the_seed_is_shown_to_the_host_who_chose_it_and_told_to_nobody() -> None:
    """With it anybody could work out the walls of all heats to come."""
    seed = 7_654_321_987
    settings = QUICK.model_copy(update={"seed": seed, "heats": 2})
    evening = Evening(settings, people=2)
    for _ in range(2):
        assert [evening.view(chair).settings.seed for chair in (0, 1)] == [seed, None]
        evening.ready()
        evening.take(evening.table.disconnected(0))
        assert evening.view(1).host, "the next one stands in for a host whose line is down"
        assert evening.view(1).settings.seed is None
        evening.join("", evening.tokens[0])
        assert evening.play_heat().settings == settings.unseeded()
    assert told(evening, HeatFile)[1] >= 2
    assert all(seed.to_bytes(8, "big") not in TO_CLIENT.pack(message) for message in evening.sent[1])


# ---- what is told, and when


def told(evening: Evening, kind: type[Any]) -> list[int]:
    return [sum(isinstance(message, kind) for message in evening.sent[chair]) for chair in range(4)]


def test_at_the_end_everybody_sees_everybodys_seconds_racks_and_the_secret() -> None:
    evening = Evening(people=2)
    heat = evening.play_heat()
    end = final_state(heat)
    for chair in (0, 1):
        (result,) = evening.view(chair).results
        assert result.opened
        assert result.secret == heat.secret.hex()
        assert tuple(seat.final for seat in result.seats) == end.racks
        assert tuple(seat.dealt for seat in result.seats) == end.dealt
        assert [seat.chair for seat in result.seats] == [chair_of(seat, heat.east) for seat in range(4)]  # type: ignore[arg-type]
        for seat in result.seats:
            assert seat.total_ms == sum(step.spent_ms for step in seat.spent)
            assert [step.step for step in seat.spent][:4] == ["first right", "first across", "first left", "go on"]
    assert told(evening, HeatFile) == [1, 1, 0, 0]
    file = next(message for message in evening.sent[0] if isinstance(message, HeatFile))
    assert HEAT.unpack(file.data) == heat


def test_a_fidget_makes_the_heat_that_everybody_is_sent_no_longer() -> None:
    evening = Evening(people=2)
    evening.ready()
    rack = evening.heat(1).rack
    for _ in range(400):
        evening.do(1, Arrange(tiles=rack[::-1]))
        evening.do(1, Arrange(tiles=rack))
    heat = evening.play_heat()
    arranged = [event.tiles for event in heat.events if isinstance(event, RackArranged)]
    assert arranged == [rack]
    assert faults(heat, never) == ()


def test_where_the_racks_stay_closed_nothing_is_opened_before_the_sets_end() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False, "heats": 2}), people=2)
    heat = evening.play_heat()
    for chair in (0, 1):
        (result,) = evening.view(chair).results
        assert not result.opened
        assert result.secret == ""
        assert not any(seat.dealt or seat.final for seat in result.seats)
        assert any(seat.total_ms for seat in result.seats)
        packed = repr(evening.view(chair))
        assert heat.secret.hex() not in packed
    assert told(evening, HeatFile) == [0, 0, 0, 0]
    assert told(evening, OwnHeat) == [1, 1, 0, 0]
    evening.play_heat()
    assert all(result.opened for result in evening.view(0).results)
    assert told(evening, HeatFile) == [2, 2, 0, 0]


def test_a_set_that_is_broken_off_is_opened_before_the_next_begins() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False}), people=2)
    heat = evening.play_heat()
    evening.do(0, NewSet())
    files = [message for message in evening.sent[1] if isinstance(message, HeatFile)]
    assert [HEAT.unpack(file.data) for file in files] == [heat]


def test_one_owns_heat_holds_ones_own_tiles_only() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False}), people=2)
    heat = evening.play_heat()
    end = final_state(heat)
    for chair in (0, 1):
        own = next(message.heat for message in evening.sent[chair] if isinstance(message, OwnHeat))
        seat = (chair - heat.east) % 4
        assert own.seat == seat
        assert (own.dealt, own.final) == (end.dealt[seat], end.racks[seat])
        assert [step.came for step in own.steps] == [done.came[seat] for done in end.done if done.answers[seat]]
        assert own.names[own.seat] == f"Person {chair + 1}"


def test_who_rejoins_gets_the_finished_heats_again_and_a_newcomer_only_what_is_open() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False, "heats": 3}), people=1)
    evening.play_heat()
    chair = evening.join("Bo")
    assert told(evening, OwnHeat)[chair] == 0
    assert told(evening, HeatFile)[chair] == 0
    evening.sent.clear()
    evening.join("", evening.tokens[0])
    assert told(evening, OwnHeat)[0] == 1


def test_no_secret_no_key_and_no_hidden_tile_is_in_what_anyone_sees_during_a_heat() -> None:
    evening = Evening(people=4, seed=9)

    def look() -> None:
        head = evening.table.record.head
        if not head:
            return
        key = wall_key(head.secret, head.contributions)
        for view in evening.views():
            text = repr(view)
            for secret in (head.secret, key):
                assert secret.hex() not in text
                assert repr(secret) not in text

    evening.after = look
    evening.play_heat()


def test_what_a_seat_does_for_itself_alone_is_told_to_nobody_else() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    others = [evening.view(chair) for chair in (1, 2, 3)]
    rack = evening.heat(0).rack
    evening.do(0, Arrange(tiles=rack[::-1]))
    evening.do(0, Lift(step="first right", tiles=tuple(tile for tile in rack if tile != JOKER)[:2]))
    assert [evening.view(chair) for chair in (1, 2, 3)] == others


def test_a_view_grows_its_revision_whenever_it_is_told() -> None:
    evening = Evening(people=2)
    seen = [evening.view(0).revision]
    evening.ready()
    seen.append(evening.view(0).revision)
    evening.answer(0)
    seen.append(evening.view(0).revision)
    evening.wait(30_000)
    seen.append(evening.view(0).revision)
    assert seen == sorted(set(seen))


# ---- a killed server


Snapshot = tuple[TableRecord, tuple[Any, ...], tuple[Any, ...], int]


def snapshots(evening: Evening, play: Callable[[], Any]) -> list[Snapshot]:
    """Return what is on disk after every output while something is played."""
    found: list[Snapshot] = []

    def keep() -> None:
        record = evening.table.record
        events = tuple(evening.events[record.number]) if record.head else ()
        found.append((record, events, tuple(evening.finished), evening.now_ms))

    evening.after = keep
    play()
    evening.after = lambda: None
    return found


def restored(snapshot: Snapshot, later_ms: int = 9_000_000) -> Evening:
    record, events, finished, _ = snapshot
    evening = Evening(record=record, people=0, seed=2)
    evening.now_ms += later_ms
    evening.events[record.number] = list(events)
    evening.finished = list(finished)
    evening.take(evening.table.restore(events, finished, evening.now_ms))
    return evening


def test_after_a_kill_at_any_moment_the_table_is_as_it_was_and_paused() -> None:
    evening = Evening(slow(heats=2), people=2, seed=4)
    cuts = snapshots(evening, lambda: (evening.play_heat(), evening.play_heat()))
    assert len(cuts) > 60
    for cut in cuts:
        twin = restored(cut)
        record, events, _, _ = cut
        assert twin.table.record == record
        if not record.head:
            assert twin.view().heat is None
            continue
        last_ms = max(getattr(event, "at_ms", 0) for event in events)
        stopped = ClocksStopped(at_ms=last_ms)
        assert twin.events[record.number] == [*events, stopped]
        state = replay(record.head.settings, (*events, stopped))
        for chair in range(4):
            heat = twin.heat(chair)
            seat = (chair - record.head.east) % 4
            assert heat.paused
            assert not heat.clock.running
            assert heat.rack == heat.lifted == ()
            assert heat.clock.left_ms == state.clocks[seat].left(last_ms)
            assert heat.step == state.step
        assert not any(chair.connected for chair in twin.view().chairs)
        assert isinstance(twin.ask(0, Resume(), id=2**53), Done)
        for chair in range(4):
            seat = (chair - record.head.east) % 4
            assert twin.heat(chair).rack == state.racks[seat]
            assert twin.heat(chair).lifted == state.drafts[seat].tiles


def test_after_a_kill_at_any_step_the_heat_is_played_to_a_true_end() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 1}), people=2, seed=4)
    cuts = snapshots(evening, evening.play_heat)
    for cut in cuts[:: max(1, len(cuts) // 12)]:
        if not cut[0].head:
            continue
        twin = restored(cut)
        for chair in (0, 1):
            assert twin.join("", evening.tokens[chair]) == chair
        twin.do(0, Resume())
        heat = twin.play_heat()
        assert heat.events[: len(cut[1])] == cut[1]
        assert faults(heat, never) == ()
        passes = [event for event in heat.events if isinstance(event, Passed)]
        assert not any(event.by == "timeout" for event in passes), "neither people nor bots lost time"


def test_a_table_killed_in_a_pause_goes_on_with_its_bots_in_time() -> None:
    evening = Evening(people=1)
    evening.ready()
    evening.wait(1_000)
    cuts = snapshots(evening, lambda: evening.do(0, Pause()))
    twin = restored(cuts[-1])
    twin.join("", evening.tokens[0])
    assert twin.events[1] == list(cuts[-1][1]), "it was paused already"
    twin.wait(3_600_000)
    twin.do(0, Resume())
    heat = twin.play_heat()
    assert {event.by for event in heat.events if isinstance(event, Passed)} == {"person", "bot"}


def test_after_a_kill_a_command_that_was_done_is_not_done_again() -> None:
    evening = Evening(slow(), people=1)
    cuts = snapshots(evening, lambda: (evening.ready(), evening.answer(0)))
    twin = restored(cuts[-1])
    answer = twin.knock("", evening.tokens[0])
    assert isinstance(answer, Joined)
    assert answer.last_id == evening.ids[0]
    again = twin.ask(0, Resume(), id=evening.ids[0])
    assert isinstance(again, Refused)
    assert again.code == "repeated"
    assert twin.heat().paused


def test_what_could_not_be_stored_is_undone() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    before, seen = evening.table.checkpoint(), evening.views()
    tiles = tuple(tile for tile in evening.heat(0).rack if tile != JOKER)[:3]
    evening.ask(0, Pass(step="first right", tiles=tiles), id=50)
    assert evening.views() != seen
    evening.table.go_back(before, (0, 1))
    after = [view.model_copy(update={"revision": 0}) for view in evening.views()]
    assert after == [view.model_copy(update={"revision": 0}) for view in seen]
    assert isinstance(evening.ask(0, Pass(step="first right", tiles=tiles), id=50), Done), "it counts when sent again"


# ---- many evenings


@pytest.mark.parametrize("seed", range(12))
def test_evenings_at_random_end_with_true_heats(seed: int) -> None:
    """People come, go, lose their line, pause and answer or do not; every heat must verify."""
    chance = random.Random(seed)
    evening = Evening(
        Settings(
            level_ms=chance.choice([10_000, 60_000]),
            heats=2,
            second=chance.choice(["offered", "always", "never"]),
            plan=chance.random() < 0.5,
            final_at=chance.choice(["commit", "step end"]),
            incoming=chance.choice(["racks", "wall"]),
            jokers=chance.choice([8, 0]),
            bot_pace="quick",
        ),
        people=chance.randint(1, 4),
        seed=seed,
    )
    host = 0
    for _ in range(3_000):
        record = evening.table.record
        if record.phase == "over":
            break
        chair = chance.randrange(4)
        draw = chance.random()
        if record.phase != "heat":
            evening.ask(chair, Start()) if draw < 0.2 else evening.ask(chair, READY)
        elif draw < 0.5 and record.chairs[chair].is_present and evening.heat(chair).owes:
            evening.ask(chair, bots.choose(evening.heat(chair), evening.people_dice))
        elif draw < 0.53:
            evening.ask(chair, chance.choice([Pause(), Leave(), SeatBot(chair=chair), FreeChair(chair=chair)]))
        elif draw < 0.6:
            evening.ask(host, Resume())
        elif draw < 0.65 and record.chairs[chair].sitter == "person":
            evening.take(evening.table.disconnected(chair))
            evening.join("", evening.tokens[chair])
        elif draw < 0.67:
            evening.knock("Newcomer")
        evening.wait(chance.choice([0, 10, 300, 3_000]))
        host = next((chair for chair in range(4) if evening.view(chair).host), 0)
    assert len(evening.finished) == 2
    for heat in evening.finished:
        assert faults(heat, never) == ()
        assert Counter(len(rack) for rack in final_state(heat).racks) == {13: 3, 14: 1}


def test_a_table_needs_no_more_than_its_record_to_begin() -> None:
    record = TableRecord(id="t", name="Boathouse", code="c", settings=QUICK)
    table = Table(record, random.Random(1).randbytes, lambda: "now")
    assert table.next_deadline_ms() is None
    assert table.view(0, 0).phase == "seating"
    assert len(table.record.secret) == 32

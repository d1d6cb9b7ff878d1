"""The table as one synchronous value: chairs, hosts, people and bots."""

from typing import Any

import pytest

from server.records import EMPTY
from server.table import bots
from server.table.output import Joined, Rejected
from shared.names import NAME_CELLS, cell_width
from shared.rules.events import Passed
from shared.rules.intents import (
    Arrange,
    ChangeSettings,
    Extend,
    FreeChair,
    Intent,
    Leave,
    LetIn,
    Lift,
    MoveTo,
    NewCode,
    NewSet,
    NotReady,
    Pause,
    Ready,
    Resume,
    SeatBot,
    Start,
    TakeSeat,
    Vote,
)
from shared.rules.pace import GRACE_MS
from shared.rules.seats import chair_of
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.rules.wall import commitment
from shared.wire.messages import Close, Command, Refused
from tests.heats import faults
from tests.tables import QUICK, READY, Evening, never, slow

STEPS_OF_A_HEAT = [step for step in STEPS if Settings().plays(step)]


# ---- coming in


def test_people_take_the_chairs_in_turn_and_the_first_is_the_host() -> None:
    evening = Evening(people=0)
    assert [evening.join(name) for name in ("Ann", "Bo", "Cy", "Di")] == [0, 1, 2, 3]
    assert [evening.view(chair).host for chair in range(4)] == [True, False, False, False]
    assert [evening.view(chair).code for chair in range(4)] == ["tern-12", "", "", ""]
    assert [chair.name for chair in evening.view().chairs] == ["Ann", "Bo", "Cy", "Di"]


def test_a_fifth_person_finds_no_chair_and_gets_a_place_beside_the_table_if_there_is_one() -> None:
    evening = Evening(people=4)
    answer = evening.table.join("Ed", None, evening.now_ms, crowded="It is crowded.")
    assert isinstance(answer, Rejected)
    assert answer.close == Close.TABLE_FULL
    assert evening.join("Ed") not in range(4)
    assert [chair.name for chair in evening.view().chairs] == [f"Person {number}" for number in (1, 2, 3, 4)]


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
    evening.take(evening.table.disconnected(1, evening.now_ms))
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
    assert full.join("Ed", b"\0" * 16) not in range(4)


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


def test_who_was_ready_and_is_away_is_waited_for_until_they_are_back() -> None:
    evening = Evening(people=2)
    evening.do(1, READY)
    evening.take(evening.table.disconnected(1, evening.now_ms))
    evening.do(0, READY)
    assert evening.view().phase == "seating"
    evening.join("Person 2", evening.tokens[1])
    assert evening.view().phase == "heat"


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
        evening.do(chair, Ready())
    heat = evening.play_heat()
    own = [evening.watch(chair).seen["t1", 1].own_value() for chair in range(3)]
    assert len({*own, b""}) == 4
    assert heat.contributions == (*own, b"")
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


def test_settings_change_between_heats_and_count_from_the_next_one_on() -> None:
    evening = Evening(people=1)
    evening.ready()
    changed = ChangeSettings(settings=QUICK.model_copy(update={"courtesy": False}))
    assert evening.refused(0, changed) == "not now"
    assert "courtesy offer" in [step.step for step in evening.heat().route]
    assert evening.play_heat().settings == QUICK
    evening.do(0, changed)
    assert not evening.play_heat().settings.courtesy


def test_a_clock_changed_twice_between_heats_is_the_next_heats_clock() -> None:
    evening = Evening(people=2)
    evening.play_heat()
    for level_ms in (240_000, 150_000):
        evening.do(0, ChangeSettings(settings=QUICK.model_copy(update={"level_ms": level_ms})))
        assert evening.view(1).settings.level_ms == level_ms
    assert evening.play_heat().settings.level_ms == 150_000
    assert evening.view(1).played == evening.view(1).settings


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
    evening.take(evening.table.disconnected(0, evening.now_ms))
    evening.wait(59_999)
    assert evening.refused(1, Pause()) == "host only", "a short cut makes nobody the host"
    evening.wait(1)
    assert (evening.view(1).host, evening.view(1).keeps, evening.view(1).code) == (False, True, "")
    evening.do(1, Pause())
    for intent in (ChangeSettings(settings=QUICK), FreeChair(chair=0), NewCode(), LetIn(chair=0), Extend(by_ms=9_000)):
        assert evening.refused(1, intent) == "host only"
    evening.join("", evening.tokens[0])
    assert evening.view(0).host
    assert not evening.view(1).host
    assert not evening.view(1).keeps
    assert evening.refused(1, Resume()) == "host only"


def test_how_long_a_host_may_be_away_is_the_hosts_own_setting() -> None:
    evening = Evening(QUICK.model_copy(update={"host_away_ms": 180_000}), people=2)
    evening.take(evening.table.disconnected(0, evening.now_ms))
    evening.wait(179_000)
    assert not evening.view(1).keeps
    evening.wait(1_000)
    assert evening.view(1).keeps


def test_a_host_who_was_sent_away_meanwhile_does_not_make_a_newcomer_host() -> None:
    evening = Evening(people=2)
    evening.take(evening.table.disconnected(0, evening.now_ms))
    evening.wait(60_000)
    assert evening.refused(1, FreeChair(chair=0)) == "host only", "nobody takes the table from a host who is away"
    evening.do(0, Leave())
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
    assert (evening.closed, evening.table.record.sent_away) == ([], ()), "a bird is nobody to send away"


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
    answer = evening.knock("Person 2", token)
    assert isinstance(answer, Rejected)
    assert answer.close == Close.SENT_AWAY, "and who was sent away stays out for the evening"


def test_who_left_during_a_heat_has_no_chair_after_it() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.do(1, Leave())
    evening.play_heat()
    assert evening.table.record.chairs[1].sitter == "nobody"


def test_a_person_whose_line_is_down_stays_and_the_clock_answers() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.take(evening.table.disconnected(1, evening.now_ms))
    evening.answer(0)
    evening.wait(24_000 + GRACE_MS)
    assert evening.heat(1).owes
    evening.wait(1)
    assert evening.heat(1).route[0].by == "timeout"
    assert evening.view(0).chairs[1].sitter == "person"


# ---- changing chairs


def test_an_empty_or_a_bots_chair_is_had_at_once_and_everything_goes_along() -> None:
    evening = Evening(people=2)
    evening.do(0, SeatBot(chair=3))
    evening.ids[3] = evening.ids[0]
    out = evening.table.command(0, Command(id=evening.ids[0] + 1, heat=0, intent=MoveTo(chair=3)), evening.now_ms)
    assert out.moved == ((0, 3),)
    assert out.messages[0][0] == 3, "the answer goes to where the person sits now"
    names = [chair.name for chair in evening.view(3).chairs]
    assert names == ["", "Person 2", "", "Person 1"]
    assert evening.view(3).host, "the host stays the host"
    assert evening.table.record.chairs[3].last_id == evening.ids[0] + 1
    assert evening.join("Person 1", evening.tokens[0]) == 3, "the token opens the new chair"


def test_two_people_swap_when_both_wish_it() -> None:
    evening = Evening(people=3)
    evening.do(1, MoveTo(chair=2))
    assert evening.view(2).chairs[1].wish == 2
    assert [chair.name for chair in evening.view().chairs[:3]] == ["Person 1", "Person 2", "Person 3"]
    evening.do(1, MoveTo(chair=1))
    assert evening.view(2).chairs[1].wish is None, "a wish can be taken back"
    evening.do(1, MoveTo(chair=2))
    out = evening.table.command(2, Command(id=evening.ids[2] + 1, heat=0, intent=MoveTo(chair=1)), evening.now_ms)
    assert set(out.moved) == {(1, 2), (2, 1)}
    assert [chair.name for chair in evening.view().chairs[:3]] == ["Person 1", "Person 3", "Person 2"]
    assert [chair.wish for chair in evening.view().chairs] == [None] * 4


def test_nobody_changes_chairs_during_a_heat_and_wishes_end_with_the_deal() -> None:
    evening = Evening(people=2)
    evening.do(0, MoveTo(chair=1))
    evening.ready()
    assert evening.view().chairs[0].wish is None
    assert evening.refused(0, MoveTo(chair=3)) == "not now"


# ---- who left, and what stays in sight


def test_when_the_host_leaves_who_is_connected_is_host() -> None:
    evening = Evening(people=3)
    evening.take(evening.table.disconnected(1, evening.now_ms))
    evening.do(0, Leave())
    assert evening.view(2).host
    assert not evening.view(1).host


def test_who_gave_a_chair_up_and_comes_back_sees_no_second_rack_of_the_deal() -> None:
    evening = Evening(people=4)
    first = evening.tokens[1]
    evening.ready()
    evening.do(1, Leave())
    assert evening.join("Dora") == 1
    evening.do(2, Leave())
    assert evening.join("Person 2", first) not in range(4)
    evening.wait(1)
    assert evening.view().chairs[2].name == "Person 3"
    evening.play_heat()
    assert evening.join("Person 2", first) == 2


def test_a_restored_heat_says_so_until_it_goes_on() -> None:
    evening = Evening(people=1)
    evening.ready()
    assert not evening.view().restored
    evening.table.restore(tuple(evening.events[1]), (), evening.now_ms)
    assert evening.view().restored
    evening.do(0, Resume())
    assert not evening.view().restored


def test_the_settings_of_the_last_heat_stay_in_sight_when_the_host_changes_them() -> None:
    evening = Evening(people=2)
    assert evening.view(1).played is None
    evening.play_heat()
    evening.do(0, ChangeSettings(settings=QUICK.model_copy(update={"level_ms": 60_000})))
    view = evening.view(1)
    assert (view.played, view.settings.level_ms) == (QUICK, 60_000)

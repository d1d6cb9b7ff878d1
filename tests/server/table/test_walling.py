"""A table leads the round before each deal: who is silent is named and left out, and no guest waits for ever."""

import pytest

from server.records import EMPTY
from shared.rules.heat import HEAT, faults
from shared.rules.intents import (
    ChangeSettings,
    FreeChair,
    Leave,
    NewSet,
    NotReady,
    Ready,
    SeatBot,
    Start,
    WallHash,
    WallValue,
)
from shared.rules.settings import Settings
from shared.rules.wall_round import MOST_SILENCES, RESTART_MS, SILENCE_MS
from shared.wire.messages import TO_CLIENT
from tests.tables import QUICK, Evening, never


def attempts(evening: Evening) -> list[tuple[tuple[int, ...], str, tuple[int, ...]]]:
    return [(attempt.chairs, attempt.why, attempt.silent) for attempt in evening.view(0).wall.attempts]


def waiting(silent: int = 1, people: int = 3, settings: Settings = QUICK) -> Evening:
    """A table at which all are ready, and one client takes no part in the wall."""
    evening = Evening(settings, people=people)
    evening.silent = {silent}
    evening.ready()
    return evening


def test_a_person_alone_is_dealt_without_any_waiting() -> None:
    evening = Evening(people=1)
    before_ms = evening.now_ms
    evening.ready()
    assert (evening.view().phase, evening.now_ms) == ("heat", before_ms)
    assert attempts(evening) == [((0,), "", ())]


def test_nothing_is_dealt_before_everybody_has_opened_their_value() -> None:
    evening = waiting()
    assert evening.view().phase == "seating"
    assert evening.view().heat is None
    (now,) = evening.view().wall.attempts
    assert (now.chairs, now.awaited, now.values) == ((0, 1, 2), (1,), (b"",) * 4)
    assert now.commitment == evening.view().commitment


def test_a_silent_chair_is_named_to_all_and_the_wall_is_made_without() -> None:
    evening = waiting()
    evening.wait(SILENCE_MS - 1)
    assert evening.view().phase == "seating"
    evening.wait(1)
    assert evening.view().phase == "heat"
    for chair in range(3):
        first, last = evening.view(chair).wall.attempts
        assert (first.why, first.silent, last.chairs) == ("silent", (1,), (0, 2))
        assert first.commitment != last.commitment
    heat = evening.play_heat()
    assert [bool(value) for value in heat.contributions] == [True, False, True, False]
    assert heat.attempts == evening.finished[0].attempts
    assert faults(HEAT.pack(heat), never) == ()


def test_who_is_silent_again_takes_no_further_part_in_the_set_and_a_new_set_begins_anew() -> None:
    evening = waiting(settings=QUICK.model_copy(update={"heats": 3}))
    for heat in range(MOST_SILENCES):
        evening.wait(SILENCE_MS)
        assert [chairs for chairs, _, _ in attempts(evening)] == [(0, 1, 2), (0, 2)], heat
        evening.play_heat()
        evening.ready()
    assert evening.view().phase == "heat", "nobody waits for that chair any more"
    assert attempts(evening) == [((0, 2), "", ())]
    evening.play_heat()
    evening.do(0, NewSet())
    evening.ready()
    assert attempts(evening) == [((0, 1, 2), "", ())]


def test_who_was_silent_once_is_asked_again_in_the_next_heat() -> None:
    evening = waiting()
    evening.wait(SILENCE_MS)
    evening.silent.clear()
    evening.play_heat()
    evening.ready()
    assert attempts(evening) == [((0, 1, 2), "", ())]


def test_a_hash_without_its_value_is_silence_too() -> None:
    evening = waiting()
    (hashed,) = evening.watch(1).see(evening.view(1)).intents
    evening.do(1, hashed)
    assert evening.view().wall.attempts[-1].awaited == (1,)
    evening.wait(SILENCE_MS)
    assert attempts(evening) == [((0, 1, 2), "silent", (1,)), ((0, 2), "", ())]


def test_an_attempt_gets_its_whole_time_also_after_the_disk_had_failed() -> None:
    evening = waiting()
    before, lines = evening.table.checkpoint(), [0, 1, 2]
    evening.silent = {0, 1, 2}
    evening.wait(SILENCE_MS)
    assert len(attempts(evening)) == 2
    evening.table.go_back(before, lines)
    evening.wait(SILENCE_MS)
    assert len(attempts(evening)) == 2
    evening.wait(SILENCE_MS - 1)
    assert [why for _, why, _ in attempts(evening)] == ["silent", ""]


def test_a_wrong_value_is_silence_at_once() -> None:
    evening = waiting()
    (hashed,) = evening.watch(1).see(evening.view(1)).intents
    evening.do(1, hashed)
    evening.do(1, WallValue(heat=1, attempt=1, value=bytes(16)))
    assert attempts(evening) == [((0, 1, 2), "silent", (1,)), ((0, 2), "", ())]


def test_everybody_silent_leaves_the_wall_to_the_host_and_the_heat_begins() -> None:
    evening = Evening(people=2)
    evening.silent = {0, 1}
    evening.ready()
    evening.wait(SILENCE_MS)
    assert attempts(evening) == [((0, 1), "silent", (0, 1)), ((), "", ())]
    assert faults(HEAT.pack(evening.play_heat()), never) == ()


def test_only_who_is_connected_when_the_round_begins_takes_part() -> None:
    evening = Evening(people=3)
    evening.take(evening.table.disconnected(2, evening.now_ms))
    evening.do(0, Start())
    assert attempts(evening) == [((0, 1), "", ())]


def test_who_comes_while_the_wall_is_made_joins_the_next_round() -> None:
    evening = waiting(people=2)
    evening.join("Late")
    evening.wait(SILENCE_MS)
    assert attempts(evening) == [((0, 1), "silent", (1,)), ((0,), "", ())]
    assert evening.view(2).chairs[2].name == "Late"
    evening.silent.clear()
    evening.play_heat()
    evening.ready()
    assert attempts(evening) == [((0, 1, 2), "", ())]


def test_who_leaves_while_the_wall_is_made_is_left_out_at_once() -> None:
    evening = waiting()
    evening.do(1, Leave())
    assert attempts(evening) == [((0, 1, 2), "silent", (1,)), ((0, 2), "", ())]
    assert evening.view().phase == "heat"
    assert evening.view().chairs[1].sitter == "bot"


def test_no_heat_begins_when_everybody_has_left() -> None:
    evening = waiting(people=2)
    promised = evening.view().commitment
    evening.do(0, Leave())
    evening.silent = {0, 1, 2, 3}
    evening.do(1, Leave())
    assert all(chair == EMPTY or chair.sitter != "person" for chair in evening.table.record.chairs)
    assert (evening.table.record.phase, evening.table.record.round) == ("seating", None)
    assert evening.view().commitment != promised, "a secret of which a part was promised is never used"


@pytest.mark.parametrize(
    "intent", [Start(), ChangeSettings(settings=QUICK), FreeChair(chair=1), SeatBot(chair=1), Ready(), NotReady()]
)
def test_nobody_rearranges_the_table_while_its_wall_is_made(intent: object) -> None:
    evening = waiting()
    assert evening.refused(0, intent) == "not now"  # type: ignore[arg-type]


def test_a_part_without_a_round_is_refused() -> None:
    evening = Evening(people=1)
    assert evening.refused(0, WallHash(heat=1, attempt=1, hash=bytes(32))) == "not now"


@pytest.mark.parametrize(
    ("settings", "kind"),
    [(QUICK.model_copy(update={"seed": 7}), "seeded"), (QUICK.model_copy(update={"same_deal": True}), "common")],
)
def test_a_wall_that_is_fixed_beforehand_is_marked_before_the_heat_and_no_round_is_run(
    settings: Settings, kind: str
) -> None:
    evening = Evening(settings, people=2)
    assert [evening.view(chair).wall.kind for chair in range(2)] == [kind, kind]
    promised = evening.view(1).commitment
    evening.ready()
    view = evening.view(1)
    assert (view.wall.kind, view.wall.attempts, view.commitment) == (kind, (), promised)
    heat = evening.play_heat()
    assert (heat.wall, heat.contributions, heat.attempts) == (kind, (b"",) * 4, ())


def restarted(evening: Evening) -> Evening:
    """The same table after a kill: made from its record alone."""
    again = Evening(people=0, record=evening.table.record, seed=99)
    again.watches, again.silent = evening.watches, evening.silent
    again.ids.update(evening.ids)
    again.take(again.table.restore((), (), again.now_ms))
    for token in evening.tokens.values():
        again.join("Person", token)
    return again


@pytest.mark.parametrize("stage", ["hashes", "values"])
def test_a_restart_of_the_host_goes_on_with_the_stored_round(stage: str) -> None:
    evening = waiting()
    if stage == "values":
        (hashed,) = evening.watch(1).see(evening.view(1)).intents
        evening.do(1, hashed)
    before = evening.view(0).wall
    again = restarted(evening)
    assert again.view(0).wall == before
    again.wait(RESTART_MS - 1)
    assert again.view(0).wall == before, "people have a moment more to come back"
    again.silent.clear()
    for _ in range(2):
        for intent in again.watch(1).see(again.view(1)).intents:
            again.do(1, intent)
    assert again.view(0).phase == "heat"
    assert attempts(again) == [((0, 1, 2), "", ())]
    assert not any(watch.seen["t1", 1].stopped for watch in again.watches.values())


def test_a_stall_of_the_machine_silences_nobody() -> None:
    evening = waiting()
    evening.wait(SILENCE_MS - 10)
    evening.now_ms += 3_000
    evening.take(evening.table.stalled(3_000, evening.now_ms))
    evening.wait(9)
    assert attempts(evening) == [((0, 1, 2), "", ())]


def test_no_secret_is_shown_before_its_attempt_is_burned() -> None:
    evening = waiting()
    secret = evening.table.record.secret
    assert secret not in TO_CLIENT.pack(evening.view(0))
    evening.wait(SILENCE_MS)
    assert evening.view(0).wall.attempts[0].secret == secret
    assert evening.view(0).wall.attempts[-1].secret == b""

"""The table as one synchronous value: taken over from the disk, and through whole evenings of everything."""

import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from server.kept import KeptHeat
from server.records import TableRecord
from server.table import bots
from server.table.output import Joined
from server.table.table import Table
from shared.rules.events import ClocksStopped, Passed
from shared.rules.heat import final_state
from shared.rules.intents import (
    FreeChair,
    Leave,
    NewSet,
    Pass,
    Pause,
    Resume,
    SeatBot,
    Start,
)
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.tiles import JOKER
from shared.wire.messages import Done, Refused
from tests.heats import faults
from tests.tables import QUICK, READY, Evening, never, slow

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
    evening.take(evening.table.restore(events, tuple(map(KeptHeat.of, finished)), evening.now_ms))
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


def test_after_a_kill_every_heat_of_the_set_is_among_the_results_and_none_of_the_set_before() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 2}), people=1)

    def results_after(play: Callable[[], Any]) -> list[int]:
        return [result.number for result in restored(snapshots(evening, play)[-1]).view().results]

    assert results_after(evening.play_heat) == [1]
    assert results_after(evening.play_heat) == [1, 2]
    evening.do(0, NewSet())
    assert results_after(evening.play_heat) == [3]
    assert results_after(evening.play_heat) == [3, 4]


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
            evening.take(evening.table.disconnected(chair, evening.now_ms))
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

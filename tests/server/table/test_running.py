"""The time of one running heat: when a bot answers, and what a restart or a pause leaves of it."""

from dataclasses import replace

from server.table.running import RunningHeat
from shared.rules.events import ClocksRan, ClocksStopped
from shared.rules.seats import Seat
from tests.tables import Evening, slow


def heat_of(evening: Evening) -> RunningHeat:
    heat = evening.table._heat
    assert heat is not None
    return heat


def test_a_bot_answers_so_long_after_it_begins_to_think_and_before_its_clock_does() -> None:
    evening = Evening(slow())
    evening.ready()
    evening.go_to("first across")
    evening.wait(1_111)
    heat = heat_of(evening)
    time_ms, limit_ms = heat.time_ms(evening.now_ms), heat.state.clocks[Seat.EAST].left(heat.time_ms(evening.now_ms))
    for delay_ms in (1, 999, 1_000, 5_000, 60_000_000):
        turn = heat.turn(Seat.EAST, delay_ms, evening.now_ms)
        assert (turn.step, turn.due_ms) == ("first across", time_ms + min(delay_ms, limit_ms))


def test_a_heat_from_the_disk_stands_at_its_last_event_whenever_that_is_read() -> None:
    evening = Evening(slow())
    evening.ready()
    evening.go_to("first across")
    evening.wait(1_111)
    heat = heat_of(evening)
    for now_ms in (7, 1_000_003, 90_000_000):
        again = RunningHeat.restored(heat.head, heat.events, now_ms)
        assert again.time_ms(now_ms) == again.paused_at_ms == heat.reached_ms
        assert again.time_ms(now_ms + 5_000) == heat.reached_ms + 5_000
        assert again.next_deadline_ms() is None


def test_what_a_bot_has_decided_is_played_when_its_moment_has_come_or_passed_and_not_before() -> None:
    evening = Evening(slow(), people=1)
    evening.ready()
    heat = heat_of(evening)
    seat, turn = next((seat, turn) for seat, turn in heat.turns.items() if turn.intent)
    others = {other: replace(one, intent=None) for other, one in heat.turns.items() if other != seat}
    heat = replace(heat, turns={**others, seat: turn})
    at_ms = heat.origin_ms + turn.due_ms
    assert heat.next_deadline_ms() == at_ms
    assert heat.due(at_ms - 1) == ()
    for late_ms in (0, 1, 700):
        [event] = heat.due(at_ms + late_ms)
        assert (event.seat, event.by) == (seat, "bot")  # type: ignore[union-attr]


def test_a_pause_moves_every_bots_moment_by_its_own_length() -> None:
    evening = Evening(slow())
    evening.ready()
    evening.wait(1_111)
    heat = heat_of(evening)
    at_ms, before = heat.time_ms(evening.now_ms), {seat: turn.due_ms for seat, turn in heat.turns.items()}
    assert len(before) == 3
    for begins_ms, length_ms, later_ms in ((at_ms, 60_000, 60_000), (at_ms + 61_000, 5_000, 65_000)):
        heat = heat.plus((ClocksStopped(at_ms=begins_ms),)).plus((ClocksRan(at_ms=begins_ms + length_ms),))
        assert {seat: turn.due_ms - later_ms for seat, turn in heat.turns.items()} == before

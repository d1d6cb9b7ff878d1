"""The clock: whole milliseconds, exact, and a watch that notices when the machine stood still."""

import asyncio
import datetime
import itertools
import time

import pytest

from server import clock
from server.clock import BEAT_MS, STALL_MS, StallWatch, now_ms, wall_time
from server.table.table import Table
from shared.rules.intents import Ready
from shared.rules.settings import Settings
from tests.client.relay import in_virtual_time
from tests.loop import VirtualLoop
from tests.server.players import Player, answer_to, counted_bytes, make_table, open_house, owes


async def test_a_timer_set_for_a_millisecond_fires_in_that_millisecond() -> None:
    loop = asyncio.get_running_loop()
    for step_ms in (1, 7, 333, 1_001, 59_999):
        due_ms = now_ms() + step_ms
        fired: asyncio.Future[int] = loop.create_future()
        loop.call_at(due_ms / 1_000, lambda fired=fired: fired.set_result(now_ms()))
        assert await fired == due_ms


@pytest.mark.parametrize("stall_ms", [0, 60, STALL_MS - 1, STALL_MS + BEAT_MS + 1, 5_000, 3_600_000])
async def test_a_stall_is_noticed_to_within_a_beat_and_small_delays_are_not(stall_ms: int) -> None:
    loop = asyncio.get_running_loop()
    assert isinstance(loop, VirtualLoop)
    noticed: list[int] = []
    watch = StallWatch(noticed.append)
    await asyncio.sleep(10.013)
    loop.stall(stall_ms / 1_000)
    await asyncio.sleep(10)
    watch.stop()
    if stall_ms < STALL_MS:
        assert noticed == []
    else:
        assert len(noticed) == 1
        assert stall_ms - BEAT_MS <= noticed[0] <= stall_ms


async def _a_heat() -> tuple[object, ...]:
    """Play a heat of which Ann lets a step time out; return all that happened and when she saw what remained."""
    table = Table(make_table(Settings(seed=7, heats=1)).record, counted_bytes(), wall_time)
    async with open_house(table=table) as house:
        ann, remained = Player(house.listener.port), []
        await ann.come()
        await ann.ask(Ready())
        for step in itertools.count():
            view = await ann.until(lambda view: owes(view) or view.phase != "heat")
            if not view.heat or view.phase != "heat":
                break
            remained.append((now_ms(), view.heat.step))
            if step == 1:
                await ann.until(lambda now, step=view.heat.step: not now.heat or now.heat.step != step)  # type: ignore[misc]
            else:
                await ann.ask(answer_to(view))
        _, heat, finished, *_ = table.checkpoint()
        await ann.go()
        return (*remained, heat and heat.events, len(finished))


def test_a_wall_clock_that_jumps_by_years_moves_no_deadline_and_nothing_that_happens(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    steady = in_virtual_time(_a_heat())
    assert len(steady) > 6

    class Jumping(datetime.datetime):
        jumps = itertools.count()

        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> "Jumping":
            return cls(1990 + 37 * next(cls.jumps) % 100, 1, 1, tzinfo=tz)

    monkeypatch.setattr(clock.datetime, "datetime", Jumping)
    monkeypatch.setattr(time, "time", lambda: next(Jumping.jumps) * 37_000_000.0 % 4e9)
    assert in_virtual_time(_a_heat()) == steady

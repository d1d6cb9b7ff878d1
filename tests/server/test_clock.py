"""The clock: whole milliseconds, exact, and a watch that notices when the machine stood still."""

import asyncio

import pytest

from server.clock import BEAT_MS, STALL_MS, StallWatch, now_ms
from tests.loop import VirtualLoop


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

"""What arrives wakes the task, in order; what is put quietly waits for something else."""

import asyncio

from server.clock import now_ms
from server.inbox import Inbox


async def test_items_come_out_in_the_order_in_which_they_were_put_and_once() -> None:
    inbox: Inbox[int] = Inbox()
    for item in (3, 1, 2):
        inbox.put(item)
    await inbox.wait(None)
    assert inbox.take() == [3, 1, 2]
    assert inbox.take() == []


async def test_waiting_ends_at_its_moment_or_with_the_first_item() -> None:
    inbox: Inbox[str] = Inbox()
    began_ms = now_ms()
    await inbox.wait(began_ms + 700)
    assert (now_ms() - began_ms, inbox.take()) == (700, [])
    inbox.put_later("later", 300)
    await inbox.wait(began_ms + 5_000)
    assert (now_ms() - began_ms, inbox.take()) == (1_000, ["later"])


async def test_what_is_put_quietly_wakes_nobody() -> None:
    inbox: Inbox[str] = Inbox()
    began_ms = now_ms()
    inbox.put_quietly("stall")
    inbox.wake_at(began_ms + 400)
    waiting = asyncio.create_task(inbox.wait(None))
    await asyncio.sleep(0.3)
    assert not waiting.done()
    await waiting
    assert (now_ms() - began_ms, inbox.take()) == (400, ["stall"])


async def test_what_is_put_between_two_rounds_is_not_missed() -> None:
    inbox: Inbox[int] = Inbox()
    inbox.put(1)
    assert inbox.take() == [1]
    inbox.put(2)
    await inbox.wait(None)
    assert inbox.take() == [2]

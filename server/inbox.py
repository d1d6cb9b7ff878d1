"""The inbox of a keeper: what has arrived for its task, in order, and what wakes the task.

Putting something in never waits. All moments are milliseconds of server.clock.
"""

import asyncio
from typing import Generic, TypeVar

T = TypeVar("T")


class Inbox(Generic[T]):
    """Items for one task, which waits, takes all of them, and waits again."""

    def __init__(self) -> None:
        self._items: list[T] = []
        self._wake = asyncio.Event()

    def put(self, item: T) -> None:
        """Add an item and wake the task."""
        self._items.append(item)
        self._wake.set()

    def put_quietly(self, item: T) -> None:
        """Add an item that the task finds when something else wakes it."""
        self._items.append(item)

    def put_later(self, item: T, in_ms: int) -> None:
        """Add an item after a while."""
        asyncio.get_running_loop().call_later(in_ms / 1_000, self.put, item)

    def wake(self) -> None:
        """Wake the task, whether or not there are items."""
        self._wake.set()

    def wake_at(self, at_ms: int) -> None:
        """Wake the task at a moment."""
        asyncio.get_running_loop().call_at(at_ms / 1_000, self._wake.set)

    async def wait(self, until_ms: int | None) -> None:
        """Return once the task is woken, at the latest at a moment; None: however long that takes."""
        timer = None
        if until_ms is not None:
            timer = asyncio.get_running_loop().call_at(until_ms / 1_000, self._wake.set)
        try:
            await self._wake.wait()
        finally:
            if timer:
                timer.cancel()

    def take(self) -> list[T]:
        """Return all items, the first one first, and forget them."""
        items, self._items = self._items, []
        self._wake.clear()
        return items

"""Two event loops for tests: one that can tell when it is quiet, and one in virtual time.

In virtual time nothing sleeps, yet sockets and threads are real. Time stands still while anything can happen by
itself: a socket is readable, or work handed to an executor is not back. Only then does it jump to the next timer, so
that an evening takes seconds and every timer is exactly on time. A test that waits for something that can never come
fails instead of hanging.
"""

import asyncio
import selectors
from collections.abc import Callable
from concurrent.futures import Executor
from contextlib import suppress
from selectors import SelectorKey
from typing import Any

_PATIENCE_S = 60.0
"""Real seconds to wait for threads, or for other processes when no timer is set, before giving up."""


class NothingWillHappen(AssertionError):
    """Everybody waits and no timer is set."""


class _JumpingSelector(selectors.DefaultSelector):
    loop: "VirtualLoop"

    def select(self, timeout: float | None = None) -> list[tuple[SelectorKey, int]]:
        if not self.loop.has_sockets and timeout is not None:
            self.loop.now_s += timeout
            return []
        ready = super().select(0)
        if ready or timeout == 0:
            return ready
        if self.loop.working:
            return self._wait("a thread")
        if timeout is None:
            return self._wait("a timer or a socket")
        self.loop.now_s += timeout
        return []

    def _wait(self, what: str) -> list[tuple[SelectorKey, int]]:
        ready = super().select(_PATIENCE_S)
        if not ready:
            raise NothingWillHappen(f"Waited {_PATIENCE_S} real seconds for {what}.")
        return ready


class QuietLoop(asyncio.SelectorEventLoop):
    """An asyncio loop that counts the threads that work for it."""

    working = 0

    def run_in_executor(  # type: ignore[override]
        self, executor: Executor | None, func: Callable[..., Any], *args: Any
    ) -> asyncio.Future[Any]:
        """Hand work to a thread."""
        future = super().run_in_executor(executor, func, *args)
        self.working += 1
        future.add_done_callback(self._back)
        return future

    def _back(self, _: asyncio.Future[Any]) -> None:
        self.working -= 1

    async def quiet(self) -> None:
        """Wait until no task can go on and no thread works: what is left waits for a timer, a socket or a key."""
        await asyncio.sleep(0)
        while self._ready or self.working:  # type: ignore[attr-defined]  # noqa: ASYNC110 - no event tells this
            await asyncio.sleep(0 if self._ready else 0.001)  # type: ignore[attr-defined]


class VirtualLoop(QuietLoop):
    """An asyncio loop in virtual time; now_s starts at 1000 s, so that no moment is mistaken for "never".

    Without sockets (and threads) nothing has to be asked of the kernel before time jumps.
    """

    def __init__(self, has_sockets: bool = True) -> None:
        self.now_s = 1_000.0
        self.has_sockets = has_sockets
        selector = _JumpingSelector()
        selector.loop = self
        super().__init__(selector)

    def time(self) -> float:
        """Return the virtual time in seconds."""
        return self.now_s

    def stall(self, seconds: float) -> None:
        """Let time pass in which nothing runs, as when the machine sleeps."""
        self.now_s += seconds


async def end(task: asyncio.Task[None]) -> None:
    """Cancel a task and wait until it has ended."""
    task.cancel()
    with suppress(asyncio.CancelledError):
        await task

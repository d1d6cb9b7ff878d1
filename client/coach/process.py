"""The coach for screens: it thinks in a process of its own, so that no key waits for it and it can be stopped at once.

A process and not a thread: the coach's many short array operations hold the interpreter's lock in turn with the event
loop. Measured beside a loop that wakes every 10 ms and works for 3 ms (python -m tests.bench.review has the numbers), a
thread makes the loop late several times as often as a process does. A process is also stopped by ending it, wherever
it is.

One process serves one job at a time, is started by the first, and stays for the next; one that is stopped is replaced.
"""

import asyncio
import os
import pickle
import sys
from collections.abc import AsyncGenerator, Callable, Iterator
from contextlib import aclosing
from typing import Any, TypeVar, cast

from client.coach import worker as coach_worker
from client.coach.worker import LENGTH_BYTES, pack
from shared.troubles import describe_error

A = TypeVar("A")


class CoachFailed(ValueError):
    """The coach could not answer; the message is one sentence for the player."""


class CoachService:
    """Answers jobs of client.coach.jobs. Close it, or use it as an async context manager."""

    def __init__(self) -> None:
        """Start nothing yet."""
        self._process: asyncio.subprocess.Process | None = None
        self._turn = asyncio.Lock()

    async def __aenter__(self) -> "CoachService":
        """Return itself."""
        return self

    async def __aexit__(self, *_: object) -> None:
        """Close."""
        await self.close()

    async def each(self, job: Callable[..., Iterator[A]], *given: object) -> AsyncGenerator[A, None]:
        """Yield the answers of a job as they come; closing the generator stops the job.

        Jobs wait for their turn. Use contextlib.aclosing (or cancel the task) to stop early.

        Raises:
            CoachFailed: with the job's own sentence, or because its process ended.
        """
        async with aclosing(self._answers(job, given)) as answers:
            async for answer in answers:
                yield answer

    async def one(self, job: Callable[..., A], *given: object) -> A:
        """Return the answer of a job; cancelling the task stops it.

        Raises:
            CoachFailed: with the job's own sentence, or because its process ended.
        """
        async with aclosing(self._answers(job, given)) as answers:
            async for answer in answers:
                found = answer
        return cast(A, found)

    async def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is None or process.returncode is not None:
            return
        process.kill()
        await process.wait()

    async def _answers(self, job: Callable[..., Any], given: tuple[object, ...]) -> AsyncGenerator[Any, None]:
        async with self._turn:
            process, is_done = await self._started(), False
            try:
                assert process.stdin is not None
                process.stdin.write(pack((job, given)))
                await process.stdin.drain()
                while (frame := await _frame(process))[0] == "answer":
                    yield frame[1]
                is_done = True
                if frame[0] == "failed":
                    raise CoachFailed(frame[1])
            except (asyncio.IncompleteReadError, ConnectionError) as error:
                raise CoachFailed("The coach ended before it had answered; ask again.") from error
            finally:
                if not is_done:
                    await self.close()

    async def _started(self) -> asyncio.subprocess.Process:
        if self._process is None or self._process.returncode is not None:
            try:
                self._process = await asyncio.create_subprocess_exec(
                    sys.executable,
                    "-m",
                    coach_worker.__name__,
                    stdin=asyncio.subprocess.PIPE,
                    stdout=asyncio.subprocess.PIPE,
                    stderr=asyncio.subprocess.DEVNULL,
                    env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
                )
            except OSError as error:
                raise CoachFailed(f"The coach cannot be started: {describe_error(error)}.") from error
        return self._process


async def _frame(process: asyncio.subprocess.Process) -> coach_worker.Frame:
    assert process.stdout is not None
    length = int.from_bytes(await process.stdout.readexactly(LENGTH_BYTES), "big")
    frame: coach_worker.Frame = pickle.loads(await process.stdout.readexactly(length))
    return frame

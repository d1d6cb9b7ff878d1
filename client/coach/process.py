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
from collections.abc import AsyncGenerator, Callable, Iterator, Sequence
from contextlib import aclosing
from typing import Any, TypeVar, cast

from client.coach import worker
from client.coach.worker import Frame, pack
from shared.troubles import describe_error
from shared.worker import Process, Worker, WorkerEnded

A = TypeVar("A")


class CoachFailed(ValueError):
    """The coach could not answer; the message is one sentence for the player."""


class CoachService:
    """Answers jobs of client.coach.jobs. Close it, or use it as an async context manager."""

    def __init__(self) -> None:
        """Start nothing yet."""
        self._worker = Worker(worker.__name__, _spawn)
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
        await self._worker.close()

    async def _answers(self, job: Callable[..., Any], given: tuple[object, ...]) -> AsyncGenerator[Any, None]:
        failure = ""
        try:
            async with self._turn, aclosing(self._worker.answers(pack((job, given)))) as answers:
                async for answer in answers:
                    frame: Frame = pickle.loads(answer)
                    if frame[0] == "answer":
                        yield frame[1]
                    else:
                        failure = frame[1]
        except WorkerEnded as error:
            raise CoachFailed("The coach stopped before it answered; ask again.") from error
        except OSError as error:
            raise CoachFailed(f"The coach cannot be started: {describe_error(error)}.") from error
        if failure:
            raise CoachFailed(failure)


async def _spawn(command: Sequence[str], path: Sequence[str]) -> Process:
    return await asyncio.create_subprocess_exec(
        *command,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(path)},
    )

"""The coach of an evening, in one process of its own: a seat's heat is reviewed at a time, and no table waits for it.

A process and not a thread, since the coach's many short array operations would take turns with the event loop at the
interpreter's lock; its priority is the lowest there is, and it counts on one core. It is started by the first heat,
and ended, wherever it is, by closing or by cancelling whoever waits for it.
"""

import asyncio
import os
import sys
from typing import Protocol

from server.club import review_worker
from server.club.review_worker import ANSWER, LENGTH_BYTES, framed
from shared.codec import BadFrame
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat

_ONE_CORE = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


class ReviewerEnded(Exception):
    """The reviewer ended before it had answered; another may be asked."""


class Reviewer(Protocol):
    """Who looks at heats for the standings."""

    async def look(self, heat: SeatHeat) -> Reviewed | None:
        """Return what the review of a heat comes to, None if it cannot be judged. Raises ReviewerEnded."""
        ...

    async def close(self) -> None:
        """Stop; whoever asks again starts it again."""
        ...


class ReviewProcess:
    """Reviews one heat at a time. Close it."""

    def __init__(self) -> None:
        """Start nothing yet."""
        self._process: asyncio.subprocess.Process | None = None

    async def look(self, heat: SeatHeat) -> Reviewed | None:
        """Return what the review of a heat comes to, None if it cannot be judged.

        Raises:
            ReviewerEnded: the process could not be started, or has ended.
        """
        is_done = False
        try:
            process = await self._started()
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(framed(SEAT_HEAT.pack(heat)))
            await process.stdin.drain()
            length = int.from_bytes(await process.stdout.readexactly(LENGTH_BYTES), "big")
            answer = ANSWER.unpack(await process.stdout.readexactly(length))
            is_done = True
            return answer.reviewed
        except (OSError, EOFError, BadFrame) as error:
            raise ReviewerEnded(type(error).__name__) from error
        finally:
            if not is_done:
                await self.close()

    async def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.returncode is None:
            process.kill()
        await process.wait()

    async def _started(self) -> asyncio.subprocess.Process:
        if self._process is None or self._process.returncode is not None:
            path = os.pathsep.join(filter(None, sys.path))
            self._process = await asyncio.create_subprocess_exec(
                sys.executable,
                "-m",
                review_worker.__name__,
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                stderr=asyncio.subprocess.DEVNULL,
                env={**os.environ, **_ONE_CORE, "PYTHONPATH": path},
            )
        return self._process

"""The coach of an evening, in one process of its own: a seat's heat is reviewed at a time, and no table waits for it.

A process and not a thread, since the coach's many short array operations would take turns with the event loop at the
interpreter's lock; its priority is the lowest there is, and it counts on one core. It is started by the first heat,
and ended, wherever it is, by closing or by cancelling whoever waits for it.
"""

import asyncio
import os
from collections.abc import Sequence
from contextlib import aclosing
from typing import Protocol

from server.club import review_worker
from server.club.review_worker import ANSWER, ASKED, Asked
from shared.codec import BadFrame
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SeatHeat
from shared.worker import Process, Worker, WorkerEnded

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

    def __init__(self, card: str = "") -> None:
        """Start nothing yet. card is the text of the evening's card, where heats do not hold it."""
        self._card = card
        self._worker = Worker(review_worker.__name__, _spawn)

    @property
    def pid(self) -> int | None:
        """The number of the process, if there is one."""
        return self._worker.pid

    async def look(self, heat: SeatHeat) -> Reviewed | None:
        """Return what the review of a heat comes to, None if it cannot be judged.

        Raises:
            ReviewerEnded: the process could not be started, or has ended.
        """
        try:
            async with aclosing(self._worker.answers(ASKED.pack(Asked(heat=heat, card=self._card)))) as answers:
                found = [ANSWER.unpack(answer).reviewed async for answer in answers]
        except (OSError, WorkerEnded, BadFrame) as error:
            raise ReviewerEnded(type(error).__name__) from error
        return found[0]

    async def close(self) -> None:
        """End the process."""
        await self._worker.close()


async def _spawn(command: Sequence[str], path: Sequence[str]) -> Process:
    return await asyncio.create_subprocess_exec(
        *command,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        env={**os.environ, **_ONE_CORE, "PYTHONPATH": os.pathsep.join(path)},
    )

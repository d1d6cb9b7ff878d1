"""The coach in this very process, for tests of screens: the real jobs, answered in the order in which they come."""

from collections.abc import AsyncGenerator, Callable, Iterator
from typing import TypeVar

A = TypeVar("A")


class CoachHere:
    """In the shape of client.coach.queue.Service. held keeps back what comes after so many answers of a job."""

    def __init__(self, held: int | None = None) -> None:
        self.asked: list[str] = []
        self.held = held

    async def each(self, job: Callable[..., Iterator[A]], *given: object) -> AsyncGenerator[A, None]:
        self.asked.append(job.__name__)
        for number, answer in enumerate(job(*given)):
            if self.held is not None and number >= self.held:
                await _never()
            yield answer

    async def one(self, job: Callable[..., A], *given: object) -> A:
        self.asked.append(job.__name__)
        return job(*given)

    async def close(self) -> None:
        """Nothing to end."""


async def _never() -> None:
    import asyncio

    await asyncio.Event().wait()

"""The coach in this very process, for tests of screens: the real jobs, answered in the order in which they come.

What a job answers follows from what it is given, so the tests of a process share each answer: it is worked out once.
"""

import asyncio
import pickle
from collections.abc import AsyncGenerator, Callable, Iterator
from itertools import count
from typing import Any, TypeVar

A = TypeVar("A")

_begun: dict[tuple[str, bytes], tuple[list[Any], Iterator[Any]]] = {}
"""What every job has answered so far, and its generator, by its name and what it was given."""


class CoachHere:
    """In the shape of client.coach.queue.Service. held keeps back what comes after so many answers of a job."""

    def __init__(self, held: int | None = None) -> None:
        self.asked: list[str] = []
        self.held = held

    async def each(self, job: Callable[..., Iterator[A]], *given: object) -> AsyncGenerator[A, None]:
        self.asked.append(job.__name__)
        for number, answer in enumerate(_answers(job, *given)):
            if self.held is not None and number >= self.held:
                await asyncio.Event().wait()
            yield answer

    async def one(self, job: Callable[..., A], *given: object) -> A:
        self.asked.append(job.__name__)

        def alone(*given: object) -> Iterator[A]:
            yield job(*given)

        alone.__name__ = job.__name__
        return next(_answers(alone, *given))

    async def close(self) -> None:
        """Nothing to end."""


def _answers(job: Callable[..., Iterator[A]], *given: object) -> Iterator[A]:
    """Yield the answers of a job; those that it gave to an earlier test are not worked out again."""
    key = job.__name__, pickle.dumps(given)
    known, more = _begun.setdefault(key, ([], job(*given)))
    for number in count():
        if number == len(known):
            try:
                known.append(next(more))
            except StopIteration:
                return
            except Exception:
                del _begun[key]
                raise
        yield known[number]

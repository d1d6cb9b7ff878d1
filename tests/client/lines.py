"""What lines straight into a table or a clock share, for screens in tests: no socket, and a time of their own."""

import asyncio
from abc import ABC, abstractmethod
from collections.abc import Callable

from client.connection.link import Heard
from shared.rules.intents import Intent
from shared.wire.messages import Done, Refused


class Inbox:
    """A line in the shape that the screens use, but for who answers: what was asked, and what is to be heard."""

    rtt_ms = 0

    def __init__(self) -> None:
        self.inbox: asyncio.Queue[Heard | None] = asyncio.Queue()
        self.asked: list[Intent] = []

    async def run(self, hear: Callable[[Heard], None]) -> None:
        while (heard := await self.inbox.get()) is not None:
            hear(heard)

    def close(self) -> None:
        self.inbox.put_nowait(None)


class StraightLine(Inbox, ABC):
    """A line whose subclasses say who answers, and what is shown after each answer."""

    @abstractmethod
    def answer(self, intent: Intent, heat: int) -> Done | Refused: ...

    @abstractmethod
    def show(self) -> None: ...

    def ask(self, intent: Intent, heat: int) -> int:
        self.asked.append(intent)
        answer = self.answer(intent, heat)
        self.inbox.put_nowait(answer.model_copy(update={"id": len(self.asked)}))
        self.show()
        return len(self.asked)

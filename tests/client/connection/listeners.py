"""Somebody at the end of a line, for tests."""

import asyncio
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from client.connection.address import Address
from client.connection.link import Heard, Link
from shared.rules.intents import Ready
from shared.rules.settings import Settings
from shared.wire.messages import (
    Done,
    Refused,
)
from shared.wire.views import View
from tests.server.players import CODE, answer_to, owes

READY = Ready()
SHORT = Settings(seed=11, heats=1, bot_pace="quick", second="never", courtesy=False)


class Listener:
    """Somebody at the end of a line who keeps all that was heard, and answers every question once."""

    def __init__(self, link: Link, plays: bool = False) -> None:
        self.link, self.plays = link, plays
        self.heard: list[Heard] = []
        self.asked = Counter[int]()
        self._answered: set[tuple[int, str]] = set()
        self._news = asyncio.Event()

    def hear(self, heard: Heard) -> None:
        self.heard.append(heard)
        self._news.set()
        if not isinstance(heard, View) or not self.plays:
            return
        if heard.phase == "over":
            self.link.close()
        elif (
            owes(heard)
            and heard.heat
            and heard.heat.step
            and (heard.heat.number, heard.heat.step) not in self._answered
        ):
            self._answered.add((heard.heat.number, heard.heat.step))
            self.asked[self.link.ask(answer_to(heard), heard.heat_number)] += 1

    async def until(self, kind: type[Heard], count: int = 1) -> Heard:
        """Wait until so many of a kind were heard, and return the last."""
        while len(found := [heard for heard in self.heard if isinstance(heard, kind)]) < count:
            self._news.clear()
            await self._news.wait()
        return found[-1]

    @property
    def answers(self) -> list[Done | Refused]:
        return [heard for heard in self.heard if isinstance(heard, Done | Refused)]


def link_to(port: int, name: str = "Ann", code: str = CODE, token: bytes | None = None) -> Link:
    return Link(Address("127.0.0.1", port), name, code, token or bytes([7]) * 16)


@asynccontextmanager
async def listening(link: Link, plays: bool = False) -> AsyncIterator[Listener]:
    listener = Listener(link, plays)
    running = asyncio.create_task(link.run(listener.hear))
    try:
        yield listener
    finally:
        link.close()
        await running

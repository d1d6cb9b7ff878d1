"""Somebody who plays in plain lines, for tests."""

import asyncio
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from client.connection.address import Address
from client.connection.link import Link
from client.plain.sentences import Kind
from client.plain.session import Lines, play
from client.storage.journal import disk_journal
from server.table.bots import choose
from shared.rules.intents import Offer, Pass, SeatIntent, Vote
from shared.rules.settings import Settings
from shared.rules.tiles import format_tiles
from shared.rules.wall import Stream
from shared.wire.views import HeatView
from tests.client.here import CoachHere
from tests.server.players import CODE, House

QUICK = Settings(seed=11, heats=1, bot_pace="quick")


class Person:
    """Somebody who reads lines and types lines."""

    def __init__(self) -> None:
        self.lines: Lines = asyncio.Queue()
        self.said: list[str] = []
        self.at_s: list[float] = []
        self.exit_code: int | None = None
        self._news = asyncio.Event()

    def hear(self, line: str) -> None:
        self.said.append(line)
        self.at_s.append(asyncio.get_running_loop().time())
        self._news.set()

    def types(self, *lines: str) -> None:
        for line in lines:
            self.lines.put_nowait(line)

    def stops(self) -> None:
        """End the input."""
        self.lines.put_nowait(None)

    async def until(self, pattern: str, count: int = 1) -> str:
        """Wait until so many lines fit a pattern, and return the last of them."""
        while len(found := [line for line in self.said if re.search(pattern, line)]) < count:
            self._news.clear()
            await self._news.wait()
        return found[-1]

    async def gets_ready(self) -> None:
        await self.until("^Write ready")
        self.types("ready")

    async def answered(self, line: str, pattern: str) -> str:
        """Type a line and return the first line after it that fits a pattern."""
        before = len(self.said)
        self.types(line)
        while not (found := [said for said in self.said[before:] if re.search(pattern, said)]):
            self._news.clear()
            await self._news.wait()
        return found[0]


@asynccontextmanager
async def sitting(
    port: int, folder: Path, is_typed: bool = True, kind: Kind = "with others", coach: CoachHere | None = None
) -> AsyncIterator[Person]:
    """Somebody at a table, in plain lines."""
    person = Person()
    link = Link(Address("127.0.0.1", port), "Ann", CODE, bytes(range(16)))
    journal = disk_journal(folder / "history.sqlite3", folder)
    playing = asyncio.create_task(play(link, person.lines, person.hear, folder, journal, is_typed, kind, coach))
    try:
        yield person
    finally:
        link.close()
        person.exit_code = await playing


def typed(view: HeatView) -> str:
    """Return the line that a person types for what a bot would choose."""
    intent: SeatIntent = choose(view, Stream(b"typist", f"{view.step}"))
    match intent:
        case Pass():
            return format_tiles(intent.tiles)
        case Vote():
            return "go on" if intent.go_on else "stop"
        case Offer():
            return str(intent.count)
    raise AssertionError(intent)


def heard_rack(line: str) -> list[str]:
    """Return the tiles of a rack that was read out, by name."""
    return re.findall(r"\b[a-n]: ([^,.]+)", line)


def view_of(house: House, chair: int = 0) -> HeatView:
    running = house.table._heat
    assert running
    return running.view(chair, 0)

"""People for the server's tests: real WebSocket clients that answer with a bot's choice after a time of their own."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from itertools import count
from pathlib import Path
from random import Random
from typing import Literal

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from client.models.wall import WallWatch
from server.admission import Admission
from server.net.listener import DEFAULT_LIMITS, Limits, Listener, open_listener
from server.records import TableRecord
from server.store import Store
from server.table.bots import choose
from server.table.table import Table
from shared.rules.intents import Intent, Ready, SeatIntent
from shared.rules.settings import Settings
from shared.rules.wall import Stream
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import DeskIntent
from shared.wire.messages import (
    NOTHING_HELD,
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    AnyServerMessage,
    Command,
    DeskCommand,
    Done,
    Hello,
    Refused,
    Welcome,
)
from shared.wire.views import View

CODE = "maple-otter-lemon-07"
Role = Literal["player", "desk", "watcher", "teacher"]


def counted_bytes() -> Callable[[int], bytes]:
    """Return a source of bytes that is different at every call and the same in every run."""
    numbers: Iterator[int] = count(1)
    return lambda length: Stream(b"tests", f"bytes {next(numbers)}")._take(length)


def make_table(
    settings: Settings | None = None, code: str = CODE, name: str = "Boathouse", kind: type[Table] = Table
) -> Table:
    record = TableRecord(id=f"t {code}", name=name, code=code, settings=settings or Settings(seed=7))
    return kind(record, counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")


class House:
    """An open server with its listener and one table."""

    def __init__(self, admission: Admission, listener: Listener, table: Table) -> None:
        self.admission, self.listener, self.table = admission, listener, table


@asynccontextmanager
async def open_house(
    settings: Settings | None = None,
    path: Path | None = None,
    limits: Limits = DEFAULT_LIMITS,
    table: Table | None = None,
) -> AsyncIterator[House]:
    store = Store.open(path)
    table = table or make_table(settings)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0, limits=limits) as listener:
        admission.add(table)
        yield House(admission, listener, table)
    await store.close()


class Player:
    """One person with one connection at a time, who keeps all that was heard."""

    def __init__(self, port: int, name: str = "Ann", code: str = CODE, role: Role = "player") -> None:
        self.port, self.name, self.code, self.role = port, name, code, role
        self.table, self.host = "", ""
        """The table's id, where a host has several; and the address to come from, if not any."""
        self.held = NOTHING_HELD
        self.heard: list[AnyServerMessage] = []
        self.frames: list[bytes] = []
        self.view: View | None = None
        self.shown: ClubView | None = None
        self.evening: Evening | None = None
        self.token: bytes | None = None
        self.closed: tuple[int, str] | None = None
        self.ids = count(1)
        self._line: ClientConnection | None = None
        self._listening: asyncio.Task[None] | None = None
        self._news = asyncio.Condition()
        self.wall = WallWatch(Random(name).randbytes)
        self.takes_part = True
        """Whether this client answers in the rounds in which walls are made."""

    @property
    def line(self) -> ClientConnection:
        assert self._line is not None
        return self._line

    async def come(self) -> Welcome:
        """Connect, say hello, and wait for the welcome and the first view."""
        await self.say_hello()
        await self.until(lambda view: True)
        return next(message for message in reversed(self.heard) if isinstance(message, Welcome))

    async def say_hello(self) -> None:
        self.closed = self.view = self.shown = None
        where = (self.host, 0) if self.host else None
        self._line = await connect(
            f"ws://127.0.0.1:{self.port}", compression=None, ping_interval=None, local_addr=where
        )
        self._listening = asyncio.create_task(self._listen(self._line))
        hello = Hello(
            protocol=PROTOCOL,
            name=self.name,
            code=self.code,
            token=self.token,
            role=self.role,
            table=self.table,
            held=self.held,
        )
        with contextlib.suppress(ConnectionClosed):
            await self._line.send(TO_SERVER.pack(hello))

    async def cut(self) -> None:
        """Lose the line without a word."""
        self.line.transport.abort()
        await self.line.wait_closed()
        if self._listening:
            await self._listening

    async def go(self) -> None:
        await self.line.close()
        if self._listening:
            await self._listening

    async def end(self) -> tuple[int, str]:
        """Return the code and the reason with which the server closes the line, within ten minutes."""
        assert self._listening
        async with asyncio.timeout(600):
            await self._listening
        assert self.closed
        return self.closed

    async def until(self, wanted: Callable[[View], bool]) -> View:
        """Return the first view from now on, or the present one, that is as wanted."""
        async with self._news:
            await self._news.wait_for(lambda: self.closed or (self.view is not None and wanted(self.view)))
        assert self.closed is None, f"{self.name} was closed: {self.closed}"
        assert self.view is not None
        return self.view

    async def see(self, wanted: Callable[[ClubView], bool]) -> ClubView:
        """Return the first view of the whole evening that is as wanted."""
        async with self._news:
            await self._news.wait_for(lambda: self.closed or (self.shown is not None and wanted(self.shown)))
        assert self.closed is None, f"{self.name} was closed: {self.closed}"
        assert self.shown is not None
        return self.shown

    async def order(self, intent: DeskIntent) -> Done | Refused:
        """Send an intent of the desk and return the answer."""
        number = next(self.ids)
        before = len(self.heard)
        await self.line.send(TO_SERVER.pack(DeskCommand(id=number, intent=intent)))
        return await self._answer(number, before)

    async def send(self, intent: Intent, number: int | None = None, heat: int | None = None) -> int:
        assert self.view is not None or self.shown is not None
        number = next(self.ids) if number is None else number
        heat = (self.view.heat_number if self.view else 0) if heat is None else heat
        await self.line.send(TO_SERVER.pack(Command(id=number, heat=heat, intent=intent)))
        return number

    async def ask(self, intent: Intent, number: int | None = None) -> Done | Refused:
        """Send an intent and return the table's answer to it."""
        before = len(self.heard)
        return await self._answer(await self.send(intent, number), before)

    async def _answer(self, number: int, before: int) -> Done | Refused:
        def answer() -> Done | Refused | None:
            answers = (message for message in self.heard[before:] if isinstance(message, Done | Refused))
            return next((message for message in answers if message.id == number), None)

        async with asyncio.timeout(600), self._news:
            await self._news.wait_for(lambda: self.closed or answer())
        found = answer()
        assert found is not None, f"{self.name} was closed: {self.closed}"
        return found

    async def _listen(self, line: ClientConnection) -> None:
        try:
            while True:
                frame = await line.recv(decode=False)
                message = TO_CLIENT.unpack(frame)
                self.frames.append(frame)
                self.heard.append(message)
                if isinstance(message, Welcome):
                    self.token = message.token
                    self.wall.connected(message.table)
                if isinstance(message, View):
                    self.view = message
                    await self._take_part(line, message)
                if isinstance(message, ClubView):
                    self.shown = message
                if isinstance(message, Evening):
                    self.evening = message
                await self._tell()
        except ConnectionClosed:
            self.closed = (line.close_code or 1006, line.close_reason or "")
            await self._tell()

    async def _take_part(self, line: ClientConnection, view: View) -> None:
        """Send this client's part in a wall that is being made."""
        for intent in self.wall.see(view).intents if self.takes_part else ():
            await line.send(TO_SERVER.pack(Command(id=next(self.ids), heat=view.heat_number, intent=intent)))

    async def _tell(self) -> None:
        async with self._news:
            self._news.notify_all()


async def guess(port: int, host: str = "", code: str = "maple-otter-lemon-08", role: Role = "player") -> Player:
    """Say hello from an address with a code, wrong unless it is said, and return who did."""
    stranger = Player(port, "Mallory", code, role)
    stranger.host = host
    await stranger.say_hello()
    return stranger


def answer_to(view: View, seed: bytes = b"people") -> SeatIntent:
    """Return a legal answer to what a view asks, the same for the same view's step and seat."""
    assert view.heat is not None
    return choose(view.heat, Stream(seed, f"{view.heat.number} {view.heat.step} {view.heat.seat}"))


def owes(view: View) -> bool:
    return view.heat is not None and view.heat.owes and not view.heat.paused


async def play_heat(player: Player, number: int, delay_ms: Callable[[View], int]) -> None:
    """Say ready for a heat, answer each of its steps after a delay, and stop when it has ended."""
    view = await player.until(lambda view: view.phase != "heat" or view.heat_number == number)
    if view.phase != "heat":
        await player.send(Ready())
    while True:
        view = await player.until(lambda view: owes(view) or len(view.results) >= number)
        if len(view.results) >= number:
            return
        await asyncio.sleep(delay_ms(view) / 1_000)
        if player.view and owes(player.view):
            await player.ask(answer_to(player.view))


@asynccontextmanager
async def four_players(port: int, code: str = CODE) -> AsyncIterator[tuple[Player, Player, Player, Player]]:
    """Four people who come one after the other, so that their chairs are 0 to 3."""
    players = Player(port, "Ann", code), Player(port, "Bo", code), Player(port, "Cy", code), Player(port, "Di", code)
    for player in players:
        await player.come()
    yield players
    for player in players:
        if player.closed is None:
            await player.go()

"""A person at a shared clock for real tiles, for tests: the real screen and rules in a time of their own, no socket."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass

from client.connection.link import Connected
from client.connection.opened import Opened
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.ports import AtClock, Openers
from client.tui.screens.shared_clock import SharedClockScreen
from shared.rules.intents import Intent
from shared.wire.messages import PROTOCOL, Done, Refused, Welcome
from tests.client.lines import StraightLine
from tests.client.player import AtScreen
from tests.client.tables import Time
from tests.groups import TWO_MINUTES, Circle


class ClockLine(StraightLine):
    """A line straight into a circle."""

    def __init__(self, circle: Circle, chair: int, now_ms: Time) -> None:
        super().__init__()
        self.circle, self.chair, self.now_ms = circle, chair, now_ms
        self._told = 0
        table = circle.table.record.id
        welcome = Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=0, table=table)
        self.inbox.put_nowait(Connected(welcome))
        self.show()

    def answer(self, intent: Intent, heat: int) -> Done | Refused:
        return self.circle.ask(self.chair, intent, heat)

    def show(self) -> None:
        """Tell how the clock stands now, and one's own times that were not told yet."""
        self.now_ms.ms = self.circle.now_ms
        for told in self.circle.times(self.chair)[self._told :]:
            self.inbox.put_nowait(told)
            self._told += 1
        self.inbox.put_nowait(self.circle.view(self.chair))


@dataclass
class Clock(AtScreen):
    """One person's screen at a circle."""

    line: ClockLine

    @property
    def circle(self) -> Circle:
        return self.line.circle

    @property
    def screen(self) -> SharedClockScreen:
        assert isinstance(self.app.screen, SharedClockScreen)
        return self.app.screen

    async def show(self, seconds: float = 0) -> None:
        """Let time pass, and the screen see what happened beside it."""
        self.circle.wait(seconds)
        self.line.show()
        await self.settle()


@asynccontextmanager
async def clock_at(
    size: tuple[int, int],
    people: int = 4,
    chair: int = 0,
    look: Look | None = None,
    journal: Journal | None = None,
    circle: Circle | None = None,
    together: bool = True,
) -> AsyncIterator[Clock]:
    """Run the app at a shared clock, as the host or as one of the guests, or at the clock that leads there."""
    now_ms = Time()
    line = ClockLine(circle or Circle(people), chair, now_ms)
    addresses = ("192.0.2.20:15214", "198.51.100.7:15214") if chair == 0 else ()

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line, addresses, who_reads="Others can read along." if addresses else "")

    openers = Openers(
        solo=lambda settings, name, card: opening(),
        host=lambda settings, name, port, card: opening(),
        join=lambda address, name, code, card, watches: opening(),
        together=lambda settings, name, port: opening(),
    )
    storage = Storage(load_look=lambda: look or Look())
    start = AtClock(TWO_MINUTES, together=together)
    app = RacktempoApp(openers, start, name="Anna", now_ms=now_ms, storage=storage, journal=journal)
    async with app.run_test(size=size) as pilot:
        clock = Clock(app, pilot, line)
        await clock.settle()
        yield clock

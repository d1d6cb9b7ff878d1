"""A person at a running app, for tests: the real screens and rules, in a time of their own."""

import time
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass

from textual.pilot import Pilot

from client.models.rack import PLACES
from client.models.table import TableModel
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.ports import AtSolo, Start
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings
from tests.client.here import CoachHere
from tests.client.tables import TableLine, Time, openers_to


@dataclass
class AtScreen:
    """A person at a running app."""

    app: RacktempoApp
    pilot: Pilot[None]

    @property
    def model(self) -> TableModel:
        assert isinstance(self.app.session, TableModel)
        return self.app.session

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.settle()

    async def settle(self) -> None:
        """Wait until the app has taken in and drawn everything."""
        for _ in range(3):
            await self.pilot.pause()

    async def until(self, holds: Callable[[], object]) -> None:
        """Wait until what runs beside the screen has brought something about."""
        ends_at = time.monotonic() + 60
        while not holds():
            assert time.monotonic() < ends_at, "it never came about"
            await self.pilot.pause(0.01)
        await self.settle()


@dataclass
class Player(AtScreen):
    """A person at a running app, with a table of their own."""

    line: TableLine

    async def others_play(self) -> None:
        self.line.let_others_play()
        await self.settle()

    def free(self) -> list[str]:
        rack = self.model.rack
        return [PLACES[place] for place in range(len(rack.tiles)) if rack.may_lift(place)]

    async def play_to(self, step: str) -> None:
        """Play on until a step begins, by what keys do and without the wait of a key press."""
        while (running := self.model.step) and running.name != step:
            assert self.app.is_running
            letters = self.free()[: self.model.wanted]
            screen = self.app.screen
            assert isinstance(screen, TableScreen)
            for key in {"vote": ["1"], "offer": ["2"]}.get(running.ask, letters):
                screen.do(key)
            screen.do("enter")
            await self.others_play()


@asynccontextmanager
async def at(
    size: tuple[int, int],
    start: Start | None = None,
    settings: Settings | None = None,
    look: Look | None = None,
    name: str = "Anna",
    journal: Journal | None = None,
    coach: CoachHere | None = None,
    card: str = "",
    copies: Mapping[str, str] | None = None,
    is_guest: bool = False,
) -> AsyncIterator[Player]:
    """Run the app with openers that all lead to one table in a time of its own.

    card is the text of the table's card, the practice card if empty; copies are the cards of this machine by digest.
    """
    now_ms = Time()
    line = TableLine(settings or Settings(seed=7), now_ms, name, card=card)
    here = copies or {}
    storage = Storage(load_look=lambda: look or Look(), find_card=lambda digest: here.get(digest, ""))
    openers = openers_to(line, () if is_guest else ("192.0.2.20:15214", "198.51.100.7:15214"))
    app = RacktempoApp(
        openers,
        start or AtSolo(),
        name=name,
        now_ms=now_ms,
        random_bytes=bytes,
        storage=storage,
        journal=journal,
        coach=coach or CoachHere(),
    )
    async with app.run_test(size=size) as pilot:
        player = Player(app, pilot, line)
        await player.settle()
        yield player

"""A desk at a running app, for tests: the real screens and a whole evening in a time of its own, no socket."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from client.connection.link import Connected, Heard
from client.connection.opened import Opened
from client.models.desk import DeskModel
from client.models.table import TableModel
from client.storage.preferences import Storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtDesk
from shared.measures.standings import Played
from shared.rules.settings import Settings
from shared.wire.club_views import ClubRole, Evening, Ranking, all_places
from shared.wire.desk_intents import DeskOrder
from shared.wire.messages import PROTOCOL, Welcome
from tests.client.player import AtScreen
from tests.client.tables import TableLine, Time, openers_to
from tests.clubs import QUICK, ClubEvening


class ClubLine:
    """A line straight into an evening, in the shape that the screens use."""

    rtt_ms = 0

    def __init__(self, evening: ClubEvening, now_ms: Time, role: ClubRole) -> None:
        self.evening, self.now_ms, self.role = evening, now_ms, role
        self.inbox: asyncio.Queue[Heard | None] = asyncio.Queue()
        self.asked: list[object] = []
        self.show()

    def ask(self, intent: object, heat: int) -> int:
        self.asked.append(intent)
        if isinstance(intent, DeskOrder):
            answer = self.evening.ask(intent)  # type: ignore[arg-type]
            self.inbox.put_nowait(answer.model_copy(update={"id": len(self.asked)}))
            self.show()
        return len(self.asked)

    def show(self) -> None:
        """Show how the evening stands now."""
        self.now_ms.ms = self.evening.now_ms
        self.inbox.put_nowait(self.evening.shown(self.role))
        if self.role == "desk":
            self.inbox.put_nowait(Evening(played=self.evening.club.played()))
        else:
            self.inbox.put_nowait(Ranking.model_validate(all_places(self.evening.club.standings, "")))

    async def run(self, hear: Callable[[Heard], None]) -> None:
        while (heard := await self.inbox.get()) is not None:
            hear(heard)

    def close(self) -> None:
        self.inbox.put_nowait(None)


class GuestLine(ClubLine):
    """A line to a table of the evening, for one of its players."""

    def __init__(self, evening: ClubEvening, now_ms: Time, name: str) -> None:
        self.name, self.place = name, evening.where(name)
        super().__init__(evening, now_ms, "waiting")

    def ask(self, intent: object, heat: int) -> int:
        self.asked.append(intent)
        answer = self.evening.say(self.name, intent)  # type: ignore[arg-type]
        self.inbox.put_nowait(answer.model_copy(update={"id": len(self.asked)}))
        self.show()
        return len(self.asked)

    def show(self) -> None:
        self.now_ms.ms = self.evening.now_ms
        place = self.evening.where(self.name)
        if place != self.place:
            self.place = place
            token = self.evening.tokens[self.name]
            self.inbox.put_nowait(Connected(Welcome(protocol=PROTOCOL, token=token, chair=place[1], last_id=0)))
        self.inbox.put_nowait(self.evening.view(self.name) if place[0] else self.evening.shown("waiting"))


@dataclass
class Desk(AtScreen):
    """Who sits at the desk of an evening."""

    line: ClubLine
    kept: list[tuple[Played, ...]] = field(default_factory=list)

    @property
    def evening(self) -> ClubEvening:
        return self.line.evening

    @property
    def model(self) -> DeskModel:
        assert isinstance(self.app.session, DeskModel)
        return self.app.session

    @property
    def table(self) -> TableModel:
        """The table of a guest who sits at one."""
        assert isinstance(self.app.session, TableModel)
        return self.app.session

    async def show(self) -> None:
        """Let the screen see what happened beside it."""
        self.line.show()
        await self.settle()


@asynccontextmanager
async def desk_at(
    size: tuple[int, int],
    tables: int = 6,
    people: int = 20,
    settings: Settings = QUICK,
    role: ClubRole = "desk",
    evening: ClubEvening | None = None,
    guest: str = "",
    on_wall: bool = False,
) -> AsyncIterator[Desk]:
    """Run the app at the desk of an evening, watching it, on the wall of its room, or as one of its guests."""
    evening = evening or ClubEvening(settings, tables, people=people)
    now_ms = Time()
    line = GuestLine(evening, now_ms, guest) if guest else ClubLine(evening, now_ms, role)
    kept: list[tuple[Played, ...]] = []

    def keep(played: tuple[Played, ...], name: str, least: int) -> str:
        kept.append(played)
        return f"Written for {name}."

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        at = ("192.0.2.20:15214", "198.51.100.7:15214")
        code = evening.club.record.code
        yield Opened(line, at=at[0], code=code) if on_wall else Opened(line, at)

    openers = openers_to(TableLine(Settings(seed=7), Time()))
    app = RacktempoApp(
        openers, AtDesk(opening, on_wall), now_ms=now_ms, random_bytes=bytes, storage=Storage(keep_evening=keep)
    )
    async with app.run_test(size=size) as pilot:
        desk = Desk(app, pilot, line, kept)
        await desk.settle()
        yield desk

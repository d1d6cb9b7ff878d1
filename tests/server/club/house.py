"""An open server with a club, and what people and desks do there."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from server.admission import Admission
from server.club.admission import Shares
from server.club.club import new_club
from server.club.keeper import ClubKeeper
from server.net.listener import Limits, open_listener
from server.records import ClubRecord
from server.store import Store
from shared.measures.standings import Played
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView
from shared.wire.desk_intents import (
    OpenTable,
    StartAll,
)
from shared.wire.messages import Done
from tests.clubs import club_record
from tests.reviewers import FakeReviewer
from tests.server.players import Player, answer_to, counted_bytes, owes

THREE_STEPS = Settings(level_ms=100_000, second="never", courtesy=False, heats=3, bot_pace="quick", carry_over=False)


"""First right 24 s, first across 14 s, first left 14 s: 52 s for a heat."""


class ClubHouse:
    """An open server with a club, and its port."""

    def __init__(self, port: int, club: ClubKeeper) -> None:
        self.port, self.club = port, club

    @property
    def record(self) -> ClubRecord:
        return self.club.club.record

    def guest(self, name: str) -> Player:
        return Player(self.port, name, self.record.code)

    async def desk(self) -> Player:
        desk = Player(self.port, "desk", self.record.desk_code, "desk")
        await desk.say_hello()
        await desk.see(lambda shown: True)
        return desk


@asynccontextmanager
async def open_club(
    settings: Settings = THREE_STEPS,
    tables: int = 0,
    path: Path | None = None,
    reviewer: FakeReviewer | None = None,
    shares: Shares | None = None,
) -> AsyncIterator[ClubHouse]:
    store = Store.open(path)
    record = store.load_club() or club_record(settings, "tern-lake-12", "oar-rope-34")
    limits = Limits(connections_each=64)
    try:
        async with Admission.open(store) as admission:
            club = new_club(record, counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")
            keeper = await admission.add_club(club, store.load(), reviewer, shares or Shares(part=1))
            async with open_listener(admission, "127.0.0.1", 0, limits=limits) as listener:
                house = ClubHouse(listener.port, keeper)
                for _ in range(tables):
                    desk = await house.desk()
                    assert isinstance(await desk.order(OpenTable()), Done)
                    await desk.go()
                yield house
    finally:
        await store.close()


def key_of(shown: ClubView, name: str) -> str:
    chairs = [chair for table in shown.tables for chair in table.chairs]
    return next(one.person for one in (*chairs, *shown.waiting) if one.name == name)


def idle(shown: ClubView) -> bool:
    return all(table.phase != "heat" for table in shown.tables)


async def answer_after(player: Player, delay_ms: int, stop: Callable[[], bool]) -> None:
    """Answer every step delay_ms after it began, whatever happens to the line and the chair, until told to stop."""
    while not stop():
        async with player._news:
            await player._news.wait_for(lambda: stop() or (player.view is not None and owes(player.view)))
        if stop():
            return
        assert player.view
        assert player.view.heat
        clock = player.view.heat.clock
        used_ms = clock.budget_ms - clock.left_ms
        await asyncio.sleep(max(0, delay_ms - used_ms) / 1_000)
        if player.view and owes(player.view):
            await player.ask(answer_to(player.view))


async def play_together(desk: Player, guests: list[Player]) -> None:
    """Let all tables start, everybody answer, and the heat end everywhere."""
    done = False
    acting = [asyncio.create_task(answer_after(guest, 500, lambda: done)) for guest in guests]
    assert isinstance(await desk.order(StartAll(in_ms=0)), Done)
    await desk.see(lambda shown: not idle(shown))
    await desk.see(idle)
    done = True
    for guest in guests:
        await guest._tell()
    await asyncio.gather(*acting)


async def results(desk: Player, wanted: Callable[[tuple[Played, ...]], bool]) -> tuple[Played, ...]:
    """Wait until the desk was told such results."""
    async with asyncio.timeout(600), desk._news:
        await desk._news.wait_for(lambda: desk.evening is not None and wanted(desk.evening.played))
    assert desk.evening
    return desk.evening.played

"""A club killed after any single write: what is on the disk then is opened again, and everything that anybody was told
stands there, clocks stopped, with nobody at two places or at none; and from there the evening goes on.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.club.club import Club, new_club
from server.club.keeper import ClubKeeper
from server.net.listener import Limits, open_listener
from server.records import ClubRecord, hash_token
from server.store import Append, Appends, ClubAppend, Database, Store
from shared.rules.intents import Ready
from shared.rules.settings import Settings
from shared.rules.wall_round import RESTART_MS
from shared.wire.desk_intents import (
    GiveTime,
    HoldClocks,
    LetTeacherSee,
    OpenTable,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    StartAll,
    Unseat,
)
from shared.wire.messages import DeskCommand, Done, Refused
from shared.wire.views import View
from tests.clubs import club_record
from tests.reviewers import FakeReviewer
from tests.server.players import Player, Role, answer_to, counted_bytes, owes

SETTINGS = Settings(level_ms=100_000, second="never", courtesy=False, heats=1, bot_pace="quick", bot_skill="simple")
NAMES = [f"P{number}" for number in range(1, 8)]


@dataclass(frozen=True)
class Kept:
    """How the evening stood at a write, as far as a kill must not change it."""

    record: ClubRecord
    tables: dict[int, object]
    views: dict[tuple[int, int], View]


class RecordedStore(Store):
    """A store in memory that keeps every write, and how the evening stood when it was over."""

    def __init__(self) -> None:
        super().__init__(Database(None), inline=True)
        self.writes: list[Appends] = []
        self.stood: list[Kept] = []
        self.club: Club | None = None

    async def append(self, appends: Appends) -> None:
        await super().append(appends)
        self.writes.append(tuple(appends))
        if self.club:
            self.stood.append(stands(self.club))


def stands(club: Club) -> Kept:
    return Kept(
        club.record,
        {number: table.record for number, table in club.tables.items()},
        {(number, chair): table.view(chair, now_ms()) for number, table in club.tables.items() for chair in range(4)},
    )


@dataclass(frozen=True)
class Acknowledged:
    """What somebody was told to be done or refused, and after how many writes they knew."""

    writes: int
    role: Role
    token: bytes
    id: int


class Guest(Player):
    """A player who notes what is acknowledged."""

    def __init__(self, store: RecordedStore, told: list[Acknowledged], port: int, name: str, code: str, role: Role):
        super().__init__(port, name, code, role)
        self.store, self.told = store, told

    async def _tell(self) -> None:
        if self.heard and isinstance(answer := self.heard[-1], Done | Refused) and self.token:
            self.told.append(Acknowledged(len(self.store.writes), self.role, hash_token(self.token), answer.id))
        await super()._tell()


async def an_evening(settings: Settings) -> tuple[RecordedStore, list[Acknowledged]]:
    """Play an evening of two sets in which everything happens that a desk can ask, and return what was written."""
    store, told = RecordedStore(), list[Acknowledged]()
    async with Admission.open(store) as admission:
        club = store.club = new_club(
            club_record(settings, "tern-lake-12", "oar-rope-34"), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00"
        )
        await admission.add_club(club, (), FakeReviewer(seconds=2))
        async with open_listener(admission, "127.0.0.1", 0, limits=Limits(connections_each=64)) as listener:
            desk = Guest(store, told, listener.port, "desk", club.record.desk_code, "desk")
            await desk.say_hello()
            await desk.see(lambda shown: True)
            for name in ("", "Corner"):
                await desk.order(OpenTable(name=name))
            people = {name: Guest(store, told, listener.port, name, club.record.code, "player") for name in NAMES}
            for person in people.values():
                await person.come()
            await _everything(desk, people)
            await desk.see(lambda shown: shown.looked == shown.to_look_at == 14)
            await asyncio.sleep(20)
    return store, told


async def _everything(desk: Player, people: dict[str, Guest]) -> None:
    shown = await desk.see(lambda shown: len(shown.tables) == 2)
    key = {chair.name: chair.person for table in shown.tables for chair in table.chairs}
    for order in (
        SeatPerson(person=key["P1"], table=2, chair=3),
        Unseat(person=key["P2"]),
        SeatPerson(person=key["P2"], table=1, chair=0),
        RenameTable(table=1, name="By the window"),
        LetTeacherSee(on=True),
        SeatBots(),
        SeatAtRandom(),
        StartAll(in_ms=3_000),
    ):
        await desk.order(order)
    for heat in (1, 2):
        await desk.see(lambda shown: all(table.phase == "heat" for table in shown.tables))
        acting = [asyncio.create_task(_play(person, heat)) for person in people.values()]
        await asyncio.sleep(1.5)
        await desk.order(HoldClocks(table=1))
        await desk.order(GiveTime())
        await people["P5"].cut()
        await people["P5"].say_hello()
        await desk.order(RunClocks())
        await asyncio.gather(*acting)
        await desk.see(lambda shown: all(table.phase == "over" for table in shown.tables))
        if heat == 1:
            assert isinstance(await people["P3"].ask(Ready()), Refused | Done)
            await desk.order(StartAll(in_ms=0))


async def _play(person: Player, heat: int) -> None:
    """Answer after a second and a little more each, so that every answer is a write of its own."""
    while True:
        async with person._news:
            await person._news.wait_for(lambda: person.view is not None and (owes(person.view) or _done(person, heat)))
        if _done(person, heat):
            return
        await asyncio.sleep(1 + 0.05 * NAMES.index(person.name))
        if person.view and owes(person.view):
            await person.ask(answer_to(person.view))


def _done(person: Player, heat: int) -> bool:
    view = person.view
    return view is not None and view.heat is None and view.heat_number == heat


@asynccontextmanager
async def killed_after(store: RecordedStore, writes: int) -> AsyncIterator[tuple[Club, Store]]:
    """Open the evening again from the first so many writes."""
    database = Database(None)
    for appends in store.writes[:writes]:
        database.commit(appends)
    again = Store(database, inline=True)
    record = again.load_club()
    assert record
    async with Admission.open(again) as admission:
        club = new_club(record, counted_bytes(), lambda: "2026-01-01T21:00:00+00:00")
        await ClubKeeper(club, again, admission.add).open(again.load())
        yield club, again


@pytest.mark.parametrize("same_deal", [False, True], ids=["deals of their own", "same deal"])
async def test_after_a_kill_at_any_write_all_that_was_acknowledged_is_there_and_paused(same_deal: bool) -> None:
    store, told = await an_evening(SETTINGS.model_copy(update={"same_deal": same_deal}))
    assert len(store.writes) == len(store.stood) > 80
    assert {one.role for one in told} == {"desk", "player"}
    for writes in range(1, len(store.writes) + 1):
        async with killed_after(store, writes) as (club, _):
            _is_as_it_was(club, store.stood[writes - 1])
            _has_acknowledged(club, [one for one in told if one.writes <= writes])
            assert club.results.looked == _reviews(store.writes[:writes])
            assert sum(one.loss is not None for one in club.played()) == club.results.looked
            assert len(club.played()) == 4 * _heats(store.writes[:writes])
            _goes_on(club)


def _is_as_it_was(club: Club, before: Kept) -> None:
    """Everybody has their place, rack and time; only what follows from what was written may be further on."""
    gone_on = {"closed_round"}
    assert club.record.model_dump(exclude=gone_on) == before.record.model_dump(exclude=gone_on)
    assert club.record.closed_round >= before.record.closed_round
    assert {number: table.record for number, table in club.tables.items()} == before.tables
    people = [place.person.person for place in club.places()]
    assert len(people) == len(set(people))
    for number, table in club.tables.items():
        for chair in range(4):
            view, was = table.view(chair, now_ms()), before.views[number, chair]
            assert [result.number for result in view.results] == [result.number for result in was.results]
            assert (view.heat is None) == (was.heat is None)
            if view.heat and was.heat:
                assert view.heat.paused
                assert not view.heat.clock.running
                assert view.heat.rack == ()
                assert view.heat.step == was.heat.step
                assert view.heat.answered == was.heat.answered
                assert view.heat.clock.left_ms >= was.heat.clock.left_ms


def _has_acknowledged(club: Club, told: list[Acknowledged]) -> None:
    last = {place.person.token_hash: place.person.last_id for place in club.places()}
    for one in told:
        reached = club.record.desk_last_id(one.token) if one.role == "desk" else last[one.token]
        assert reached >= one.id, one


def _goes_on(club: Club) -> None:
    """The desk lets the clocks run, or starts what can start, and that is done once."""
    is_running = any(table.heat for table in club.tables.values())
    has_people = any(table.people for table in club.tables.values())
    intent = RunClocks() if is_running else StartAll(in_ms=0)
    answer, _ = club.command(b"another desk", DeskCommand(id=1, intent=intent), now_ms())
    if is_running or has_people:
        assert isinstance(answer, Done), answer
        for table in club.tables.values():
            table.tick(now_ms() + RESTART_MS)  # nobody has come back for a wall that was being made
        heats = [table.heat for table in club.tables.values() if table.heat]
        assert heats
        assert not any(heat.state.paused for heat in heats)
        again, _ = club.command(b"another desk", DeskCommand(id=1, intent=intent), now_ms())
        assert isinstance(again, Refused)


def _reviews(writes: list[Appends]) -> int:
    return sum(len(append.reviews) for appends in writes for append in appends if isinstance(append, ClubAppend))


def _heats(writes: list[Appends]) -> int:
    return sum(bool(append.finished) for appends in writes for append in appends if isinstance(append, Append))

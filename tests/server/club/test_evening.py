"""A whole evening over real sockets in virtual time: six tables, three heats, twenty people who are moved, cut and
come back; its standings are those that were computed by hand. And what else a club promises over a line.
"""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from fractions import Fraction
from itertools import count
from pathlib import Path

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.club.admission import MOST_BESIDE, Shares
from server.club.club import new_club
from server.club.keeper import ClubKeeper
from server.club.telling import MOST_WITH_STEPS
from server.net.listener import Limits, open_listener
from server.records import ClubRecord
from server.store import Store
from shared.measures.standings import Played, standings
from shared.rules.intents import Lift, Ready, ShowRack
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import (
    MOST_TABLES,
    CloseTable,
    EndEvening,
    HoldClocks,
    LetTeacherSee,
    OpenTable,
    RunClocks,
    SeatPerson,
    StartAll,
    Unseat,
)
from shared.wire.messages import NO_CHAIR, TO_SERVER, VIEW_LIMIT, Close, Command, DeskCommand, Done, Refused, Welcome
from tests.client.full_disk import full_disk
from tests.clubs import club_record
from tests.reviewers import FakeReviewer
from tests.server.players import Player, Role, answer_to, counted_bytes, owes

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


async def test_an_evening_of_six_tables_three_heats_and_twenty_people() -> None:
    async with open_club(tables=6) as house:
        desk = await house.desk()
        names = [f"G{number:02}" for number in range(1, 21)]
        delay_ms = {name: 1_000 + 100 * number for number, name in enumerate(names, start=1)}
        guests = {name: house.guest(name) for name in names}
        for guest in guests.values():
            await guest.come()
        done = False
        # The twentieth sits there and answers nothing all evening.
        acting = [asyncio.create_task(answer_after(guests[name], delay_ms[name], lambda: done)) for name in names[:19]]

        async def start() -> None:
            assert isinstance(await desk.order(StartAll(in_ms=5_000)), Done)
            await desk.see(lambda shown: not idle(shown))

        # Five full tables; table 6 is empty, holds nobody up, and gets people later.
        await start()
        await desk.see(idle)

        # Between the heats: one moves to the empty table, two swap, and one is cut and comes back.
        shown = await desk.see(idle)
        for name, table, chair in (("G01", 6, 2), ("G02", 3, 1)):
            assert isinstance(await desk.order(SeatPerson(person=key_of(shown, name), table=table, chair=chair)), Done)
        assert [one for one in guests["G01"].heard if isinstance(one, Welcome)][-1].chair == 2
        await guests["G03"].cut()
        await start()
        await guests["G03"].come()
        # During the heat: one is cut and comes back in time, one is sent to wait and loses this heat to a bot.
        await guests["G04"].cut()
        await guests["G04"].come()
        shown = await desk.see(lambda shown: True)
        assert isinstance(await desk.order(Unseat(person=key_of(shown, "G05"))), Done)
        await desk.see(idle)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "G05"), table=6, chair=0)), Done)
        await start()
        await desk.see(idle)
        await desk.see(lambda shown: all(table.phase == "over" for table in shown.tables))
        async with desk._news:
            await desk._news.wait_for(lambda: desk.evening and len(desk.evening.played) == 5 * 4 * 3 + 2 * 4)
        assert desk.evening
        told = standings(desk.evening.played)
        done = True
        for guest in guests.values():
            await guest._tell()
        await asyncio.gather(*acting)

        # By hand: who answers each of 3 steps after d ms uses 3d of 52,000 ms; the same part of it in every heat.
        by_name = {line.name: line for line in told.speed}
        assert len(by_name) == 20
        for number, name in enumerate(names[:19], start=1):
            assert by_name[name].value == Fraction(3 * (1_000 + 100 * number), 52_000), name
            assert by_name[name].heats == (2 if name == "G05" else 3), name
        assert (by_name["G01"].amount, by_name["G01"].of) == (9_900, 156_000)
        assert (by_name["G20"].amount, by_name["G20"].of) == (156_000, 156_000)
        assert [line.name for line in told.speed] == names
        assert [line.place for line in told.speed] == list(range(1, 21))
        guest_of = {guest.name: guest for guest in told.guests}
        assert (guest_of["G05"].heats, guest_of["G05"].with_bot, guest_of["G05"].in_time) == (3, 1, 2)
        assert (guest_of["G20"].timeouts, guest_of["G20"].in_time) == (9, 0)
        # Everybody is told the same standing, each with their own line marked.
        view = await guests["G07"].until(lambda view: view.club is not None and len(view.club.speed) == 20)
        assert view.club
        assert [place.name for place in view.club.speed] == names
        assert [place.name for place in view.club.speed if place.you] == ["G07"]


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


async def test_standings_fill_in_while_the_coach_looks_and_say_how_far_it_is() -> None:
    reviewer = FakeReviewer(seconds=4)
    async with open_club(THREE_STEPS.model_copy(update={"same_deal": True}), 2, reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest(f"G0{number}") for number in range(1, 9)]
        for guest in guests:
            await guest.come()
        began_s = asyncio.get_running_loop().time()
        shown = await desk.see(lambda shown: True)
        assert (shown.looked, shown.to_look_at) == (0, 0)
        await play_together(desk, guests)
        await desk.see(lambda shown: (shown.looked, shown.to_look_at) == (0, 8))
        ended_s = asyncio.get_running_loop().time()
        assert ended_s - began_s < 3, "nobody waited for the coach"
        told_before = sum(isinstance(one, Evening) for one in desk.heard)
        shown = await desk.see(lambda shown: 0 < shown.looked < 8)
        assert shown.to_look_at == 8
        played = await results(desk, lambda played: sum(one.loss is not None for one in played) == 8)
        assert asyncio.get_running_loop().time() - ended_s == pytest.approx(32, abs=0.5)
        # After 10, 20, 30 and 32 seconds: 2, 5, 7 and all 8 of them.
        assert sum(isinstance(one, Evening) for one in desk.heard) == told_before + 4
        assert [(line.name, line.value) for line in standings(played).loss] == [
            (f"G0{number}", number * 500) for number in range(1, 9)
        ]
        assert {line.name: line.value for line in standings(played).points} == {
            f"G0{number}": int(number > 4) for number in range(1, 9)
        }
        shown = await desk.see(lambda shown: shown.looked == 8)
        view = await guests[2].until(lambda view: view.club is not None and len(view.club.points) == 8)
        assert view.club
        assert [place.value for place in view.club.loss if place.you] == [1.5]
        assert [(other.name, other.points) for other in view.club.elsewhere] == [("G07", 70.0)]
        assert reviewer.most_at_once == 1


async def test_an_evening_that_ends_while_the_coach_looks_stops_it_at_once() -> None:
    reviewer = FakeReviewer(seconds=4)
    async with open_club(tables=1, reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest("G01")]
        await guests[0].come()
        await play_together(desk, guests)
        await asyncio.sleep(1)
        assert reviewer.at_once == 1
        closing_s = asyncio.get_running_loop().time()
    assert reviewer.at_once == 0
    assert asyncio.get_running_loop().time() - closing_s < 1


async def test_a_killed_club_has_what_the_coach_found_and_goes_on_with_the_rest(tmp_path: Path) -> None:
    """Two sets of one heat each: a set that is over is remembered like the one that runs."""
    path, one_heat = tmp_path / "club", THREE_STEPS.model_copy(update={"heats": 1})
    reviewer = FakeReviewer(seconds=10)
    async with open_club(one_heat, 1, path, reviewer) as house:
        desk, guests = await house.desk(), [house.guest(f"G0{number}") for number in range(1, 5)]
        for guest in guests:
            await guest.come()
        await play_together(desk, guests)
        await play_together(desk, guests)
        await desk.see(lambda shown: (shown.looked, shown.to_look_at) == (3, 8))
        assert reviewer.asked[:3] == [f"1 {name}" for name in _by_seat(house, 1)[:3]]
    again = FakeReviewer(seconds=10)
    async with open_club(one_heat, 0, path, again) as house:
        desk = await house.desk()
        played = await results(desk, lambda played: len(played) == 8)
        assert sum(one.loss is not None for one in played) == 3
        shown = await desk.see(lambda shown: True)
        assert (shown.looked, shown.to_look_at) == (3, 8)
        played = await results(desk, lambda played: all(one.loss is not None for one in played))
        assert [asked.split()[0] for asked in again.asked] == ["1", "2", "2", "2", "2"]
        assert {line.name: (line.value, line.heats) for line in standings(played).loss} == {
            f"G0{number}": (number * 500, 2) for number in range(1, 5)
        }
    third = FakeReviewer()
    async with open_club(one_heat, 0, path, third) as house:
        desk = await house.desk()
        await results(desk, lambda played: len(played) == 8 and all(one.loss is not None for one in played))
        await asyncio.sleep(60)
        assert third.asked == []


def _by_seat(house: ClubHouse, heat: int) -> list[str]:
    return [one.name for one in house.club.club.played() if one.heat == heat]


async def test_what_the_coach_found_is_kept_until_there_is_room_on_the_disk(tmp_path: Path) -> None:
    reviewer = FakeReviewer(seconds=2)
    async with open_club(tables=1, path=tmp_path / "club", reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest("G01"), house.guest("G02")]
        for guest in guests:
            await guest.come()
        await play_together(desk, guests)
        with full_disk():
            await asyncio.sleep(20)
            assert house.club.club.results.looked == 0
        await results(desk, lambda played: sum(one.loss is not None for one in played) == 2)
        assert len(reviewer.asked) == 2


async def test_a_person_without_a_chair_waits_and_is_told_when_they_have_one() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        people = [house.guest(f"P{number}") for number in range(5)]
        for person in people[:4]:
            await person.come()
        await people[4].say_hello()
        shown = await people[4].see(lambda shown: bool(shown.waiting))
        assert (shown.role, [one.name for one in shown.waiting]) == ("waiting", ["P4"])
        answer = await asyncio.wait_for(_ask_without_view(people[4]), 5)
        assert answer.text == "You have no chair yet."
        assert isinstance(await desk.order(OpenTable()), Done)
        shown = await desk.see(lambda shown: len(shown.tables) == 2)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "P4"), table=2, chair=3)), Done)
        view = await people[4].until(lambda view: True)
        assert (view.table, view.you) == ("Table 2", 3)
        welcomes = [one for one in people[4].heard if isinstance(one, Welcome)]
        assert [one.chair for one in welcomes] == [NO_CHAIR, 3]
        assert len({one.token for one in welcomes}) == 1
        assert isinstance(await people[4].ask(Ready()), Done)
        assert isinstance(await desk.order(Unseat(person=key_of(shown, "P4"))), Done)
        await people[4].see(lambda shown: [one.name for one in shown.waiting] == ["P4"])
        await people[4].cut()
        people[4].view = None
        await people[4].say_hello()
        shown = await people[4].see(lambda shown: True)
        assert [one.connected for one in shown.waiting] == [True]


async def _ask_without_view(player: Player) -> Refused:
    before = len(player.heard)
    number = next(player.ids)
    await player.line.send(TO_SERVER.pack(Command(id=number, heat=0, intent=Ready())))
    answer = await player._answer(number, before)
    assert isinstance(answer, Refused)
    return answer


async def test_somebody_moved_while_the_line_is_down_comes_back_to_the_new_chair() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        ann = house.guest("Ann")
        await ann.come()
        await ann.cut()
        shown = await desk.see(lambda shown: not shown.tables[0].chairs[0].connected)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "Ann"), table=2, chair=3)), Done)
        assert (await ann.come()).chair == 3
        assert ann.view
        assert ann.view.table == "Table 2"


async def test_a_closed_table_sends_its_people_to_wait_and_its_seat_tokens_lead_there_too() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        assert isinstance(await desk.order(CloseTable(table=1)), Done)
        await ann.see(lambda shown: [one.name for one in shown.waiting] == ["Ann"])
        await ann.cut()
        await ann.say_hello()
        await ann.see(lambda shown: [one.name for one in shown.waiting] == ["Ann"])


@pytest.mark.parametrize("code", ["", "00", "maple otter lemon 07"])
async def test_no_table_of_an_evening_has_a_code_of_its_own(code: str) -> None:
    """Also not one that was stored when tables still had codes."""
    async with open_club(tables=2) as house:
        for table in house.club.club.tables.values():
            assert table.record.code == ""
        house.club.club.tables[2]._record = house.club.club.tables[2].record.with_(code="maple-otter-lemon-07")
        stranger = Player(house.port, "?", code)
        stranger.table = house.club.club.tables[2].record.id
        await stranger.say_hello()
        assert (await stranger.end())[0] == Close.WRONG_CODE


async def come_from(house: ClubHouse, host: str, name: str) -> Player:
    guest = house.guest(name)
    guest.host = host
    await guest.say_hello()
    async with guest._news:
        await guest._news.wait_for(lambda: guest.closed or guest.view or guest.shown)
    return guest


async def test_one_address_gets_a_share_of_the_chairs_and_of_the_waiting_places() -> None:
    async with open_club(tables=3, shares=Shares(chairs=3, part=0.5, waiting=2)) as house:
        crowd = [await come_from(house, "127.0.0.2", f"M{number}") for number in range(9)]
        assert [bool(one.view) for one in crowd] == [True] * 6 + [False] * 3
        assert [bool(one.shown) for one in crowd] == [False] * 6 + [True] * 2 + [False]
        assert crowd[-1].closed
        assert crowd[-1].closed[0] == Close.TABLE_FULL
        ann = await come_from(house, "127.0.0.3", "Ann")
        assert ann.view
        # Whoever comes back is no newcomer, whatever the share.
        await crowd[0].cut()
        await crowd[0].come()
        # The desk seats as many as it likes, and a chair that was given up is free again for others.
        desk = await house.desk()
        shown = await desk.see(lambda shown: True)
        waiting = shown.waiting[0].person
        assert isinstance(await desk.order(SeatPerson(person=waiting, table=3, chair=3)), Done)


async def test_watchers_take_no_place_of_a_desk_and_of_nobody_who_comes_back() -> None:
    async with open_club(tables=1, shares=Shares(watchers=200)) as house:
        first = await house.desk()
        watchers = []
        for number in range(MOST_BESIDE["watcher"] + 1):
            watcher = Player(house.port, f"W{number}", house.record.code, "watcher")
            await watcher.say_hello()
            async with watcher._news:
                await watcher._news.wait_for(lambda at=watcher: at.closed or at.shown)
            watchers.append(watcher)
        assert [bool(one.closed) for one in watchers] == [False] * MOST_BESIDE["watcher"] + [True]
        assert (await house.desk()).shown
        assert first.closed is None
        ann = house.guest("Ann")
        await ann.come()
        await ann.cut()
        await ann.come()


async def test_watchers_of_one_address_have_a_share() -> None:
    async with open_club(tables=1, shares=Shares(watchers=2)) as house:
        ends = []
        for host in ("127.0.0.2",) * 3 + ("127.0.0.3",):
            watcher = Player(house.port, "W", house.record.code, "watcher")
            watcher.host = host
            await watcher.say_hello()
            async with watcher._news:
                await watcher._news.wait_for(lambda at=watcher: at.closed or at.shown)
            ends.append(bool(watcher.closed))
        assert ends == [False, False, True, False]


@pytest.mark.parametrize("role", ["desk", "watcher", "teacher"])
async def test_every_role_needs_its_own_code(role: str) -> None:
    async with open_club(tables=1) as house:
        wrong = house.record.code if role != "watcher" else house.record.desk_code
        stranger = Player(house.port, "?", wrong, role)  # type: ignore[arg-type]
        await stranger.say_hello()
        assert (await stranger.end())[0] == Close.WRONG_CODE


@pytest.mark.parametrize("role", ["desk", "teacher", "watcher", "player"])
async def test_no_code_of_an_evening_is_guessed_without_a_wait(role: Role) -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        await desk.order(LetTeacherSee(on=True))
        record = house.record
        codes = {"desk": record.desk_code, "teacher": record.teacher_code}
        took_ms = []
        for _ in range(6):
            began_ms = now_ms()
            stranger = Player(house.port, "?", "maple-otter-lemon-99", role)
            await stranger.say_hello()
            assert (await stranger.end())[0] == Close.WRONG_CODE
            took_ms.append(now_ms() - began_ms)
        assert took_ms == [0, 250, 500, 1_000, 2_000, 4_000]
        # The right code waits as well, or the wait would tell which one is right.
        began_ms = now_ms()
        friend = Player(house.port, "Friend", codes.get(role, record.code), role)
        await friend.say_hello()
        async with friend._news:
            await friend._news.wait_for(lambda: friend.closed or friend.view or friend.shown)
        assert friend.closed is None
        assert now_ms() - began_ms == 5_000
        # A desk that was here before has its token, and waits no more than somebody at a table.
        await desk.cut()
        began_ms = now_ms()
        await desk.say_hello()
        await desk.see(lambda shown: True)
        assert now_ms() == began_ms


async def test_a_desk_that_hangs_up_before_its_turn_is_not_obeyed() -> None:
    async with open_club(tables=1) as house:
        for _ in range(4):
            stranger = Player(house.port, "?", "wrong", "desk")
            await stranger.say_hello()
            await stranger.end()
        desk = Player(house.port, "desk", house.record.desk_code, "desk")
        await desk.say_hello()
        await desk.line.send(TO_SERVER.pack(DeskCommand(id=1, intent=EndEvening())))
        await desk.cut()
        await asyncio.sleep(60)
        assert house.record.phase == "open"


async def test_only_a_desk_can_ask_what_a_desk_asks() -> None:
    async with open_club(tables=1) as house:
        ann, watcher = house.guest("Ann"), Player(house.port, "W", house.record.code, "watcher")
        await ann.come()
        await watcher.say_hello()
        await watcher.see(lambda shown: True)
        for player in (ann, watcher):
            with pytest.raises(AssertionError, match="Only a desk may send this"):
                await player.order(EndEvening())
        assert house.record.phase == "open"


async def test_a_teacher_comes_in_by_the_code_that_the_desk_shows() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(LetTeacherSee(on=True))
        teacher = Player(house.port, "T", house.record.teacher_code, "teacher")
        await teacher.say_hello()
        await ann.ask(ShowRack(on=True))
        view = await ann.until(lambda view: view.club is not None and view.club.shows[0])
        assert view.club
        await desk.order(StartAll(in_ms=0))
        shown = await teacher.see(lambda shown: bool(shown.tables[0].chairs[0].rack))
        assert ann.view
        assert ann.view.heat
        assert shown.tables[0].chairs[0].rack == ann.view.heat.rack


async def test_a_killed_club_goes_on_where_it_was(tmp_path: Path) -> None:
    path = tmp_path / "club"
    async with open_club(tables=2, path=path) as house:
        desk = await house.desk()
        people = [house.guest(f"P{number}") for number in range(9)]
        for person in people[:8]:
            await person.come()
        await people[8].say_hello()
        await people[8].see(lambda shown: True)
        await desk.order(StartAll(in_ms=0))
        for person in people[:4]:
            await person.until(owes)
            await person.ask(answer_to(person.view))  # type: ignore[arg-type]
        shown = await desk.see(lambda shown: shown.tables[0].step == "first across")
        key = key_of(shown, "P8")
    async with open_club(path=path) as house:
        again = await house.desk()
        shown = await again.see(lambda shown: True)
        assert [(table.phase, table.paused, table.step) for table in shown.tables] == [
            ("heat", True, "first across"),
            ("heat", True, "first right"),
        ]
        assert key_of(shown, "P8") == key
        for person in people[:8]:
            person.port = house.port
            await person.come()
        assert isinstance(await again.order(RunClocks()), Done)
        done = False
        acting = [asyncio.create_task(answer_after(person, 500, lambda: done)) for person in people[:8]]
        await again.see(idle)
        done = True
        for person in people:
            await person._tell()
        await asyncio.gather(*acting)
        async with again._news:
            await again._news.wait_for(lambda: again.evening and len(again.evening.played) == 8)
    async with open_club(path=path) as house:
        third = await house.desk()
        async with third._news:
            await third._news.wait_for(lambda: third.evening and len(third.evening.played) == 8)


async def test_a_desk_that_repeats_itself_after_a_cut_is_answered_and_nothing_is_done_twice() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        assert isinstance(await desk.order(OpenTable()), Done)
        await desk.cut()
        await desk.say_hello()
        await desk.see(lambda shown: len(shown.tables) == 2)
        desk.ids = count(1)
        answer = await desk.order(OpenTable())
        assert isinstance(answer, Refused)
        assert answer.code == "repeated"


async def test_all_tables_stop_and_the_desks_picture_is_never_older_than_two_seconds() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(StartAll(in_ms=0))
        shown = await desk.see(lambda shown: shown.tables[0].phase == "heat")
        assert isinstance(await desk.order(HoldClocks()), Done)
        shown = await desk.see(lambda shown: shown.tables[0].paused)
        left_ms = shown.tables[0].chairs[0].left_ms
        await asyncio.sleep(30)
        assert desk.shown
        assert desk.shown.revision > shown.revision
        assert desk.shown.tables[0].chairs[0].left_ms == left_ms
        assert isinstance(await ann.ask(Lift(step="first right", tiles=())), Refused | Done)


async def test_the_results_of_the_longest_evening_fit_into_a_frame() -> None:
    async with open_club(tables=1) as house:
        ann = house.guest("Ann")
        await ann.come()
        desk = await house.desk()
        await desk.order(StartAll(in_ms=0))
        await answer_after(ann, 100, lambda: ann.view is not None and ann.view.phase == "between")
        club = house.club.club
        (whole,) = club.results._played.values()
        club.results._played = {(table, heat): whole for table in range(1, MOST_TABLES + 1) for heat in range(1, 13)}
        assert len(house.club.telling.results()) < VIEW_LIMIT
        club.results._played = {(1, heat): whole for heat in range(1, MOST_WITH_STEPS // 4 + 1)}
        assert len(house.club.telling.results()) < VIEW_LIMIT

"""An error of the club's own ends nothing: it is logged with its place, who asked is answered, the evening goes on."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from server.clock import now_ms
from server.club.seating import ClubOutput
from server.store import Appends, StoreFault
from shared.rules.intents import Leave, NotReady, Ready
from shared.wire.club_views import ClubView
from shared.wire.desk_intents import OpenTable, RenameTable, SeatPerson
from shared.wire.messages import TO_SERVER, Command, Done, Refused
from tests.reviewers import FakeReviewer
from tests.server.club.house import ClubHouse, key_of, open_club, play_together, results
from tests.server.players import Player

SECRET = "5b in tern-lake-12"
ANSWER = "Internal error; nothing was changed."


def broken(*args: object, **kwargs: object) -> NoReturn:
    raise LookupError(SECRET)


def times(count: int, then: Callable[..., object]) -> Callable[..., object]:
    """Return what breaks so many times and then does as it should."""
    left = [count]

    def called(*args: object, **kwargs: object) -> object:
        left[0] -= 1
        return broken() if left[0] >= 0 else then(*args, **kwargs)

    return called


def assert_logged(caplog: pytest.LogCaptureFixture) -> None:
    line = broken.__code__.co_firstlineno + 1
    assert f"LookupError at {__name__}, broken, line {line}" in caplog.text
    assert SECRET not in caplog.text
    assert "5b" not in caplog.text


async def leave(guest: Player) -> Done | Refused:
    before = len(guest.heard)
    await guest.line.send(TO_SERVER.pack(Command(id=1, heat=0, intent=Leave())))
    return await guest._answer(1, before)


async def assert_goes_on(house: ClubHouse) -> None:
    desk = await house.desk()
    assert isinstance(await desk.order(OpenTable(name="Corner")), Done)
    shown = await desk.see(lambda shown: any(table.name == "Corner" for table in shown.tables))
    guest = house.guest("Bo")
    await guest.come()
    await desk.see(lambda shown: any(chair.name == "Bo" for table in shown.tables for chair in table.chairs))
    assert not shown.over


async def test_a_desk_that_cannot_be_told_the_results_is_told_so_and_the_evening_goes_on(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        with monkeypatch.context() as patch:
            patch.setattr(house.club.club, "played", broken)
            desk = await house.desk()
            assert await desk.end() == (1011, ANSWER)
        await assert_goes_on(house)
    assert_logged(caplog)


async def test_an_error_at_what_the_desk_asks_is_one_sentence_and_nothing_is_changed(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk = await house.desk()
        record = house.record
        with monkeypatch.context() as patch:
            patch.setattr(house.club.club, "_table_name", broken)
            answer = await desk.order(RenameTable(table=1, name="Corner"))
        assert isinstance(answer, Refused)
        assert answer.text == ANSWER
        assert house.record is record
        await assert_goes_on(house)
    assert_logged(caplog)


async def test_an_error_while_it_waits_or_shows_ends_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with open_club(tables=1, reviewer=FakeReviewer()) as house, asyncio.timeout(300):
        desk = await house.desk()
        for name in ("next_deadline_ms", "left_to_look_at"):
            monkeypatch.setattr(house.club.club, name, times(3, getattr(house.club.club, name)))
            assert isinstance(await desk.order(OpenTable()), Done | Refused)
        await asyncio.sleep(10)
        await assert_goes_on(house)
    assert_logged(caplog)


async def test_an_error_that_stays_is_met_once_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        moments_ms, deadline_ms = list[int](), house.club.club.next_deadline_ms

        def fails_three_times() -> int | None:
            if len(moments_ms) < 3:
                moments_ms.append(now_ms())
                broken()
            return deadline_ms()

        monkeypatch.setattr(house.club.club, "next_deadline_ms", fails_three_times)
        house.club._inbox.wake()
        await asyncio.sleep(10)
        assert [at_ms - moments_ms[0] for at_ms in moments_ms] == [0, 1_000, 2_000]


async def test_an_error_once_all_is_on_the_disk_undoes_nothing_of_it(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk = await house.desk()
        monkeypatch.setattr(house.club.keepers[1], "deliver", times(1, house.club.keepers[1].deliver))
        assert isinstance(await desk.order(RenameTable(table=1, name="Window")), Done)
        await desk.see(lambda shown: shown.tables[0].name == "Window")
        await assert_goes_on(house)
    assert_logged(caplog)


async def test_results_that_could_not_be_noted_at_a_heats_end_are_told_a_second_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        failed_ms, heat_over = list[int](), house.club.club.heat_over

        def fails_once() -> ClubOutput:
            if not failed_ms:
                failed_ms.append(now_ms())
                broken()
            return heat_over()

        monkeypatch.setattr(house.club.club, "heat_over", fails_once)
        await play_together(desk, [ann])
        await results(desk, lambda played: len(played) == 4)
        assert now_ms() == failed_ms[0] + 1_000


async def test_however_often_a_table_changes_the_evening_is_shown_five_times_a_second_at_most() -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        watcher = Player(house.port, "W", house.record.code, "watcher")
        ann, bo = house.guest("Ann"), house.guest("Bo")
        await ann.come()
        await bo.come()
        await watcher.say_hello()
        await watcher.see(lambda shown: True)
        await asyncio.sleep(1)
        before = len(watcher.heard)
        for number in range(20):
            await ann.ask(NotReady() if number % 2 else Ready())
            await asyncio.sleep(0.05)
        assert 2 <= sum(isinstance(message, ClubView) for message in watcher.heard[before:]) <= 6


async def test_a_heat_that_ends_while_the_evening_is_to_be_shown_is_in_the_results_first(tmp_path: Path) -> None:
    async with open_club(tables=1, path=tmp_path / "club") as house, asyncio.timeout(300):
        desk, table = await house.desk(), house.club.keepers[1]
        await desk.see(lambda shown: True)
        async with table.turn:
            await asyncio.sleep(5)  # a picture is due, and waits for the table
            before = len(desk.heard)
            table.watch(True)
        await asyncio.sleep(5)
        told = [message.kind for message in desk.heard[before:]]
        assert told[:2] == ["evening", "club view"]


async def test_who_watches_has_no_chair_to_leave_and_watches_on() -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        watcher = Player(house.port, "W", house.record.code, "watcher")
        await watcher.say_hello()
        await watcher.see(lambda shown: True)
        answer = await leave(watcher)
        assert isinstance(answer, Refused)
        assert answer.text == "You have no chair yet."
        await asyncio.sleep(5)
        assert watcher.closed is None


async def test_whoever_waits_and_asks_what_breaks_is_answered(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with open_club() as house, asyncio.timeout(300):
        guest = house.guest("Ann")
        await guest.say_hello()
        await guest.see(lambda shown: shown.role == "waiting")
        store = house.club._transactions._store
        with monkeypatch.context() as patch:
            patch.setattr(store, "append", broken)
            answer = await leave(guest)
            assert isinstance(answer, Refused)
            assert answer.text == ANSWER
        await assert_goes_on(house)
    assert_logged(caplog)


async def test_who_is_moved_when_the_disk_is_full_has_not_been_moved(monkeypatch: pytest.MonkeyPatch) -> None:
    async def full(appends: Appends) -> None:
        raise StoreFault("The disk is full.")

    async with open_club(tables=2) as house, asyncio.timeout(300):
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        shown = await desk.see(lambda shown: bool(shown.tables[0].chairs[0].name))
        move = SeatPerson(person=key_of(shown, "Ann"), table=2, chair=3)
        before = [table.record for table in house.club.club.tables.values()]
        with monkeypatch.context() as patch:
            patch.setattr(house.club._transactions._store, "append", full)
            assert isinstance(await desk.order(move), Refused)
        assert [table.record for table in house.club.club.tables.values()] == before
        assert isinstance(await desk.order(move), Done)
        await ann.until(lambda view: (view.table, view.you) == ("Table 2", 3))


async def test_a_full_disk_is_no_error_of_the_clubs(monkeypatch: pytest.MonkeyPatch) -> None:
    async def full(appends: Appends) -> None:
        raise StoreFault("The disk is full.")

    async with open_club() as house, asyncio.timeout(300):
        guest = house.guest("Ann")
        await guest.say_hello()
        await guest.see(lambda shown: shown.role == "waiting")
        with monkeypatch.context() as patch:
            patch.setattr(house.club._transactions._store, "append", full)
            answer = await leave(guest)
            assert isinstance(answer, Refused)
            assert answer.text == "The host's disk cannot be written; nothing was changed."
        await assert_goes_on(house)

"""What the desk does at its tables: every table waits meanwhile, lines follow their people, and no other line is led
anywhere."""

import asyncio

import pytest

from server.store import Appends, StoreFault
from shared.rules.intents import Ready
from shared.wire.desk_intents import OpenTable, RenameTable, SeatPerson
from shared.wire.messages import Done, Refused, Welcome
from tests.server.club.house import key_of, open_club
from tests.server.players import Player


def chairs_of(player: Player) -> list[int]:
    """Return the chairs to which somebody was welcomed, one after the other."""
    return [message.chair for message in player.heard if isinstance(message, Welcome)]


async def test_who_stays_where_they_are_is_not_welcomed_again() -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk, guests = await house.desk(), [house.guest(f"P{number}") for number in range(5)]
        for guest in guests[:4]:
            await guest.come()
        await guests[4].say_hello()
        await guests[4].see(lambda shown: shown.role == "waiting")
        assert isinstance(await desk.order(RenameTable(table=1, name="Window")), Done)
        await asyncio.sleep(5)
        assert [len(chairs_of(guest)) for guest in guests] == [1] * 5


async def test_what_the_desk_asks_waits_for_the_turn_of_every_table() -> None:
    async with open_club(tables=2) as house, asyncio.timeout(300):
        desk = await house.desk()
        for keeper in house.club.keepers.values():
            async with keeper.turn:
                asked = asyncio.create_task(desk.order(RenameTable(table=1, name="Window")))
                await asyncio.sleep(10)
                assert not asked.done()
            assert isinstance(await asked, Done)


async def test_who_watched_before_they_came_to_play_with_the_same_token_watches_on() -> None:
    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk, ann = await house.desk(), house.guest("Ann")
        watcher = Player(house.port, "W", house.record.code, "watcher")
        watcher.token = ann.token = bytes(16)
        await watcher.say_hello()
        await watcher.see(lambda shown: True)
        await ann.come()
        assert isinstance(await desk.order(RenameTable(table=1, name="Window")), Done)
        await watcher.see(lambda shown: shown.tables[0].name == "Window")
        assert ann.closed is None
        assert (len(chairs_of(ann)), len(chairs_of(watcher))) == (1, 1)


async def test_a_line_that_is_lost_as_two_people_swap_keeps_the_other_from_nothing() -> None:
    async with open_club(tables=2) as house, asyncio.timeout(300):
        desk, guests = await house.desk(), [house.guest(f"P{number}") for number in range(5)]
        for guest in guests:
            await guest.come()
        shown = await desk.see(lambda shown: any(chair.name == "P4" for chair in shown.tables[1].chairs))
        house.club.keepers[1].lines[3].is_lost = True
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "P4"), table=1, chair=3)), Done)
        await guests[4].until(lambda view: view.table == "Table 1")
        assert chairs_of(guests[4]) == [0, 3]
        assert house.club.keepers[2].lines == {}


async def test_a_table_that_could_not_be_opened_is_opened_when_there_is_room_and_people_play_there(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async def full(appends: Appends) -> None:
        raise StoreFault("The disk is full.")

    async with open_club(tables=1) as house, asyncio.timeout(300):
        desk = await house.desk()
        with monkeypatch.context() as patch:
            patch.setattr(house.club._transactions._store, "append", full)
            assert isinstance(await desk.order(OpenTable(name="Corner")), Refused)
        guests = [house.guest(f"P{number}") for number in range(6)]
        for guest in guests[:5]:
            await guest.say_hello()
        await guests[4].see(lambda shown: shown.role == "waiting")
        shown = await desk.see(lambda shown: bool(shown.waiting))
        assert [table.number for table in shown.tables] == [1]
        assert isinstance(await desk.order(OpenTable(name="Window")), Done)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "P4"), table=2, chair=0)), Done)
        view = await guests[4].until(lambda view: view.table == "Window")
        assert (view.you, view.chairs[0].name, view.chairs[0].connected) == (0, "P4", True)
        await guests[5].come()
        assert isinstance(await guests[5].ask(Ready()), Done)
        assert isinstance(await guests[4].ask(Ready()), Done)
        assert (await guests[4].until(lambda view: view.heat is not None)).chairs[1].name == "P5"
        await desk.see(lambda shown: [table.phase for table in shown.tables] == ["seating", "heat"])
    assert [record.message for record in caplog.records if record.levelname == "ERROR"] == ["The disk is full."]

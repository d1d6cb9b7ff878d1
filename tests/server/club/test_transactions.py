"""What the desk does at its tables: every table waits meanwhile, lines follow their people, and no other line is led
anywhere."""

import asyncio

from shared.wire.desk_intents import RenameTable, SeatPerson
from shared.wire.messages import Done, Welcome
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

"""Somebody at an evening whose machine is gone: another one asks for their seat, and the desk lets it in."""

from server.records import hash_token
from server.table.seating import BACK
from shared.measures.standings import standings
from shared.wire.desk_intents import LetBack, SeatPerson, StartAll
from shared.wire.messages import Close, Done, Refused
from tests.server.club.house import ClubHouse, idle, key_of, open_club, play_together, results
from tests.server.players import Player


async def turned_away(house: ClubHouse, name: str, token: bytes) -> Player:
    """Let another machine ask for somebody's seat."""
    machine = house.guest(name)
    machine.token = token
    await machine.say_hello()
    assert (await machine.end())[0] == Close.ASKED_HOST
    return machine


async def give_word(desk: Player, name: str) -> None:
    """Let the machine in that asks for somebody's seat, once the desk is told of it."""
    shown = await desk.see(lambda shown: any(chair.asks for table in shown.tables for chair in table.chairs))
    assert isinstance(await desk.order(LetBack(person=key_of(shown, name))), Done)


async def let_in(house: ClubHouse, desk: Player, name: str, token: bytes) -> Player:
    """Let another machine have somebody's seat by the word of the desk."""
    machine = await turned_away(house, name, token)
    await give_word(desk, name)
    await machine.come()
    return machine


async def test_the_desk_lets_another_machine_have_the_seat_and_nobody_else() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        ann, bo = house.guest("Ann"), house.guest("Bo")
        await ann.come()
        await bo.come()
        shown = await desk.see(lambda shown: True)
        answer = await desk.order(LetBack(person=key_of(shown, "Ann")))
        assert isinstance(answer, Refused)
        assert answer.text == "No other machine asks for this chair."
        assert isinstance(await desk.order(LetBack(person="nobody")), Refused)
        await ann.cut()
        machine = await turned_away(house, "ann", bytes(16))
        assert machine.closed
        assert machine.closed[1].endswith("Use another name."), "all of it fits into the end of a line"
        shown = await desk.see(lambda shown: shown.tables[0].chairs[0].asks)
        assert [chair.asks for table in shown.tables for chair in table.chairs].count(True) == 1
        watcher = Player(house.port, "W", house.record.code, "watcher")
        await watcher.say_hello()
        seen = await watcher.see(lambda shown: True)
        assert not any(chair.asks for table in seen.tables for chair in table.chairs), "the desk alone is told"
        await turned_away(house, "Ann", bytes(15) + b"3")
        assert isinstance(await desk.order(LetBack(person=key_of(shown, "Ann"))), Done)
        await turned_away(house, "Ann", bytes(15) + b"3")
        await machine.come()
        assert machine.view
        assert [chair.name for chair in machine.view.chairs[:2]] == ["Ann", "Bo"]
        assert machine.view.you == 0
        assert bo.closed is None


async def test_a_machine_that_was_let_in_comes_back_as_anybody_even_while_its_old_line_seems_up() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await ann.cut()
        machine = await let_in(house, desk, "Ann", bytes(16))
        again = house.guest("Ann")
        again.token = bytes(16)
        await again.come()
        assert again.view
        assert [chair.name for chair in again.view.chairs][:2] == ["Ann", ""]
        assert (await machine.end())[0] == Close.SEAT_TAKEN_OVER


async def test_a_machine_that_asked_takes_no_second_seat_once_its_person_is_back() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        ann = house.guest("Ann")
        await ann.come()
        await ann.cut()
        machine = await turned_away(house, "Ann", bytes(16))
        await give_word(desk, "Ann")
        await ann.come()
        await machine.say_hello()
        assert await machine.end() == (Close.SEAT_TAKEN_OVER, BACK)
        assert [place.person.name for place in house.club.club.places()] == ["Ann"]
        machine.name = "Bo"
        await machine.come()


async def test_without_anybody_at_the_desk_they_come_in_as_somebody_else() -> None:
    async with open_club(tables=1) as house:
        ann, second = house.guest("Ann"), house.guest("Ann")
        await ann.come()
        await ann.cut()
        await second.come()
        assert [place.person.name for place in house.club.club.places()] == ["Ann", "Ann 2"]


async def test_all_that_they_played_at_any_table_stays_theirs() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        guests = [house.guest(name) for name in ("Ann", "Bo", "Cy")]
        for guest in guests:
            await guest.come()
        await play_together(desk, guests)
        shown = await desk.see(lambda shown: True)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "Ann"), table=2, chair=3)), Done)
        await play_together(desk, guests)
        await results(desk, lambda played: sum(one.name == "Ann" for one in played) == 2)
        await guests[0].cut()
        machine = await let_in(house, desk, "Ann", bytes(16))
        person = house.club.club.place_of(bytes(16))
        assert person
        assert (person.table, person.chair) == (2, 3)
        assert house.club.club.tables[1].seen(person.person.person) == 1, "also what they have seen elsewhere"
        key = hash_token(bytes(16)).hex()[:16]
        view = await machine.until(
            lambda view: view.club is not None and any(place.name == "Ann" and place.you for place in view.club.speed)
        )
        assert view.club
        assert [place.heats for place in view.club.speed if place.name == "Ann"] == [2]
        await play_together(desk, [machine, *guests[1:]])
        played = await results(desk, lambda played: sum(one.name == "Ann" for one in played) == 3)
        assert {one.person for one in played if one.name == "Ann"} == {key}
        assert [line.heats for line in standings(played, 1).speed if line.name == "Ann"] == [3]


async def test_who_comes_back_in_a_heat_at_another_machine_plays_it_on() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        ann, bo = house.guest("Ann"), house.guest("Bo")
        await ann.come()
        await bo.come()
        assert isinstance(await desk.order(StartAll(in_ms=0)), Done)
        await desk.see(lambda shown: not idle(shown))
        rack = (await ann.until(lambda view: view.heat is not None)).heat
        assert rack
        await ann.cut()
        machine = await let_in(house, desk, "Ann", bytes(16))
        view = await machine.until(lambda view: view.heat is not None)
        assert view.heat
        assert view.heat.dealt == rack.dealt
        assert (view.chairs[view.you].sitter, view.chairs[view.you].plays_next) == ("person", False)


async def test_the_old_machine_is_told_that_another_plays_wherever_that_one_sits_now() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        ann = house.guest("Ann")
        await ann.come()
        await ann.cut()
        machine = await let_in(house, desk, "Ann", bytes(16))
        await ann.say_hello()
        assert await ann.end() == (Close.SEAT_TAKEN_OVER, "You play here from another machine now.")
        shown = await desk.see(lambda shown: True)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "Ann"), table=2, chair=1)), Done)
        await ann.say_hello()
        assert (await ann.end())[0] == Close.SEAT_TAKEN_OVER
        await machine.cut()
        await desk.see(lambda shown: not shown.tables[1].chairs[1].connected)
        await ann.say_hello()
        assert (await ann.end())[0] == Close.ASKED_HOST, "it asks as any other machine"

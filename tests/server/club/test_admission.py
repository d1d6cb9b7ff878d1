"""Who may come to an evening, in which role, and how many of one address."""

import asyncio

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.club.admission import MOST_BESIDE, Shares
from server.club.club import new_club
from server.club.keeper import SHARES
from server.net.codes import Guesses
from server.store import Store
from server.table.outbox import Outbox
from shared.wire.desk_intents import (
    EndEvening,
    LetTeacherSee,
    OpenTable,
    SeatPerson,
)
from shared.wire.messages import PROTOCOL, TO_SERVER, Close, DeskCommand, Done, Hello
from tests.clubs import club_record
from tests.server.club.house import THREE_STEPS, ClubHouse, open_club
from tests.server.players import Player, Role, counted_bytes, guess
from tests.server.wires import MemoryWire


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


async def test_no_two_people_of_an_evening_have_one_name_wherever_they_sit() -> None:
    async with open_club(tables=1) as house:
        people = [await come_from(house, "127.0.0.3", name) for name in ("Ann", "Bo", "Cy", "Dot", "ann", "Ann")]
        assert [place.person.name for place in house.club.club.places()] == ["Ann", "Bo", "Cy", "Dot", "ann 2", "Ann 3"]
        await people[0].cut()
        await people[0].come()
        assert people[0].view
        assert people[0].view.chairs[0].name == "Ann", "who comes back keeps the name"


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


@pytest.mark.parametrize(("tables", "chairs"), [(3, 8), (5, 10)], ids=["eight at least", "half of many"])
async def test_an_address_gets_half_of_the_chairs_but_at_least_eight_and_places_for_24_who_wait_and_8_who_watch(
    tables: int, chairs: int
) -> None:
    async with open_club(tables=tables, shares=SHARES) as house:
        crowd = [await come_from(house, "127.0.0.2", f"M{number}") for number in range(chairs + 25)]
        assert [bool(one.view) for one in crowd] == [True] * chairs + [False] * 25
        assert [bool(one.shown) for one in crowd[chairs:]] == [True] * 24 + [False]
        watchers = [Player(house.port, "W", house.record.code, "watcher") for _ in range(9)]
        for watcher in watchers:
            watcher.host = "127.0.0.2"
            await watcher.say_hello()
            async with watcher._news:
                await watcher._news.wait_for(lambda at=watcher: at.closed or at.shown)
        assert [bool(one.shown) for one in watchers] == [True] * 8 + [False]


async def test_who_sits_at_a_table_may_watch_too_or_stand_at_the_desk_under_the_same_name() -> None:
    async with open_club(tables=1) as house:
        await house.guest("Ann").come()
        for role, code in (("watcher", house.record.code), ("desk", house.record.desk_code)):
            beside = Player(house.port, "Ann", code, role)  # type: ignore[arg-type]
            await beside.say_hello()
            await beside.see(lambda shown: True)


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


async def test_who_guesses_one_role_from_everywhere_slows_that_role_alone_whatever_table_they_name() -> None:
    async with open_club(tables=1) as house:
        for number in range(Guesses.ALARM_AFTER):
            stranger = Player(house.port, "?", "wrong", "desk")
            stranger.host, stranger.table = f"127.0.1.{number + 1}", f"table {number}"
            await stranger.say_hello()
            await stranger.end()
        began_ms = now_ms()
        await come_from(house, "127.0.2.1", "Ann")
        assert now_ms() == began_ms
        desk = Player(house.port, "desk", house.record.desk_code, "desk")
        desk.host = "127.0.2.2"
        await desk.say_hello()
        await desk.see(lambda shown: True)
        assert now_ms() - began_ms == Guesses.LONGEST_MS


async def test_a_token_that_is_no_desks_spares_nobody_the_wait_even_with_the_right_code() -> None:
    """Or guesses with tokens of their own would be heard at once when they are right."""
    async with open_club(tables=1) as house:
        for _ in range(4):
            await (await guess(house.port, code="wrong", role="desk")).end()
        began_ms = now_ms()
        friend = Player(house.port, "desk", house.record.desk_code, "desk")
        friend.token = bytes(16)
        await friend.say_hello()
        await friend.see(lambda shown: True)
        assert now_ms() - began_ms == 2_000


async def test_who_waits_for_a_chair_comes_back_at_once_while_others_at_the_address_guess() -> None:
    async with open_club(tables=0) as house:
        ann = house.guest("Ann")
        await ann.say_hello()
        await ann.see(lambda shown: True)
        await ann.cut()
        for _ in range(4):
            await (await guess(house.port)).end()
        began_ms = now_ms()
        await ann.say_hello()
        await ann.see(lambda shown: len(shown.waiting) == 1)
        assert now_ms() == began_ms


async def test_who_hangs_up_between_the_code_and_the_place_gets_none() -> None:
    async with open_club(tables=1) as house:
        for role, code in (("player", house.record.code), ("desk", house.record.desk_code)):
            line = Outbox(MemoryWire())
            sending = asyncio.create_task(line.run())
            house.club.knock(line, Hello(protocol=PROTOCOL, name="Ann", code=code, role=role))
            line.is_lost = True
            await asyncio.sleep(1)
            assert house.club.club.tables[1].record.chairs[0].sitter == "nobody"
            assert house.club.lines == []
            line.end(1000, "")
            await sending


async def test_what_a_desk_sends_together_with_its_hello_is_no_order() -> None:
    """Nobody is a desk before the welcome."""
    async with Admission.open(Store.open(None)) as admission:
        club = new_club(club_record(THREE_STEPS), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")
        keeper = await admission.add_club(club)
        wire = MemoryWire()
        wire.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="desk", code=club.record.desk_code, role="desk")))
        wire.say(TO_SERVER.pack(DeskCommand(id=1, intent=OpenTable())))
        wire.drop()
        await admission.serve(wire)
        assert wire.ended == (Close.BAD_FRAME, "Wait for the welcome before you send anything.")
        await asyncio.sleep(1)
        assert keeper.keepers == {}


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

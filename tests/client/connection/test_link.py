"""A line to a table: nothing asked is lost or done twice."""

import asyncio
import itertools
from collections import Counter

from websockets.asyncio.server import ServerConnection, serve

from client.connection.address import Address
from client.connection.link import Connected, Ended, Link, Lost
from shared.rules.events import Passed, TilesLifted
from shared.rules.heat import HEAT
from shared.rules.intents import Leave, Lift, NotReady, Pass, WallHash
from shared.rules.settings import Settings
from shared.wire.messages import (
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    Command,
    Done,
    HeatFile,
    Refused,
    Welcome,
)
from shared.wire.views import View
from tests.client.connection.listeners import READY, SHORT, Listener, link_to, listening
from tests.client.relay import Relay, in_virtual_time, relay
from tests.server.players import CODE, House, open_house

ONE_HEAT = Settings(seed=11, heats=1, bot_pace="quick")


async def _heat_with_a_cut(cut_after: int | None) -> tuple[Listener, Relay, House]:
    async with open_house(SHORT) as house, relay(house.listener.port, cut_after=cut_after) as stretch:
        link = link_to(stretch.port)
        listener = Listener(link, plays=True)
        listener.asked[link.ask(READY, 0)] += 1
        await link.run(listener.hear)
    return listener, stretch, house


def test_wherever_the_line_is_cut_every_command_is_answered_once_and_the_same_heat_is_played() -> None:
    uncut, stretch, _ = in_virtual_time(_heat_with_a_cut(None))
    reads = stretch.reads
    passed = [event for event in _heat(uncut) if isinstance(event, Passed) and event.by == "person"]
    assert reads > 15
    assert len(passed) == 3
    for cut_after in range(1, reads):
        listener, stretch, _ = in_virtual_time(_heat_with_a_cut(cut_after))
        answers = listener.answers
        assert stretch.cuts >= 1
        assert Counter(answer.id for answer in answers) == listener.asked, f"cut after {cut_after}"
        assert all(isinstance(answer, Done) or answer.code == "repeated" for answer in answers)
        again = [event for event in _heat(listener) if isinstance(event, Passed) and event.by == "person"]
        assert [event.tiles for event in again] == [event.tiles for event in passed], f"cut after {cut_after}"


def _heat(listener: Listener) -> tuple[object, ...]:
    files = {heard.data for heard in listener.heard if isinstance(heard, HeatFile)}
    assert len(files) == 1
    return HEAT.unpack(files.pop()).events


def test_what_is_asked_while_the_line_is_down_goes_when_it_is_back() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            await ann.until(View)
            stretch.cut()
            await ann.until(Lost)
            number = ann.link.ask(READY, 0)
            await ann.until(Connected, 2)
            done = await ann.until(Done)
            assert done == Done(id=number)

    in_virtual_time(scene())


def test_of_unsent_drafts_only_the_last_is_sent() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            ann.link.ask(READY, 0)
            await ann.until(Done)
            view = await ann.until(View, 2)
            assert isinstance(view, View)
            assert view.heat
            stretch.cut()
            await ann.until(Lost)
            free = [tile for tile in view.heat.rack if tile != "J"]
            for count in range(3):
                ann.link.ask(Lift(step="first right", tiles=tuple(free[: count + 1])), 1)
            await ann.until(Done, 2)
            running = house.table._heat
            assert running
            lifts = [event for event in running.events if isinstance(event, TilesLifted)]
            assert [len(lift.tiles) for lift in lifts] == [3]

    in_virtual_time(scene())


def test_a_relaunched_client_regains_its_seat_and_its_commands_are_new_ones() -> None:
    async def scene() -> None:
        tokens: list[bytes] = []
        async with open_house(ONE_HEAT) as house:
            first = Link(Address("127.0.0.1", house.listener.port), "Ann", CODE, bytes(range(16)), tokens.append)
            async with listening(first) as ann:
                for intent in (NotReady(), NotReady()):
                    ann.link.ask(intent, 0)
                await ann.until(Done, 2)
            async with listening(link_to(house.listener.port, token=tokens[-1])) as ann:
                welcome = await ann.until(Connected)
                assert isinstance(welcome, Connected)
                assert welcome.welcome.chair == 0
                assert welcome.welcome.last_id == 2
                view = await ann.until(View)
                assert isinstance(view, View)
                number = ann.link.ask(READY, view.heat_number)
                answer = await ann.until(Done)
                assert (number, answer) == (1, Done(id=1))

    in_virtual_time(scene())


def test_a_newer_window_takes_the_seat_over_and_the_older_one_says_so_and_stops() -> None:
    async def scene() -> None:
        tokens: list[bytes] = []
        async with open_house(ONE_HEAT) as house:
            old = Link(Address("127.0.0.1", house.listener.port), "Ann", CODE, bytes(range(16)), tokens.append)
            async with listening(old) as older:
                await older.until(View)
                async with listening(link_to(house.listener.port, token=tokens[-1])) as newer:
                    await newer.until(View)
                    ended = await older.until(Ended)
                    assert isinstance(ended, Ended)
                    assert ended.text == "Your seat is now played elsewhere."

    in_virtual_time(scene())


def test_leaving_is_sent_before_the_line_is_closed() -> None:
    async def scene() -> None:
        async with open_house(ONE_HEAT) as house:
            async with listening(link_to(house.listener.port)) as ann:
                await ann.until(View)
                ann.link.ask(Leave(), 0)
                ann.link.close()
            await asyncio.sleep(0.1)
            assert house.table.record.chairs[0].sitter == "nobody"
            assert not any(isinstance(heard, Ended | Lost) for heard in ann.heard)

    in_virtual_time(scene())


def test_the_round_trip_is_measured_before_the_first_view() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port, delay_s=0.02) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            await ann.until(View)
            assert ann.link.rtt_ms == 40

    in_virtual_time(scene())


def test_whoever_is_moved_to_another_table_stays_on_the_line_and_begins_there_anew() -> None:
    got: list[int] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        for chair, last_id in ((0, 0), (2, 1)):
            welcome = Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=last_id)
            await line.send(TO_CLIENT.pack(welcome))
            command = TO_SERVER.unpack(await line.recv(decode=False))
            assert isinstance(command, Command)
            got.append(command.id)
        await line.send(TO_CLIENT.pack(Done(id=got[-1])))
        await line.wait_closed()

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            ann.link.ask(NotReady(), 0)
            await ann.until(Connected, 2)
            number = ann.link.ask(READY, 0)
            assert await ann.until(Done) == Done(id=number)
            assert not any(isinstance(heard, Lost | Ended) for heard in ann.heard)

    in_virtual_time(scene())
    assert got == [1, 2]


def test_ids_on_the_wire_go_on_from_what_the_seat_had_used() -> None:
    got: list[int] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        await line.send(TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=41)))
        command = TO_SERVER.unpack(await line.recv(decode=False))
        assert isinstance(command, Command)
        got.append(command.id)
        await line.send(TO_CLIENT.pack(Done(id=command.id)))
        await line.wait_closed()

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            number = ann.link.ask(Pass(step="first right", tiles=()), 1)
            assert await ann.until(Done) == Done(id=number)
        assert got == [42]

    in_virtual_time(scene())


def test_a_part_in_the_wall_that_the_hosts_disk_did_not_take_is_sent_again_and_other_commands_are_not() -> None:
    got: list[tuple[float, Command]] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        await line.send(TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0)))
        async for frame in line:
            command = TO_SERVER.unpack(frame)  # type: ignore[arg-type]
            assert isinstance(command, Command)
            got.append((asyncio.get_running_loop().time(), command))
            full = len(got) < 3
            refused = Refused(id=command.id, code="disk", text="The disk is full.", late_ms=None)
            await line.send(TO_CLIENT.pack(refused if full else Done(id=command.id)))

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            await ann.until(Connected)
            number = ann.link.ask(WallHash(heat=1, attempt=1, hash=bytes(32)), 0)
            assert await ann.until(Done) == Done(id=number)
            assert not any(isinstance(heard, Refused | Lost) for heard in ann.heard)
            assert [round(after - before, 1) for (before, _), (after, _) in itertools.pairwise(got)] == [1.0, 1.0]
            got.clear()
            number = ann.link.ask(READY, 0)
            refused = await ann.until(Refused)
            assert isinstance(refused, Refused)
            assert refused.id == number
            await asyncio.sleep(10)
            assert len(got) == 1

    in_virtual_time(scene())

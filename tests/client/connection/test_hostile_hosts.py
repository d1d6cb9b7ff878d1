"""What answers at a table's address may be anything: the client ends with a sentence, and no other gets its code."""

import asyncio
import itertools
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager

import pytest
from websockets.asyncio.server import ServerConnection, serve

from client.connection.address import Address
from client.connection.hearing import LONGEST_VIEW
from client.connection.link import Connected, Ended, Heard, Link, Lost, Waiting
from shared.codec import Codec
from shared.wire.club_views import ClubView, Evening, Ranking
from shared.wire.messages import (
    MOST_HEATS,
    PROTOCOL,
    TO_CLIENT,
    VIEW_LIMIT,
    AnyServerMessage,
    Close,
    HeatFile,
    OwnHeat,
    OwnTimes,
    Refused,
    Welcome,
)
from shared.wire.views import View
from tests.client.relay import in_virtual_time
from tests.client.test_hostile_host import told_by_a_club, told_by_a_table
from tests.groups import Circle
from tests.server.players import CODE, open_house

TOLD = told_by_a_table()
RANKING = Ranking(speed=(), loss=(), points=())
CLOCK = Circle().table.view(0, 5_000_000)
Answer = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]


@asynccontextmanager
async def answering(answer: Answer) -> AsyncIterator[int]:
    """Something that takes connections and answers as it likes."""

    async def handle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            await answer(reader, writer)
        except ConnectionError:
            pass
        finally:
            writer.transport.abort()

    async with await asyncio.start_server(handle, "127.0.0.1") as server:
        yield server.sockets[0].getsockname()[1]


async def first_heard(port: int, count: int = 1) -> list[Heard]:
    """Return what a client of ours hears first, but for being told to wait, and let it go."""
    link, heard = Link(Address("127.0.0.1", port), "Ann", CODE, bytes(16)), asyncio.Queue[Heard]()
    running = asyncio.create_task(link.run(heard.put_nowait))
    found: list[Heard] = []
    while len(found) < count:
        if not isinstance(one := await heard.get(), Waiting):
            found.append(one)
    link.close()
    await running
    return found


def test_a_host_that_sends_the_client_on_to_another_address_is_not_followed() -> None:
    async def scene() -> None:
        async with open_house() as house:

            async def sends_on(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
                await reader.readuntil(b"\r\n\r\n")
                there = f"ws://127.0.0.1:{house.listener.port}/"
                writer.write(f"HTTP/1.1 302 Found\r\nLocation: {there}\r\nContent-Length: 0\r\n\r\n".encode())
                await writer.drain()

            async with answering(sends_on) as port:
                [end] = await first_heard(port)
            assert isinstance(end, Ended)
            assert house.table.record.chairs[0].sitter == "nobody"

    in_virtual_time(scene())


async def _nothing(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    await reader.read()


async def _endless_headers(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(b"HTTP/1.1 101 Switching Protocols\r\n")
    while True:
        writer.write(b"X: " + b"x" * 4_000 + b"\r\n")
        await writer.drain()
        await asyncio.sleep(0.01)


async def _one_endless_header(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(b"HTTP/1.1 101 Switching Protocols\r\nX: ")
    while True:
        writer.write(b"x" * 4_000)
        await writer.drain()
        await asyncio.sleep(0.01)


async def _endless_body(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    writer.write(b"HTTP/1.1 200 OK\r\nContent-Length: 1000000000000\r\n\r\n")
    while True:
        writer.write(b"x" * 60_000)
        await writer.drain()
        await asyncio.sleep(0.01)


@pytest.mark.parametrize("answer", [_nothing, _endless_headers, _one_endless_header, _endless_body])
def test_an_answer_without_an_end_is_given_up_in_seconds(answer: Answer) -> None:
    async def scene() -> None:
        loop = asyncio.get_running_loop()
        began_s = loop.time()
        async with answering(answer) as port:
            [end] = await first_heard(port)
        assert isinstance(end, Ended | Lost)
        assert end.text.isprintable()
        assert loop.time() - began_s < 16

    in_virtual_time(scene())


@pytest.mark.parametrize("is_cancelled", [False, True])
def test_who_leaves_before_a_host_has_answered_hears_nothing_more(is_cancelled: bool) -> None:
    async def scene() -> None:
        heard: list[Heard] = []
        async with answering(_nothing) as port:
            link = Link(Address("127.0.0.1", port), "Ann", CODE, bytes(16))
            running = asyncio.create_task(link.run(heard.append))
            await asyncio.sleep(1)
            if is_cancelled:
                running.cancel()
                with pytest.raises(asyncio.CancelledError):
                    await running
            else:
                link.close()
                await running
            await asyncio.sleep(60)
        assert heard == []

    in_virtual_time(scene())


Talk = Callable[[ServerConnection], Awaitable[None]]


async def _silent(line: ServerConnection) -> None:
    await line.wait_closed()


async def _oversize(line: ServerConnection) -> None:
    await line.recv()
    await line.send(bytes(VIEW_LIMIT + 1))


async def _text(line: ServerConnection) -> None:
    await line.recv()
    await line.send("\x1b]0;acted\x07")


async def _nested(line: ServerConnection) -> None:
    await line.recv()
    await line.send(b"\x91" * VIEW_LIMIT)


async def _claims_much(line: ServerConnection) -> None:
    await line.recv()
    await line.send(b"\xdd\xff\xff\xff\xff")


async def _no_welcome(line: ServerConnection) -> None:
    await line.recv()
    await line.send(TO_CLIENT.pack(Refused(id=1, code="late", text="No.", late_ms=1)))


async def _other_bytes(line: ServerConnection) -> None:
    await line.recv()
    await line.send(Codec(object, 1_000).pack({"kind": "welcome", "chair": -1, "token": "x" * 99}))


@pytest.mark.parametrize("talk", [_silent, _oversize, _text, _nested, _claims_much, _no_welcome, _other_bytes])
def test_what_is_no_welcome_is_one_sentence_and_nobody_is_seated(talk: Talk) -> None:
    async def scene() -> None:
        async with serve(talk, "127.0.0.1", 0, close_timeout=1) as server:
            [end] = await first_heard(server.sockets[0].getsockname()[1])
        assert isinstance(end, Ended | Lost)
        assert not isinstance(end, Connected)
        assert end.text.isprintable()
        assert len(end.text) < 300

    in_virtual_time(scene())


def test_a_host_that_hangs_up_again_and_again_is_asked_about_once_a_second_at_most() -> None:
    async def scene() -> None:
        visits = 0

        async def hangs_up(line: ServerConnection) -> None:
            nonlocal visits
            visits += 1
            await line.recv()
            await line.close(Close.TOO_SLOW)

        async with serve(hangs_up, "127.0.0.1", 0) as server:
            link = Link(Address("127.0.0.1", server.sockets[0].getsockname()[1]), "Ann", CODE, bytes(16))
            running = asyncio.create_task(link.run(lambda heard: None))
            await asyncio.sleep(600)
            link.close()
            await running
        assert 300 < visits < 610

    in_virtual_time(scene())


def test_of_a_message_without_an_end_no_more_is_taken_than_a_view_may_hold() -> None:
    async def scene() -> None:
        sent = 0

        def parts() -> Iterator[bytes]:
            nonlocal sent
            while True:
                sent += 50_000
                yield bytes(50_000)

        async def talk(line: ServerConnection) -> None:
            await line.recv()
            await line.send(parts())

        async with serve(talk, "127.0.0.1", 0, close_timeout=1) as server:
            [end] = await first_heard(server.sockets[0].getsockname()[1])
        assert isinstance(end, Ended | Lost)
        assert sent < 4 * VIEW_LIMIT + 8_000_000  # what the kernel's buffers take is not ours

    in_virtual_time(scene())


def _refusals() -> Iterator[AnyServerMessage]:
    for number in itertools.count(1):
        yield Refused(id=number, code="late", text="No.", late_ms=1)


def _heats() -> Iterator[AnyServerMessage]:
    while True:
        yield HeatFile(data=b"no heat")


def _long_heats() -> Iterator[AnyServerMessage]:
    while True:
        yield HeatFile(data=bytes(200_000))


def _long_messages() -> Iterator[AnyServerMessage]:
    while True:
        yield Refused(id=1, code="late", text="No." * 300_000, late_ms=1)


def _screens() -> Iterator[AnyServerMessage]:
    while True:
        yield from (TOLD["heat"], TOLD["between"])


def _welcomes() -> Iterator[AnyServerMessage]:
    for number in itertools.count():
        yield _welcome(number % 4)


def _moves() -> Iterator[AnyServerMessage]:
    for number in itertools.count():
        yield _welcome(table=f"t{number}")


def _welcome(chair: int = 0, table: str = "") -> Welcome:
    return Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=0, table=table)


def _own_heats() -> Iterator[AnyServerMessage]:
    own = TOLD["own heat"]
    assert isinstance(own, OwnHeat)
    yield from itertools.cycle((own, OwnTimes(heat=own.heat)))


def _one_table_and_all() -> Iterator[AnyServerMessage]:
    whole = next(shown for shown in told_by_a_club().values() if isinstance(shown, ClubView))
    for is_one in itertools.cycle((False, True)):
        yield whole.model_copy(update={"one_table": is_one})


def _results() -> Iterator[AnyServerMessage]:
    yield from itertools.cycle((TOLD["between"], Evening(played=()), TOLD["between"], RANKING))


def _clocks() -> Iterator[AnyServerMessage]:
    yield from itertools.cycle((TOLD["heat"], CLOCK))


@asynccontextmanager
async def hearing(said: Iterator[AnyServerMessage]) -> AsyncIterator[tuple[Link, "asyncio.Task[None]", list[Heard]]]:
    """A client of ours at a table that says this as fast as it can, the run of its line, and what it has heard."""

    async def talk(line: ServerConnection) -> None:
        await line.recv()
        await line.send(TO_CLIENT.pack(_welcome()))
        for message in said:
            await line.send(TO_CLIENT.pack(message))

    heard: list[Heard] = []
    async with serve(talk, "127.0.0.1", 0, compression=None, close_timeout=1) as server:
        link = Link(Address("127.0.0.1", server.sockets[0].getsockname()[1]), "Ann", CODE, bytes(16))
        yield link, asyncio.create_task(link.run(heard.append)), heard


@pytest.mark.parametrize(
    ("said", "most"),
    [
        (_refusals, 1_100),
        (_heats, 138),
        (_own_heats, 138),
        (_long_heats, 10),
        (_long_messages, 5),
        (_screens, 15),
        (_welcomes, 15),
        (_moves, 15),
        (_one_table_and_all, 15),
        (_results, 15),
        (_clocks, 15),
    ],
)
def test_of_a_table_that_never_stops_talking_no_more_is_heard_than_a_screen_can_show(
    said: Callable[[], Iterator[AnyServerMessage]], most: int
) -> None:
    async def scene() -> None:
        async with hearing(said()) as (link, running, heard):
            await asyncio.sleep(10)
            link.close()
            await running
        assert most / 2 < len(heard) <= most + 2

    in_virtual_time(scene())


def test_who_leaves_a_table_that_never_stops_talking_waits_for_nothing() -> None:
    async def scene() -> None:
        async with hearing(_screens()) as (link, running, heard):
            await asyncio.sleep(10)
            assert len(heard) > 8
            left_at = asyncio.get_running_loop().time()
            link.close()
            await running
            assert asyncio.get_running_loop().time() - left_at < 0.05

    in_virtual_time(scene())


def test_views_of_one_screen_are_heard_as_they_come() -> None:
    async def scene() -> None:
        async with hearing(TOLD["heat" if number else "between"] for number in range(30)) as (link, running, heard):
            await asyncio.sleep(0.1)
            assert sum(isinstance(message, View) for message in heard) == 30
            link.close()
            await running

    in_virtual_time(scene())


def test_the_heats_of_the_longest_set_come_at_once_to_who_returns() -> None:
    async def scene() -> None:
        async with hearing(HeatFile(data=b"no heat") for _ in range(2 * MOST_HEATS)) as (link, running, heard):
            await asyncio.sleep(1)
            assert sum(isinstance(message, HeatFile) for message in heard) == 2 * MOST_HEATS
            link.close()
            await running

    in_virtual_time(scene())


def test_the_first_four_screens_come_at_once_and_then_one_a_second() -> None:
    async def scene() -> None:
        async with hearing(_screens()) as (link, running, heard):
            await asyncio.sleep(0.1)
            assert sum(isinstance(message, View) for message in heard) == 4
            await asyncio.sleep(3)
            assert sum(isinstance(message, View) for message in heard) == 7
            link.close()
            await running

    in_virtual_time(scene())


def test_results_beside_the_tables_are_heard_as_they_come() -> None:
    shown = told_by_a_club()["desk"]

    async def scene() -> None:
        said = itertools.islice(itertools.cycle((shown, Evening(played=()), RANKING)), 30)
        async with hearing(said) as (link, running, heard):
            await asyncio.sleep(0.1)
            assert sum(isinstance(message, ClubView | Evening | Ranking) for message in heard) == 30
            link.close()
            await running

    in_virtual_time(scene())


def test_a_view_with_more_than_any_table_has_to_show_ends_the_line_in_a_sentence() -> None:
    between = TOLD["between"]
    assert isinstance(between, View)
    longest = between.model_copy(update={"results": between.results * 200})
    assert LONGEST_VIEW < len(TO_CLIENT.pack(longest)) < VIEW_LIMIT

    async def scene() -> None:
        async with hearing(iter([longest])) as (_, running, heard):
            await running
        assert isinstance(heard[-1], Ended)
        assert "cannot read: a view of" in heard[-1].text
        assert not any(isinstance(message, View) for message in heard)

    in_virtual_time(scene())

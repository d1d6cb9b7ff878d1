"""What a client tells a table so that it is let in, what it tells nobody, and when it takes a table for gone."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from websockets.asyncio.server import ServerConnection, serve

from client.browser.entry import Entry
from client.connection.address import Address
from client.connection.link import Connected, Ended, Link, Lost
from shared.rules.intents import NotReady
from shared.visitors import visitor_proof
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, Close, Command, Hello, PageVisitor, Welcome
from tests.client.connection.listeners import Listener, link_to, listening
from tests.client.relay import in_virtual_time
from tests.server.players import CODE, open_house


@asynccontextmanager
async def asked_in(*tables: str) -> AsyncIterator[tuple[int, list[ServerConnection], list[object]]]:
    """A host that seats whoever comes at the next of its tables; yields its port, its lines and what they said."""
    lines: list[ServerConnection] = []
    said: list[object] = []

    async def handle(line: ServerConnection) -> None:
        lines.append(line)
        said.append(TO_SERVER.unpack(await line.recv(decode=False)))
        table = tables[min(len(lines), len(tables)) - 1]
        await line.send(TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0, table=table)))
        async for frame in line:
            assert isinstance(frame, bytes)
            said.append(TO_SERVER.unpack(frame))

    async with serve(handle, "127.0.0.1", 0, compression=None) as server:
        yield server.sockets[0].getsockname()[1], lines, said


def test_a_table_is_not_told_by_which_program_one_comes() -> None:
    async def scene() -> None:
        async with asked_in("t1") as (port, lines, _), listening(link_to(port)) as listener:
            await listener.until(Connected)
            assert lines[0].request
            names = {name.lower() for name, _ in lines[0].request.headers.raw_items()}
            assert names == {"host", "upgrade", "connection", "sec-websocket-key", "sec-websocket-version"}

    in_virtual_time(scene())


def test_a_line_goes_to_the_table_itself_whatever_proxy_the_machine_names(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("http_proxy", "https_proxy", "all_proxy", "socks_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:1")
    monkeypatch.delenv("no_proxy", raising=False)

    async def scene() -> None:
        async with asked_in("t1") as (port, _, said), listening(link_to(port)) as listener:
            await listener.until(Connected)
            assert isinstance(said[0], Hello)

    in_virtual_time(scene())


def test_a_table_that_answers_no_more_is_taken_for_gone_within_six_seconds() -> None:
    async def scene() -> None:
        async with asked_in("t1") as (port, lines, _), listening(link_to(port)) as listener:
            await listener.until(Connected)
            await asyncio.sleep(60)
            assert not any(isinstance(heard, Lost) for heard in listener.heard)
            lines[0].transport.pause_reading()  # type: ignore[attr-defined]
            silent_s = asyncio.get_running_loop().time()
            await listener.until(Lost)
            assert asyncio.get_running_loop().time() - silent_s < 6
            lines[0].transport.abort()

    in_virtual_time(scene())


@pytest.mark.parametrize("name", ["A" * 1_000, "Ann\udcff"])
def test_any_name_can_be_said_and_a_long_one_is_cut(name: str) -> None:
    async def scene() -> None:
        async with open_house() as house, listening(link_to(house.listener.port, name)) as listener:
            await listener.until(Connected)
            assert house.table.record.chairs[0].name[:1] == "A"

    in_virtual_time(scene())


@pytest.mark.parametrize("code", ["maple-" * 1_000, "maple\udcff"])
def test_any_code_can_be_said_and_is_wrong(code: str) -> None:
    async def scene() -> None:
        async with open_house() as house:
            listener = Listener(link_to(house.listener.port, code=code))
            await listener.link.run(listener.hear)
            assert listener.heard[-1] == Ended("This is the wrong code; ask the host.")

    in_virtual_time(scene())


def test_what_was_asked_of_one_table_is_never_asked_of_the_next() -> None:
    async def scene() -> None:
        async with asked_in("t1", "t2", "t2") as (port, lines, said), listening(link_to(port)) as listener:
            await listener.until(Connected)
            listener.link.ask(NotReady(), 0)
            while not any(isinstance(one, Command) for one in said):  # noqa: ASYNC110
                await asyncio.sleep(0.1)  # time jumps; the host has nothing else to wait on
            for visits in (2, 3):
                await lines[-1].close(Close.TOO_SLOW)
                await listener.until(Connected, visits)
                await asyncio.sleep(1)
            assert sum(isinstance(one, Command) for one in said) == 1
            listener.link.ask(NotReady(), 0)
            await asyncio.sleep(1)
            await lines[-1].close(Close.TOO_SLOW)
            await listener.until(Connected, 4)
            await asyncio.sleep(1)
            ids = [one.id for one in said if isinstance(one, Command)]
            assert ids == [1, 2, 2], "at the same table it is asked until it is answered"

    in_virtual_time(scene())


def test_a_page_says_for_whom_it_asks_and_proves_that_it_is_the_hosts_own() -> None:
    key = b"k" * 32

    async def scene() -> None:
        whose = PageVisitor(address="192.0.2.7", proof=visitor_proof(key, "192.0.2.7"))
        async with asked_in("t1") as (port, _, said):
            pages = [Entry(f"127.0.0.1:{port}", key), Entry(f"127.0.0.1:{port}")]
            for page in pages:
                await page.ask("192.0.2.7", "Ada", CODE)
            async with listening(Link(Address("127.0.0.1", port), "Ada", CODE, bytes(16), visitor=whose)) as screen:
                await screen.until(Connected)
            for page in pages:
                await page.close()
            assert [one.visitor for one in said if isinstance(one, Hello)] == [whose, None, whose]

    in_virtual_time(scene())

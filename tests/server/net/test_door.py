"""The door of a port: how many may stand there, how long, with how many bytes, and what the log says about it.

All sockets are real. On Linux all of 127.0.0.0/8 is this machine, so that one test can come from many addresses.
"""

import asyncio
import contextlib
import gc
import resource
import socket
import ssl
import tracemalloc
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

import pytest
import trustme
from websockets.asyncio.client import connect
from websockets.exceptions import WebSocketException

from server.admission import Admission
from server.clock import now_ms
from server.host import tls_context
from server.net.addresses import network_of
from server.net.door import LONG_ENOUGH_MS, PAUSE_S, Door, DoorLimits, Refusals, free_descriptors, let_in
from server.net.listener import Limits, open_listener, within_descriptors
from server.store import Store
from tests.server.players import Player, make_table, open_house

HERE = "127.0.0.1"


class Spoken(asyncio.Protocol):
    """What stands behind the door in these tests: it lets in who says "in", and keeps what is said."""

    def __init__(self, made: "list[Spoken]") -> None:
        made.append(self)
        self.said = b""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self.transport = transport

    def data_received(self, data: bytes) -> None:
        self.said += data
        if data.startswith(b"in"):
            let_in(self.transport)
            assert isinstance(self.transport, asyncio.Transport)
            self.transport.write(b"come in")


class Street:
    """A door, what was made behind it, and connections to it."""

    def __init__(self, door: Door, made: list[Spoken]) -> None:
        self.door, self.made = door, made
        self.port = int(door.sockets[0].getsockname()[1])
        self._lines: list[socket.socket] = []

    async def come(self, address: str = HERE) -> socket.socket:
        """Connect from an address and say nothing."""
        line = socket.socket()
        line.setblocking(False)
        line.bind((address, 0))
        self._lines.append(line)
        await asyncio.get_running_loop().sock_connect(line, (HERE, self.port))
        await self.settle()
        return line

    async def settle(self) -> None:
        """Let the door take in who has come: what the kernel has is seen at once, and no time passes."""
        for _ in range(20):
            await asyncio.sleep(0)

    async def hears(self, line: socket.socket) -> bytes:
        """Return what comes, nothing when the line has been ended."""
        with contextlib.suppress(ConnectionError):
            return await asyncio.get_running_loop().sock_recv(line, 100)
        return b""

    def leave(self) -> None:
        for line in self._lines:
            line.close()


@asynccontextmanager
async def street(tls: ssl.SSLContext | None = None, **limits: float) -> AsyncIterator[Street]:
    made: list[Spoken] = []
    door = await Door(partial(Spoken, made), DoorLimits(**limits), tls=tls).open(HERE, 0)  # type: ignore[arg-type]
    there = Street(door, made)
    try:
        yield there
    finally:
        there.leave()
        door.close()
        await door.wait_closed()


@pytest.fixture
def tls(tmp_path: Path) -> ssl.SSLContext:
    made = trustme.CA().issue_cert(HERE)
    certificate, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    made.cert_chain_pems[0].write_to_path(certificate)
    made.private_key_pem.write_to_path(key)
    return tls_context(certificate, key)


# ---- how many


async def test_one_address_has_so_many_at_the_door_and_further_ones_are_ended_before_anything_is_made() -> None:
    async with street(each=3) as there:
        lines = [await there.come() for _ in range(5)]
        assert len(there.made) == there.door.open_lines == 3
        assert [await there.hears(line) for line in lines[3:]] == [b"", b""]
        assert there.door.refusals.count["Connections from a network that has others at a full door"] == 2


async def test_who_is_let_in_stands_at_the_door_no_more() -> None:
    async with street(each=2, seconds=6.0) as there:
        for _ in range(5):
            line = await there.come()
            await asyncio.get_running_loop().sock_sendall(line, b"in")
            assert await there.hears(line) == b"come in"
        await asyncio.sleep(60)
        assert there.door.open_lines == 5


async def test_who_has_stood_long_enough_makes_place_for_the_next_of_the_same_address() -> None:
    async with street(each=2) as there:
        first, second = await there.come(), await there.come()
        await asyncio.sleep(LONG_ENOUGH_MS / 1_000)
        third = await there.come()
        assert await there.hears(first) == b""
        await asyncio.get_running_loop().sock_sendall(third, b"in")
        assert await there.hears(third) == b"come in"
        await asyncio.get_running_loop().sock_sendall(second, b"in")
        assert await there.hears(second) == b"come in"


async def test_when_the_door_is_full_the_address_with_most_makes_place_at_once() -> None:
    async with street(most=6, each=4) as there:
        few = [await there.come("127.0.0.2") for _ in range(2)]
        many = [await there.come("127.0.0.3") for _ in range(4)]
        guest = await there.come("127.0.0.4")
        assert await there.hears(many[0]) == b""
        for line in (guest, *few, *many[1:]):
            await asyncio.get_running_loop().sock_sendall(line, b"in")
            assert await there.hears(line) == b"come in"


async def test_a_full_door_is_not_emptied_by_an_address_that_has_as_many_as_any() -> None:
    async with street(most=4, each=4) as there:
        lines = [await there.come(f"127.0.0.{2 + number % 2}") for number in range(4)]
        late = await there.come("127.0.0.2")
        assert await there.hears(late) == b""
        assert there.door.open_lines == 4
        for line in lines:
            await asyncio.get_running_loop().sock_sendall(line, b"in")
            assert await there.hears(line) == b"come in"


async def test_at_a_full_door_a_network_that_stands_there_already_pushes_out_only_who_has_had_time() -> None:
    async with street(most=4, each=4) as there:
        many = [await there.come("127.0.0.2") for _ in range(3)]
        await there.come("127.0.0.3")
        assert await there.hears(await there.come("127.0.0.3")) == b""
        await asyncio.sleep(LONG_ENOUGH_MS / 1_000)
        second = await there.come("127.0.0.3")
        assert await there.hears(many[0]) == b""
        await asyncio.get_running_loop().sock_sendall(second, b"in")
        assert await there.hears(second) == b"come in"


async def test_lines_that_never_begin_tls_stand_under_the_same_limit_and_nothing_is_made_for_them(
    tls: ssl.SSLContext,
) -> None:
    async with street(tls, each=3, seconds=6.0) as there:
        lines = [await there.come() for _ in range(40)]
        assert there.door.open_lines == 3
        assert there.made == []
        began_ms = now_ms()
        assert [await there.hears(line) for line in lines] == [b""] * 40
        assert now_ms() - began_ms == 6_000
        await there.settle()
        assert there.door.open_lines == 0


async def test_lines_without_tls_cost_little_memory_and_it_is_back_without_a_collection(tls: ssl.SSLContext) -> None:
    gc.collect()
    gc.disable()
    tracemalloc.start()
    try:
        async with street(tls, most=64, each=64, seconds=6.0) as there:
            before, _ = tracemalloc.get_traced_memory()
            for _ in range(64):
                await there.come()
            under, _ = tracemalloc.get_traced_memory()
            there.leave()
            await there.settle()
            assert there.door.open_lines == 0
            after, _ = tracemalloc.get_traced_memory()
        assert under - before < 64 * 32 * 1024
        assert after - before < 64 * 4 * 1024
    finally:
        tracemalloc.stop()
        gc.enable()


async def test_an_older_line_that_never_begins_tls_makes_place_for_one_that_does(tls: ssl.SSLContext) -> None:
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname, client.verify_mode = False, ssl.CERT_NONE
    async with street(tls, each=1) as there:
        silent = await there.come()
        await asyncio.sleep(LONG_ENOUGH_MS / 1_000)
        reader, writer = await asyncio.open_connection(HERE, there.port, ssl=client)
        writer.write(b"in")
        assert await reader.readexactly(7) == b"come in"
        assert await there.hears(silent) == b""
        writer.transport.abort()


# ---- how long, how much


@pytest.mark.parametrize("said", [b"", b"half a requ"])
async def test_who_does_not_say_in_time_what_it_wants_is_ended(said: bytes) -> None:
    async with street(seconds=6.0) as there:
        line, began_ms = await there.come(), now_ms()
        await asyncio.sleep(3)
        await asyncio.get_running_loop().sock_sendall(line, said)
        assert await there.hears(line) == b""
        assert now_ms() - began_ms == 6_000


async def test_who_says_too_much_before_it_is_known_is_ended_and_who_is_known_may() -> None:
    async with street(bytes=1_000) as there:
        loop = asyncio.get_running_loop()
        stranger, guest = await there.come(), await there.come()
        await loop.sock_sendall(guest, b"in")
        assert await there.hears(guest) == b"come in"
        await loop.sock_sendall(guest, b"x" * 5_000)
        await loop.sock_sendall(stranger, b"x" * 700)
        await there.settle()
        await loop.sock_sendall(stranger, b"x" * 700)
        assert await there.hears(stranger) == b""
        assert [len(spoken.said) for spoken in there.made] == [700, 5_002]


async def test_an_endless_beginning_of_tls_is_ended(tls: ssl.SSLContext) -> None:
    """A client's first TLS message that claims to be as long as one can be, in as many records as that takes."""
    record = b"\x16\x03\x01\x40\x00" + bytes(0x4000)
    first = b"\x16\x03\x01\x40\x00\x01\xff\xff\xff" + bytes(0x4000 - 4)
    async with street(tls) as there:
        line, sent = await there.come(), 0
        began_ms = now_ms()
        with contextlib.suppress(ConnectionError):
            await asyncio.get_running_loop().sock_sendall(line, first)
            while sent < 64:
                await asyncio.get_running_loop().sock_sendall(line, record)
                await there.settle()
                sent += 1
        assert sent < 16
        await there.settle()
        assert there.door.open_lines == 0
        assert now_ms() == began_ms


# ---- descriptors


async def test_beyond_the_descriptors_that_were_granted_nobody_is_taken_in_until_somebody_goes() -> None:
    async with street(descriptors=2) as there:
        loop = asyncio.get_running_loop()
        inside = [await there.come(f"127.0.0.{number}") for number in (2, 3)]
        for line in inside:
            await loop.sock_sendall(line, b"in")
            assert await there.hears(line) == b"come in"
        waiting = await there.come("127.0.0.4")
        await loop.sock_sendall(waiting, b"in")
        await asyncio.sleep(30)
        assert there.door.open_lines == len(there.made) == 2
        inside[0].close()
        assert await there.hears(waiting) == b"come in"


@contextlib.contextmanager
def no_descriptor_left() -> Iterator[Callable[[], None]]:
    """Take every descriptor away that this process could still open, until the yielded function is called."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    with socket.socket() as probe:
        resource.setrlimit(resource.RLIMIT_NOFILE, (probe.fileno(), hard))
    give_back = partial(resource.setrlimit, resource.RLIMIT_NOFILE, (soft, hard))
    try:
        yield give_back
    finally:
        give_back()


async def test_without_a_descriptor_accepting_pauses_and_the_log_gets_one_line(
    caplog: pytest.LogCaptureFixture,
) -> None:
    async with street() as there:
        loop = asyncio.get_running_loop()
        with socket.socket() as line:
            line.setblocking(False)
            with no_descriptor_left() as give_back:
                await loop.sock_connect(line, (HERE, there.port))
                await asyncio.sleep(10 * PAUSE_S)
                assert there.made == []
                give_back()
                await loop.sock_sendall(line, b"in")
                assert await there.hears(line) == b"come in"
    assert [record.levelname for record in caplog.records] == ["WARNING"]
    assert "too many files are open" in caplog.text
    assert "Traceback" not in caplog.text


def test_the_descriptors_are_those_of_the_system_without_the_open_ones_and_some_to_spare() -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (1_024, hard))
        free = free_descriptors()
        with socket.socket(), socket.socket():
            assert free_descriptors() == free - 2
        assert 500 < free < 1_000
        resource.setrlimit(resource.RLIMIT_NOFILE, (16, hard))
        assert free_descriptors() == 8
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_where_the_system_does_not_list_the_open_ones_twice_as_many_are_spared(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(folder: str) -> list[str]:
        raise FileNotFoundError(folder)

    monkeypatch.setattr("server.net.door.os.listdir", unknown)
    for most, free in ((300, 300 - 48), (16, 8)):
        monkeypatch.setattr(resource, "getrlimit", lambda kind, most=most: (most, most))
        assert free_descriptors() == free


@pytest.mark.parametrize(
    ("descriptors", "at_door", "inside"), [(4_096, 64, 512), (400, 64, 168), (30, 7, 11), (8, 2, 3)]
)
def test_the_door_and_those_inside_share_the_descriptors(descriptors: int, at_door: int, inside: int) -> None:
    limits = within_descriptors(Limits(), descriptors)
    assert (limits.door.most, limits.connections) == (at_door, inside)
    assert limits.door.descriptors == descriptors
    assert at_door + 2 * inside <= descriptors, "as many are left for those who hold a seat"


# ---- the log


async def test_each_kind_of_refusal_is_one_line_a_minute_at_most(caplog: pytest.LogCaptureFixture) -> None:
    refusals = Refusals()
    for _ in range(100):
        refusals.tell("too many", "192.0.2.1")
        refusals.tell("too long", "192.0.2.2")
    assert len(caplog.messages) == 2
    await asyncio.sleep(59)
    refusals.tell("too many", "192.0.2.1")
    assert len(caplog.messages) == 2
    await asyncio.sleep(1)
    refusals.tell("too many", "192.0.2.3")
    assert caplog.messages[2:] == ["too many (102 so far, the last from 192.0.2.3)."]


# ---- a table behind the door


async def test_a_crowd_that_says_nothing_keeps_nobody_from_the_seat_they_hold() -> None:
    """530 sockets from 23 addresses, half of them with a WebSocket that never says hello."""
    async with open_house() as house:
        ann = Player(house.listener.port)
        chair = (await ann.come()).chair
        await ann.cut()
        silent, crowd = [], []
        for number in range(530):
            source = (f"127.0.1.{1 + number % 23}", 0)
            if number % 2:
                with contextlib.suppress(OSError, WebSocketException):
                    crowd.append(await connect(f"ws://{HERE}:{house.listener.port}", local_addr=source))
            else:
                silent.append(socket.create_connection((HERE, house.listener.port), source_address=source))
        assert (await ann.come()).chair == chair
        assert house.listener.door.open_lines <= DoorLimits().most + 1
        for line in silent:
            line.close()
        for visitor in crowd:
            visitor.transport.abort()
            await visitor.wait_closed()
        await ann.go()


async def test_silent_lines_cost_a_private_table_no_more_than_its_door(tls: ssl.SSLContext) -> None:
    async with (
        Admission.open(Store.open(None)) as admission,
        open_listener(admission, HERE, 0, tls=tls) as listener,
    ):
        admission.add(make_table())
        there = Street(listener.door, [])
        for number in range(300):
            await there.come(f"127.0.1.{1 + number % 30}")
        assert listener.door.open_lines == DoorLimits().most
        there.leave()


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("?", "?"),
    ],
)
def test_one_machine_of_ipv6_is_one_network_whatever_address_it_chooses(address: str, network: str) -> None:
    assert network_of(address) == network


async def test_a_machine_with_many_addresses_of_ipv6_has_one_share_of_the_door() -> None:
    door = Door(Silent, DoorLimits(each=3))
    ends = []
    for number in range(1, 9):
        here, there = socket.socketpair()
        here.setblocking(False)
        there.setblocking(False)
        door._take(here, f"2001:db8::{number}")
        ends.append(there)
        await asyncio.sleep(0.01)
    assert door.open_lines == 3
    assert dict(door._by_network) == {"2001:db8::/64": 3}
    for end in ends:
        end.close()
    await asyncio.sleep(0.01)
    assert door.open_lines == 0


class Silent(asyncio.Protocol):
    """Says nothing."""

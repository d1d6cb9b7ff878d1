"""A client that does not read costs nobody but itself."""

import asyncio
import logging
import socket

import pytest
from websockets.asyncio.client import ClientConnection, connect

from server.clock import now_ms
from server.net.listener import UNREAD_LIMIT, Limits
from server.table.outbox import REPLIES, SLOW_S, Outbox
from shared.rules.intents import Lift, NotReady, Ready
from shared.wire.messages import PROTOCOL, TO_SERVER, Command, Hello
from tests.server.players import CODE, House, Player, open_house
from tests.server.wires import MemoryWire

_KERNELS = 1024 * 1024
"""More than the buffers of both kernels hold."""


class StuckWire(MemoryWire):
    """A wire whose other end reads nothing more once it is stuck."""

    def __init__(self) -> None:
        super().__init__()
        self.free = asyncio.Event()
        self.free.set()

    async def write(self, frame: bytes) -> None:
        await self.free.wait()
        await super().write(frame)

    def cut(self) -> None:
        super().cut()
        self.free.set()


async def test_the_newest_view_takes_the_place_of_those_that_wait() -> None:
    wire = StuckWire()
    line, running = await _running(wire)
    wire.free.clear()
    for number in range(1_000):
        line.show(b"view %d" % number)
        if number % 100 == 0:
            line.tell(b"reply %d" % number)
        await asyncio.sleep(0)
    wire.free.set()
    line.end(1000, "bye")
    await running
    replies = [frame for frame in wire.written if frame.startswith(b"reply")]
    views = [frame for frame in wire.written if frame.startswith(b"view")]
    assert replies == [b"reply %d" % number for number in range(0, 1_000, 100)]
    assert views[-1] == b"view 999"
    assert len(views) <= 3
    assert wire.ended == (1000, "bye")


async def test_a_frame_that_nobody_takes_ends_the_line_after_a_while() -> None:
    wire = StuckWire()
    line, running = await _running(wire)
    wire.free.clear()
    began_ms = now_ms()
    line.show(b"view")
    await running
    assert now_ms() - began_ms == SLOW_S * 1_000
    assert wire.ended == (1006, "")
    assert line.was_slow


async def test_replies_that_pile_up_end_the_line() -> None:
    wire = StuckWire()
    line, running = await _running(wire)
    wire.free.clear()
    for _ in range(REPLIES + 2):
        line.tell(b"reply")
        await asyncio.sleep(0)
    assert wire.ended == (1006, "")
    await running


async def test_so_many_replies_may_wait_and_not_one_more() -> None:
    wire = StuckWire()
    line, running = await _running(wire)
    wire.free.clear()
    line.tell(b"in hand")
    await asyncio.sleep(0)
    for _ in range(REPLIES):
        line.tell(b"reply")
    assert wire.ended is None
    line.tell(b"one more")
    line.tell(b"and one after the end")
    assert wire.ended == (1006, "")
    await running


async def test_an_error_of_the_wire_ends_its_line_alone_and_is_logged(caplog: pytest.LogCaptureFixture) -> None:
    class Broken(MemoryWire):
        async def write(self, frame: bytes) -> None:
            raise ValueError("secret")

    wire = Broken()
    line, running = await _running(wire)
    line.tell(b"reply")
    await running
    assert line.ended.is_set()
    assert wire.ended == (1006, "")
    assert "a line: ValueError" in caplog.text
    assert "secret" not in caplog.text


async def _running(wire: MemoryWire) -> tuple[Outbox, asyncio.Task[None]]:
    line = Outbox(wire)
    return line, asyncio.create_task(line.run())


async def test_a_real_client_that_stops_reading_is_cut_off_and_the_others_notice_nothing(
    caplog: pytest.LogCaptureFixture,
) -> None:
    caplog.set_level(logging.INFO)
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        sleeper = await _sleeper(house)
        await ann.until(lambda view: view.chairs[1].connected)
        toggles, came_ms = 0, now_ms()
        assert ann.view
        while ann.view.chairs[1].connected:
            began_ms = now_ms()
            await ann.ask(Ready() if toggles % 2 else NotReady())
            assert now_ms() == began_ms
            await asyncio.sleep(0.03)
            toggles += 1
            assert toggles < 2_000
        assert ann.view.chairs[1].sitter == "person"
        # It was the unread bytes, long before the keepalive would have noticed.
        assert "chair 1 lost its line (slow)" in caplog.text
        assert now_ms() - came_ms < 20_000
        sleeper.transport.abort()
        await ann.go()


async def _sleeper(house: House) -> ClientConnection:
    """Join with a small buffer and never read again."""
    sock = socket.socket()
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
    sock.setblocking(False)
    await asyncio.get_running_loop().sock_connect(sock, ("127.0.0.1", house.listener.port))
    line = await connect(
        f"ws://127.0.0.1:{house.listener.port}", sock=sock, compression=None, ping_interval=None, max_queue=1
    )
    await line.send(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Sleeper", code=CODE)))
    await asyncio.sleep(0.01)
    line.transport.pause_reading()
    # Pings are answered by the library as long as it reads; here it does not, and asks for nothing either.
    await line.send(TO_SERVER.pack(Command(id=1, heat=0, intent=NotReady())))
    return line


async def test_who_asks_and_never_reads_the_answers_is_let_go_as_well() -> None:
    """At the rate that is allowed, answers alone fill no buffer soon; here it is the keepalive that notices."""
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        sleeper, came_ms = await _sleeper(house), now_ms()
        await ann.until(lambda view: view.chairs[1].connected)
        assert ann.view
        number = 2
        while ann.view.chairs[1].connected:
            await sleeper.send(TO_SERVER.pack(Command(id=number, heat=9, intent=Lift(step="go on", tiles=()))))
            await asyncio.sleep(1 / 30)
            number += 1
            assert now_ms() - came_ms < 30_000
        sleeper.transport.abort()
        await ann.go()


async def test_who_has_pings_answered_and_reads_no_answer_is_cut_off_when_so_much_waits() -> None:
    """The answers go past every queue of ours: only what waits in the buffer tells that nobody reads."""
    async with open_house(limits=Limits(frames_per_s=10**6, burst=10**6)) as house:
        ann = Player(house.listener.port)
        await ann.come()
        sleeper, came_ms = await _sleeper(house), now_ms()
        await ann.until(lambda view: view.chairs[1].connected)
        ping, sent = b"\x89\xfd\x00\x00\x00\x00" + bytes(125), 0
        assert ann.view
        while ann.view.chairs[1].connected:
            sleeper.transport.write(ping * 64)
            sent += 64 * 125
            await asyncio.sleep(0.001)
            assert sent < UNREAD_LIMIT + _KERNELS
        assert sent > UNREAD_LIMIT
        assert now_ms() - came_ms < 1_000, "nothing else than the bytes can have ended it so soon"
        sleeper.transport.abort()
        await ann.go()


async def test_who_goes_on_sending_behind_the_end_and_reads_nothing_is_cut_off_as_well() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        sleeper, came_ms = await _sleeper(house), now_ms()
        await ann.until(lambda view: view.chairs[1].connected)
        text, binary, sent = b"\x81\x80\x00\x00\x00\x00", b"\x82\xfe\x10\x00" + bytes(4 + 4_096), 0
        sleeper.transport.write(text)  # which nobody here understands
        await asyncio.sleep(0.01)
        while not sleeper.transport.is_closing():
            sleeper.transport.write(binary)
            sent += len(binary)
            await asyncio.sleep(0.001)
            assert sent < UNREAD_LIMIT + _KERNELS
        assert sent > UNREAD_LIMIT
        assert now_ms() - came_ms < 1_000, "a polite end would have been waited for"
        await ann.until(lambda view: not view.chairs[1].connected)
        await ann.go()

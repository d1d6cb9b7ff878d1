"""The listener: takes WebSockets (RFC 6455) on a port and hands each that keeps to its limits to a handler.

Whoever has not said a first word stands at the door (see server.net.door). Web pages are turned away by their Origin,
strangers' host names by Host. Frames are bounded in length and rate, connections in number, unread bytes in a client's
buffer in size. Nothing of a game is known here.
"""

import asyncio
import errno
import logging
import socket
import ssl
from collections import Counter, deque
from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from http import HTTPStatus
from typing import Any

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ConnectionClosed
from websockets.frames import DATA_OPCODES, Frame, Opcode
from websockets.http11 import Request, Response
from websockets.protocol import Event
from websockets.server import ServerProtocol

from server.clock import now_ms
from server.faults import describe_fault
from server.net.addresses import is_own_host, network_of, own_addresses, with_port
from server.net.door import Door, DoorLimits, Refusals, free_descriptors, let_in
from server.net.wire import Handler, HungUp
from shared.bucket import Bucket
from shared.troubles import describe_error
from shared.wire.messages import FRAME_LIMIT, PORT, Close

log = logging.getLogger("racktempo.listener")
_wire_log = logging.getLogger("racktempo.wire")
# At its lower levels the library writes whole frames to the log, and frames hold tiles.
_wire_log.setLevel(logging.CRITICAL)

KERNEL_BUFFER = 64 * 1024
UNREAD_LIMIT = 256 * 1024
"""Bytes that may wait for a client, in bytes beyond the kernel's own buffer; with more it is cut off."""
HANG_UP_S = 2.0
_SLICE = 2_048
"""Bytes that are parsed at once: as many tiny frames as fit in a socket's buffer would hold up everybody else."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How much one client, one network and all together may ask for, and how many may stand at the door. connections
    are those of clients that have said hello and have no place in the house yet."""

    door: DoorLimits = DoorLimits()
    connections: int = 512
    connections_each: int = 24
    frames_per_s: int = 40
    burst: int = 80


DEFAULT_LIMITS = Limits()


class CannotOpen(Exception):
    """The port cannot be opened; the message is one sentence. next_free is a port that could be had."""

    def __init__(self, text: str, next_free: int | None = None) -> None:
        super().__init__(text)
        self.next_free = next_free


@dataclass(slots=True)
class _Room:
    """How many connections there are whose clients have no place in the house yet, in all and by network."""

    limits: Limits
    handler: Handler
    refusals: Refusals = field(default_factory=Refusals)
    count: int = 0
    by_network: Counter[str] = field(default_factory=Counter)

    def has_place(self, network: str) -> bool:
        """Say whether one more of a network may come in."""
        return self.count < self.limits.connections and self.by_network[network] < self.limits.connections_each


class _Socket(ServerConnection):
    """One WebSocket as a wire: every message with the moment at which its last byte was read."""

    def __init__(self, room: _Room, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._room = room
        self._bucket = Bucket(room.limits.frames_per_s, room.limits.burst)
        self._read_ms: deque[int] = deque()
        self._failed = False
        self._ignored = 0
        self._is_in = False
        self.peer = "?"
        self.is_crowded = self._is_stranger = False

    # ---- what the library calls

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Keep the kernel's buffer small."""
        super().connection_made(transport)
        raw = transport.get_extra_info("socket")
        raw.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, KERNEL_BUFFER)
        self.peer = str((transport.get_extra_info("peername") or "?")[0])

    def connection_lost(self, exc: Exception | None) -> None:
        """Take the connection's place back."""
        super().connection_lost(exc)
        self.settle()

    def data_received(self, data: bytes) -> None:
        """Take bytes in, and cut off who goes on sending after the end, or has pings answered faster than it reads."""
        start = 0
        while start < len(data) and not self.protocol.eof_sent:
            super().data_received(data[start : start + _SLICE])
            start += _SLICE
        if start < len(data):
            self._ignored += len(data) - start
            super().data_received(data[start:])
        if max(self._ignored, self.transport.get_write_buffer_size()) > UNREAD_LIMIT:
            self.cut()

    def process_event(self, event: Event) -> None:
        """Stamp every message when it is read, and end the connection of a client that sends too much."""
        fault = self._fault(event) if isinstance(event, Frame) else None
        if fault and not self._failed:
            self._failed = True
            self.protocol.fail(Close.BAD_FRAME, fault)
            self.send_data()
        if self._failed:
            return
        if isinstance(event, Frame) and event.fin and event.opcode in DATA_OPCODES:
            self._read_ms.append(now_ms())
        super().process_event(event)

    def _fault(self, frame: Frame) -> str | None:
        if not self._bucket.take(now_ms()):
            return "You are sending too fast."
        return "Only binary frames are understood here." if frame.opcode is Opcode.TEXT else None

    # ---- what a line calls

    def settle(self) -> None:
        """Take note that who is at the other end is a stranger no more."""
        if self._is_stranger:
            self._is_stranger = False
            network = network_of(self.peer)
            self._room.count -= 1
            self._room.by_network[network] -= 1
            if not self._room.by_network[network]:
                del self._room.by_network[network]

    async def read(self) -> tuple[bytes, int]:
        """Return the next frame and when it was read; the first one leads through the door. Raises HungUp."""
        try:
            frame = await self.recv(decode=False)
        except ConnectionClosed:
            raise HungUp from None
        if not self._is_in:
            self._come_in()
        return frame, self._read_ms.popleft()

    def _come_in(self) -> None:
        room, network = self._room, network_of(self.peer)
        let_in(self.transport)
        self._is_in = True
        self.is_crowded = not room.has_place(network)
        if self.is_crowded:
            room.refusals.tell("Connections beyond those that a network, or all, may have without a seat", self.peer)
            return
        self._is_stranger = True
        room.count += 1
        room.by_network[network] += 1

    async def write(self, frame: bytes) -> None:
        """Hand a frame over; wait while too much is unread. Raises HungUp."""
        try:
            await self.send(frame)
        except ConnectionClosed:
            raise HungUp from None

    async def hang_up(self, code: int, text: str) -> None:
        """Close with a code and a reason (at most 123 bytes, RFC 6455 section 5.5), within HANG_UP_S."""
        reason = text.encode()[:123].decode(errors="ignore")
        try:
            async with asyncio.timeout(HANG_UP_S):
                await self.close(code, reason)
        except TimeoutError:
            self.cut()

    def cut(self) -> None:
        """End at once without a word."""
        self.transport.abort()


class Listener:
    """An open port. Make it with open_listener."""

    def __init__(self, door: Door) -> None:
        self.door = door

    @property
    def port(self) -> int:
        """The port that is open."""
        return int(self.door.sockets[0].getsockname()[1])

    @property
    def addresses(self) -> tuple[str, ...]:
        """What others can type to come here, each with the port."""
        bound = dict.fromkeys(str(sock.getsockname()[0]) for sock in self.door.sockets)
        everywhere = any(address in ("0.0.0.0", "::") for address in bound)
        return tuple(with_port(address, self.port) for address in (own_addresses() if everywhere else bound))


@asynccontextmanager
async def open_listener(
    handler: Handler,
    host: str | None = None,
    port: int = PORT,
    *,
    tls: ssl.SSLContext | None = None,
    limits: Limits = DEFAULT_LIMITS,
    origins: Collection[str] = (),
    names: Collection[str] = (),
) -> AsyncIterator[Listener]:
    """Open a port for a handler: host None is every network of the machine, port 0 any free port.

    origins are web pages that may connect (none by default), names further host names this machine goes by.

    Raises:
        CannotOpen: the port is taken, or the address is not ours.
    """
    room = _Room(within_descriptors(limits, free_descriptors()), handler)
    server = serve(
        partial(_handle, room),
        process_request=partial(_turned_away, room, origins, {name.lower() for name in names}),
        server_header=None,
        open_timeout=room.limits.door.seconds,
        logger=_wire_log,
    )
    door = Door(partial(_new_socket, room, server), room.limits.door, tls=tls, refusals=room.refusals)
    # The library's server, but its connections come from our door and not from asyncio's.
    server.create_server = partial(door.open, host, port)  # type: ignore[assignment]
    try:
        await server
    except OSError as error:
        raise _cannot_open(error, host, port) from error
    try:
        yield Listener(door)
    finally:
        await handler.close_lines(1001, "The host has closed the table; it may open again.")
        server.close()
        await server.wait_closed()


def within_descriptors(limits: Limits, descriptors: int) -> Limits:
    """Return limits that fit into so many descriptors: a quarter at most for the door, and half of the rest for those
    who have no place in the house yet, so that who holds a seat finds one."""
    at_door = min(limits.door.most, max(descriptors // 4, 2))
    inside = min(limits.connections, (descriptors - at_door) // 2)
    return replace(limits, connections=inside, door=replace(limits.door, most=at_door, descriptors=descriptors))


def _new_socket(room: _Room, server: Server) -> _Socket:
    protocol = ServerProtocol(max_size=FRAME_LIMIT, logger=_wire_log)
    return _Socket(
        room,
        protocol,
        server,
        ping_interval=10,
        ping_timeout=10,
        close_timeout=HANG_UP_S,
        write_limit=KERNEL_BUFFER,
    )


async def _handle(room: _Room, connection: ServerConnection) -> None:
    assert isinstance(connection, _Socket)
    try:
        await room.handler.serve(connection)
    except Exception as error:
        log.error("a connection: %s", describe_fault(error))
        connection.cut()


def _turned_away(
    room: _Room, origins: Collection[str], names: Collection[str], connection: ServerConnection, request: Request
) -> Response | None:
    """Return the refusal of a browser page or of a request that was meant for another host name."""
    peer = str(connection.remote_address[0]) if connection.remote_address else "?"
    if any(origin not in origins for origin in request.headers.get_all("Origin")):
        room.refusals.tell("Web pages that tried to join", peer)
        return connection.respond(HTTPStatus.FORBIDDEN, "Web pages cannot join a table.\n")
    hosts = request.headers.get_all("Host")
    if len(hosts) != 1 or not is_own_host(hosts[0], names):
        room.refusals.tell("Requests for another host", peer)
        return connection.respond(HTTPStatus.FORBIDDEN, "This is not the host you asked for.\n")
    return None


def _cannot_open(error: OSError, host: str | None, port: int) -> CannotOpen:
    where = f"Port {port}" + (f" of {host}" if host else "")
    if error.errno != errno.EADDRINUSE:
        return CannotOpen(f"{where} cannot be opened: {describe_error(error)}.")
    free = _next_free(host, port)
    hint = f"; leave and start again with --port {free}, which is free" if free else ""
    return CannotOpen(f"{where} is taken by another program{hint}.", free)


def _next_free(host: str | None, port: int) -> int | None:
    for candidate in range(port + 1, min(port + 100, 65_536)):
        with socket.socket(socket.AF_INET6 if host and ":" in host else socket.AF_INET) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host or "", candidate))
            except OSError:
                continue
            return candidate
    return None

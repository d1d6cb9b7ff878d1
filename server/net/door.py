"""The door of a port: where connections stand until it is known who they are.

TLS, an HTTP request, the handshake of a WebSocket and the first words on it stand under one limit: so many connections
at once, so many of one network, so long and so many bytes. It is counted before anything is made for a connection. If
there is no room, the network with the most gives up the connection that has stood longest: at once for a network that
has none here, for others only one that has had its time. The descriptors that the system grants are shared out when the
port is opened; if they run out all the same, nothing is taken in for a while. What is said on a connection is not known
here.
"""

import asyncio
import contextlib
import logging
import os
import socket
import ssl
import traceback
from asyncio import sslproto
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

from server.clock import now_ms
from server.net.addresses import network_of
from shared.troubles import describe_error

log = logging.getLogger("racktempo.door")

SPARE = 24
"""Descriptors that are left to the rest of the program: files, pipes, the coach's processes."""
PLENTY = 4_096
"""Descriptors to reckon with where the system names no limit."""
LONG_ENOUGH_MS = 1_000
"""How long a connection may stand at the door before another takes its place whose network stands here already."""
PAUSE_S = 0.5
"""How long nothing is taken in after the system had no descriptor or no memory."""
MINUTE_MS = 60_000
BACKLOG = 128
TLS_BUFFER = 8 * 1024
"""Bytes that asyncio keeps for reading on every line with TLS. It would take 256 KiB, before the first byte came."""
sslproto.SSLProtocol.max_size = TLS_BUFFER
_GONE = (ConnectionAbortedError, ConnectionResetError, InterruptedError)


class Refusals:
    """Tells the log who was refused: one line a minute at most for each kind, with the number of all so far."""

    def __init__(self, say: Callable[[str], None] = log.warning) -> None:
        self.count: Counter[str] = Counter()
        self._say = say
        self._told_ms: dict[str, int] = {}

    def tell(self, kind: str, peer: str) -> None:
        """Count a refusal; kind is one of our own few texts."""
        self.count[kind] += 1
        told_ms = self._told_ms.get(kind)
        if told_ms is None or now_ms() - told_ms >= MINUTE_MS:
            self._told_ms[kind] = now_ms()
            self._say(f"{kind} ({self.count[kind]} so far, the last from {peer}).")


@dataclass(frozen=True, slots=True)
class DoorLimits:
    """How many may stand at a door, how many of one network, and for how long and how many bytes."""

    most: int = 64
    each: int = 8
    seconds: float = 6.0
    bytes: int = 32 * 1024
    descriptors: int = PLENTY
    """Connections that may be open at once, at the door or inside; with more, nothing is taken in until one ends."""


def free_descriptors() -> int:
    """Return how many connections the system lets this process have from now on, some descriptors being spared."""
    try:
        import resource
    except ImportError:  # Windows, where a socket is no descriptor
        return PLENTY
    most, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    if most == resource.RLIM_INFINITY:
        return PLENTY
    with contextlib.suppress(OSError):
        return min(max(most - len(os.listdir("/dev/fd")) - SPARE, 8), PLENTY)
    return min(max(most - 2 * SPARE, 8), PLENTY)


def let_in(transport: asyncio.BaseTransport) -> None:
    """Let a connection through its door: it is known who that is."""
    arrival = transport.get_protocol()
    assert isinstance(arrival, _Arrival)
    arrival.let_in()


class _Arrival(asyncio.Protocol):
    """A connection from the moment it was taken in; the protocol behind it is made once TLS, if any, has begun."""

    def __init__(self, door: "Door", line: socket.socket, peer: str) -> None:
        self.peer, self.network, self.since_ms = peer, network_of(peer), now_ms()
        self._door, self._line, self._unread = door, line, door.limits.bytes
        self._transport: asyncio.Transport | None = None
        self._inner: asyncio.Protocol | None = None
        self._late = asyncio.get_running_loop().call_later(
            door.limits.seconds, self.turn_out, "Connections that did not say in time what they want"
        )

    def let_in(self) -> None:
        self._late.cancel()
        self._door.forget(self)

    def turn_out(self, why: str = "") -> None:
        """End the connection at once, whatever it is at."""
        if why:
            self._door.refusals.tell(why, self.peer)
        self.let_in()
        if self._transport:
            self._transport.abort()
        else:
            # TLS has not begun; it notices the end of the line and clears up.
            with contextlib.suppress(OSError):
                self._line.shutdown(socket.SHUT_RDWR)

    async def arrive(self) -> None:
        """Begin TLS, if any, and what follows."""
        tls = self._door.tls
        try:
            await asyncio.get_running_loop().connect_accepted_socket(
                lambda: self, self._line, ssl=tls, ssl_shutdown_timeout=self._door.limits.seconds if tls else None
            )
        except OSError as error:
            if isinstance(error, ssl.SSLError):
                self._door.refusals.tell("Connections without proper TLS", self.peer)
            # The frames and the error hold each other, and with them all that was made for TLS, until a collection.
            traceback.clear_frames(error.__traceback__)
        finally:
            if self._inner is None:
                self._gone()

    def _gone(self) -> None:
        self.let_in()
        self._door.ended(self)

    # ---- what asyncio calls

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Make the protocol behind the door."""
        assert isinstance(transport, asyncio.Transport)
        self._transport, self._inner = transport, self._door.make()
        self._inner.connection_made(transport)

    def data_received(self, data: bytes) -> None:
        """Pass bytes on, at the door only so many."""
        assert self._inner
        if self._door.holds(self):
            self._unread -= len(data)
            if self._unread < 0:
                return self.turn_out("Connections that said too much before they were known")
        return self._inner.data_received(data)

    def eof_received(self) -> bool | None:
        """Pass the end of the bytes on."""
        return self._inner.eof_received() if self._inner else None

    def pause_writing(self) -> None:
        """Pass on that too much is unread."""
        if self._inner:
            self._inner.pause_writing()

    def resume_writing(self) -> None:
        """Pass on that there is room again."""
        if self._inner:
            self._inner.resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        """Pass the end on."""
        assert self._inner
        self._inner.connection_lost(exc)
        self._gone()


class Door:
    """The open sockets of a port and the connections that stand there. To its user it is an asyncio.Server.

    make returns the protocol for a connection; it calls let_in once it knows who that is.
    """

    def __init__(
        self,
        make: Callable[[], asyncio.Protocol],
        limits: DoorLimits,
        *,
        tls: ssl.SSLContext | None = None,
        refusals: Refusals | None = None,
    ) -> None:
        self.make, self.limits, self.tls = make, limits, tls
        self.refusals = refusals or Refusals()
        self.sockets: tuple[socket.socket, ...] = ()
        self.open_lines = 0
        self._strangers: dict[_Arrival, None] = {}
        self._by_network: Counter[str] = Counter()
        self._ended = asyncio.Event()
        self._accepting: list[asyncio.Task[None]] = []
        self._arriving: set[asyncio.Task[None]] = set()

    async def open(self, host: str | None, port: int) -> Self:
        """Open the port: host None is every network of the machine, port 0 any free port. Raises OSError."""
        loop = asyncio.get_running_loop()
        bound = await loop.create_server(self.make, host, port, start_serving=False)
        self.sockets = tuple(at.dup() for at in bound.sockets)
        bound.close()
        for at in self.sockets:
            at.setblocking(False)
            at.listen(BACKLOG)
        self._accepting = [asyncio.create_task(self._accept(at)) for at in self.sockets]
        return self

    # ---- what is asked of an asyncio.Server

    def is_serving(self) -> bool:
        """Say whether connections are taken in."""
        return bool(self._accepting)

    def get_loop(self) -> asyncio.AbstractEventLoop:
        """Return the loop."""
        return asyncio.get_running_loop()

    def close(self) -> None:
        """Take nothing in any more, and send those away who stand at the door."""
        for task in self._accepting:
            task.cancel()
        self._accepting = []
        for at in self.sockets:
            self.get_loop().remove_reader(at)
            at.close()
        for arrival in list(self._strangers):
            arrival.turn_out()

    async def wait_closed(self) -> None:
        """Wait until nobody stands at the door any more."""
        await asyncio.gather(*self._arriving, return_exceptions=True)

    # ---- what arrivals tell

    def holds(self, arrival: _Arrival) -> bool:
        """Say whether a connection still stands at the door."""
        return arrival in self._strangers

    def forget(self, arrival: _Arrival) -> None:
        """Count a connection no more among those at the door."""
        if arrival in self._strangers:
            del self._strangers[arrival]
            self._by_network[arrival.network] -= 1
            if not self._by_network[arrival.network]:
                del self._by_network[arrival.network]

    def ended(self, _: _Arrival) -> None:
        """Count a connection no more."""
        self.open_lines -= 1
        self._ended.set()

    # ---- taking in

    async def _accept(self, at: socket.socket) -> None:
        loop = asyncio.get_running_loop()
        while True:
            while self.open_lines >= self.limits.descriptors:
                self.refusals.tell("All connections that the system allows are in use: others wait", "nobody")
                self._ended.clear()
                await self._ended.wait()
            try:
                line, address = await loop.sock_accept(at)
            except _GONE:
                continue
            except OSError as error:
                self.refusals.tell(f"The system takes no connection: {describe_error(error)}", "nobody")
                await asyncio.sleep(PAUSE_S)
                continue
            self._take(line, str(address[0]))
            # However many there are, everybody else has a turn before the next.
            await asyncio.sleep(0)

    def _take(self, line: socket.socket, peer: str) -> None:
        if not self._makes_room(network_of(peer)):
            self.refusals.tell("Connections from a network that has others at a full door", peer)
            line.close()
            return
        arrival = _Arrival(self, line, peer)
        self.open_lines += 1
        self._strangers[arrival] = None
        self._by_network[arrival.network] += 1
        task = asyncio.create_task(arrival.arrive())
        self._arriving.add(task)
        task.add_done_callback(self._arriving.discard)

    def _makes_room(self, network: str) -> bool:
        """Say whether one more of a network may stand here, after somebody has made place if need be."""
        if self._by_network[network] >= self.limits.each:
            fullest = network
        elif len(self._strangers) >= self.limits.most:
            fullest = max(self._by_network, key=lambda other: self._by_network[other])
        else:
            return True
        oldest = next(arrival for arrival in self._strangers if arrival.network == fullest)
        # Letting somebody in and turning somebody out costs time; refusing costs next to none.
        if self._by_network[network] and now_ms() - oldest.since_ms < LONG_ENOUGH_MS:
            return False
        oldest.turn_out("Connections that made place for others at the door")
        return True

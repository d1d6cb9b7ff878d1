"""A stretch of network between a client and a table: it delays, and it cuts when told to."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from typing import Any, TypeVar

from tests.loop import VirtualLoop

T = TypeVar("T")


def in_virtual_time(scene: Coroutine[Any, Any, T]) -> T:
    """Play a scene in a loop whose time jumps; one that does not end within an hour of it fails."""
    with asyncio.Runner(loop_factory=VirtualLoop) as runner:
        return runner.run(asyncio.wait_for(scene, 3_600))


class Relay:
    """Carries bytes both ways; cut_after is how many reads from the table go through before the line is cut, once."""

    def __init__(self, port: int, delay_s: float = 0.0, cut_after: int | None = None) -> None:
        self.port = 0
        self.reads = 0
        self.cuts = 0
        self._to, self._delay_s, self._cut_after = port, delay_s, cut_after
        self._transports: set[asyncio.WriteTransport] = set()

    def cut(self) -> None:
        """Abort every line that goes through here."""
        self.cuts += 1
        for transport in list(self._transports):
            transport.abort()

    async def _carry(self, client: asyncio.StreamReader, to_client: asyncio.StreamWriter) -> None:
        self._transports.add(to_client.transport)
        ends = [to_client]
        with contextlib.suppress(OSError):
            server, to_server = await asyncio.open_connection("127.0.0.1", self._to)
            self._transports.add(to_server.transport)
            ends.append(to_server)
            await asyncio.gather(self._copy(client, to_server, False), self._copy(server, to_client, True))
        for writer in ends:
            writer.transport.abort()
            with contextlib.suppress(OSError):
                await writer.wait_closed()
            self._transports.discard(writer.transport)

    async def _copy(self, source: asyncio.StreamReader, to: asyncio.StreamWriter, from_table: bool) -> None:
        while data := await source.read(65_536):
            if self._delay_s:
                await asyncio.sleep(self._delay_s)
            to.write(data)
            await to.drain()
            if from_table:
                self.reads += 1
                if self.reads == self._cut_after:
                    self.cut()
        to.close()


@asynccontextmanager
async def relay(port: int, delay_s: float = 0.0, cut_after: int | None = None) -> AsyncIterator[Relay]:
    """Open a relay to a port of this machine."""
    stretch = Relay(port, delay_s, cut_after)
    server = await asyncio.start_server(stretch._carry, "127.0.0.1", 0)
    stretch.port = server.sockets[0].getsockname()[1]
    try:
        yield stretch
    finally:
        server.close()
        stretch.cut()
        await asyncio.sleep(0.1)

"""A bad stretch of network between clients and a host, on this machine only: it delays, throttles, cuts, goes silent.

What goes wrong, and when, is drawn from a seed; what goes through is never changed, as TCP promises.
"""

import asyncio
import contextlib
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from random import Random

_CHUNK = 4_096


class _Crossing:
    """One client's way through: both sockets, and how they fare."""

    def __init__(self, ends: tuple[asyncio.StreamWriter, asyncio.StreamWriter]) -> None:
        self.ends = ends
        self.delay_s = 0.0
        self.bytes_per_s = 0
        self.is_silent = False

    def abort(self) -> None:
        for end in self.ends:
            end.transport.abort()


class Relay:
    """Carries bytes both ways between a port of its own and the host's."""

    def __init__(self, to_port: int, random: Random) -> None:
        self.port = 0
        self.faults: Counter[str] = Counter()
        self._to_port, self._random = to_port, random
        self._crossings: list[_Crossing] = []

    def worsen(self) -> None:
        """Let one thing go wrong, or right again, on one of the lines."""
        if not self._crossings:
            return
        crossing = self._random.choice(self._crossings)
        fault = self._random.choice(("cut", "silent", "delayed", "throttled", "well again", "well again"))
        self.faults[fault] += 1
        match fault:
            case "cut":
                crossing.abort()
            case "silent":
                crossing.is_silent = True
            case "delayed":
                crossing.delay_s = self._random.uniform(0.01, 0.5)
            case "throttled":
                crossing.bytes_per_s = self._random.choice((2_000, 8_000, 32_000))
            case _:
                crossing.delay_s, crossing.bytes_per_s = 0.0, 0

    def clear_up(self) -> None:
        """Let everything be well, and cut what has gone silent."""
        for crossing in list(self._crossings):
            crossing.delay_s, crossing.bytes_per_s = 0.0, 0
            if crossing.is_silent:
                crossing.abort()

    def cut_all(self) -> None:
        """End every line at once."""
        for crossing in list(self._crossings):
            crossing.abort()

    async def carry(self, client: asyncio.StreamReader, to_client: asyncio.StreamWriter) -> None:
        """Carry one client's bytes until either side is gone."""
        try:
            host, to_host = await asyncio.open_connection("127.0.0.1", self._to_port)
        except OSError:
            to_client.transport.abort()
            return
        crossing = _Crossing((to_client, to_host))
        self._crossings.append(crossing)
        ways = [
            asyncio.create_task(self._copy(crossing, client, to_host)),
            asyncio.create_task(self._copy(crossing, host, to_client)),
        ]
        try:
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._crossings.remove(crossing)
            for way in ways:
                way.cancel()
            await asyncio.gather(*ways, return_exceptions=True)
            crossing.abort()

    async def _copy(self, crossing: _Crossing, source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while data := await source.read(_CHUNK):
                await asyncio.sleep(crossing.delay_s)
                if crossing.bytes_per_s:
                    await asyncio.sleep(len(data) / crossing.bytes_per_s)
                if not crossing.is_silent:
                    to.write(data)
                    await to.drain()


@asynccontextmanager
async def open_relay(to_port: int, random: Random) -> AsyncIterator[Relay]:
    """Open a relay to a port of this machine."""
    relay = Relay(to_port, random)
    server = await asyncio.start_server(relay.carry, "127.0.0.1", 0)
    relay.port = server.sockets[0].getsockname()[1]
    try:
        yield relay
    finally:
        server.close()
        relay.cut_all()
        await asyncio.sleep(0.1)

"""A wire in memory for tests that need many connections and none of their sockets."""

import asyncio

from server.clock import now_ms
from server.net.wire import HungUp


class MemoryWire:
    """One end is the server's; a test says frames and looks at what was written and how the wire ended."""

    def __init__(self, peer: str = "192.0.2.7") -> None:
        self.peer = peer
        self.is_crowded = self.has_settled = False
        self.written: list[bytes] = []
        self.ended: tuple[int, str] | None = None
        self._said: asyncio.Queue[tuple[bytes, int] | None] = asyncio.Queue()

    def settle(self) -> None:
        self.has_settled = True

    def say(self, frame: bytes) -> None:
        self._said.put_nowait((frame, now_ms()))

    def drop(self) -> None:
        """Go away without a word."""
        self._said.put_nowait(None)

    async def read(self) -> tuple[bytes, int]:
        said = None if self.ended else await self._said.get()
        if said is None:
            raise HungUp
        return said

    async def write(self, frame: bytes) -> None:
        if self.ended:
            raise HungUp
        self.written.append(frame)

    async def hang_up(self, code: int, text: str) -> None:
        self.ended = self.ended or (code, text)
        self.drop()

    def cut(self) -> None:
        self.ended = self.ended or (1006, "")
        self.drop()

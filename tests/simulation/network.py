"""Links in memory: frames that travel late, lines that are cut or go silent, readers that stop reading."""

import asyncio
from collections import deque
from collections.abc import Callable

from server.clock import now_ms
from server.net.wire import HungUp

UNREAD_FRAMES = 64
"""How many frames may wait for a client before its server's write blocks, as a full socket would."""


class LineClosed(Exception):
    """The client's end is closed; code is the close code, 1006 when the line was merely cut."""

    def __init__(self, code: int, text: str = "") -> None:
        super().__init__(text)
        self.code, self.text = code, text


class MemoryLink:
    """Both ends of one line. delay_s() is drawn for every frame; order is kept, as TCP keeps it."""

    def __init__(self, peer: str, delay_s: Callable[[], float], trace: Callable[[str, bytes], None]) -> None:
        self.peer = peer
        self.is_silent = self.is_crowded = False
        self._delay_s = delay_s
        self._trace = trace
        self._loop = asyncio.get_running_loop()
        self._up: deque[tuple[bytes, int]] = deque()
        self._down: deque[bytes] = deque()
        self._last_s = {"up": 0.0, "down": 0.0}
        self._travelling: dict[str, deque[Callable[[], None]]] = {"up": deque(), "down": deque()}
        self._on_the_way = 0
        self._closed: tuple[int, str] | None = None
        self._changed = asyncio.Event()

    # ---- the server's end (server.table.outbox.Wire)

    async def read(self) -> tuple[bytes, int]:
        """Return the next frame and when it came in. Raises HungUp."""
        while not self._up:
            if self._closed:
                raise HungUp
            await self._wait()
        return self._up.popleft()

    async def write(self, frame: bytes) -> None:
        """Hand a frame to the network; wait while too many are unread. Raises HungUp."""
        while len(self._down) + self._on_the_way >= UNREAD_FRAMES and not self._closed:
            await self._wait()
        if self._closed:
            raise HungUp
        self._on_the_way += 1
        self._travel("down", lambda: self._arrive(frame))

    async def hang_up(self, code: int, text: str) -> None:
        """Close behind everything that was written."""
        self._travel("down", lambda: self._close(code, text))

    def settle(self) -> None:
        """A simulation has places for everybody."""

    def cut(self) -> None:
        """End both directions at once."""
        self._close(1006, "")

    # ---- the client's end

    def send(self, frame: bytes) -> None:
        """Send a frame to the server; on a closed or silent line it is simply gone."""
        if not self._closed and not self.is_silent:
            self._travel("up", lambda: self._take_up(frame))

    async def receive(self) -> bytes:
        """Return the next frame. Raises LineClosed."""
        while not self._down:
            if self._closed:
                raise LineClosed(*self._closed)
            await self._wait()
        frame = self._down.popleft()
        self._notify()
        return frame

    # ---- the wire between

    def _travel(self, way: str, arrive: Callable[[], None]) -> None:
        at_s = max(self._last_s[way], self._loop.time() + self._delay_s())
        self._last_s[way] = at_s
        self._travelling[way].append(arrive)  # Timers of one moment go off in any order; frames arrive in theirs.
        self._loop.call_at(at_s, lambda: self._travelling[way].popleft()())

    def _take_up(self, frame: bytes) -> None:
        if not self._closed and not self.is_silent:
            self._trace(f"up {self.peer}", frame)
            self._up.append((frame, now_ms()))
            self._notify()

    def _arrive(self, frame: bytes) -> None:
        self._on_the_way -= 1
        if not self._closed and not self.is_silent:
            self._trace(f"down {self.peer}", frame)
            self._down.append(frame)
        self._notify()

    def _close(self, code: int, text: str) -> None:
        self._closed = self._closed or (code, text)
        self._notify()

    def _notify(self) -> None:
        self._changed.set()
        self._changed = asyncio.Event()

    async def _wait(self) -> None:
        await self._changed.wait()

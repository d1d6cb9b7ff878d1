"""One client's line: what waits to be sent to it, in a bounded outbox whose newest view wins.

A client that does not read costs the table nothing: its views replace each other, and when its replies pile up
or a frame cannot be handed over for long, the line is cut. It never looks at what it sends.
"""

import asyncio
import logging
from collections import deque
from typing import Protocol

from server.faults import describe_fault
from server.net.wire import HungUp, Wire
from shared.wire.messages import NOTHING_HELD, Command, DeskCommand

log = logging.getLogger("racktempo.outbox")
SLOW_S = 5.0
"""How long a client may leave a frame unread before it is cut off."""
REPLIES = 256
"""How many frames other than views may wait for a client."""


class Receiver(Protocol):
    """Takes what comes over a line: the keeper of a table or of a club. It changes when the desk moves a person."""

    def hear(self, line: "Outbox", command: Command | DeskCommand, at_ms: int) -> None:
        """Take a command that was read at that moment."""

    def lost(self, line: "Outbox") -> None:
        """Take note that a line is gone."""


class Outbox:
    """The outbox of one wire. chair and receiver are set when the client is admitted; token is the client's, address
    is where it comes from, and held says which heats it has."""

    def __init__(self, wire: Wire) -> None:
        self.chair: int | None = None
        self.token = b""
        self.receiver: Receiver | None = None
        self.address = wire.peer
        self.held = NOTHING_HELD
        self.was_slow = self.is_lost = self.is_welcome = False
        self.ended = asyncio.Event()
        self._wire = wire
        self._replies: deque[bytes] = deque()
        self._view: bytes | None = None
        self._ending: tuple[int, str] | None = None
        self._wake = asyncio.Event()

    def welcome(self, frame: bytes) -> None:
        """Send a welcome. Only now does the client count as somebody with a place here, and is heard."""
        self.is_welcome = True
        self._wire.settle()
        self.tell(frame)

    def tell(self, frame: bytes) -> None:
        """Send a frame that must not be left out."""
        self._replies.append(frame)
        if len(self._replies) > REPLIES:
            self._cut()
        self._wake.set()

    def show(self, view: bytes) -> None:
        """Send a view, in place of any that still waits."""
        self._view = view
        self._wake.set()

    def unshow(self) -> None:
        """Drop a view that still waits to be sent."""
        self._view = None

    def end(self, code: int, text: str) -> None:
        """Close the line once what waits has been sent."""
        self._ending = self._ending or (code, text)
        self._wake.set()

    async def run(self) -> None:
        """Send what comes, in order, until the line ends."""
        try:
            while True:
                await self._wake.wait()
                self._wake.clear()
                while frame := self._next():
                    async with asyncio.timeout(SLOW_S):
                        await self._wire.write(frame)
                if self._ending:
                    return await self._wire.hang_up(*self._ending)
        except TimeoutError:
            self._cut()
        except HungUp:
            pass
        except Exception as error:
            log.error("a line: %s", describe_fault(error))
            self._cut()
        finally:
            self.ended.set()

    def _next(self) -> bytes | None:
        if self._replies:
            return self._replies.popleft()
        view, self._view = self._view, None
        return view

    def _cut(self) -> None:
        self.was_slow = True
        self._replies.clear()
        self._wire.cut()

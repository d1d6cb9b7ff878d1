"""The gate: who may come in, and to which table. One process, one store, any number of tables.

A client says hello first. Another protocol version, a wrong code or a full table is told so and closed; wrong
codes are slowed by address. After that its commands go to the keeper of its table, which alone touches it.
Sockets are none of the gate's business (see door): it serves any wire.
"""

import asyncio
import logging
from collections.abc import AsyncIterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import asynccontextmanager
from typing import Literal

from pydantic import ConfigDict

from server.clock import StallWatch, now_ms
from server.codes import Guesses, same_code
from server.keeper import Keeper
from server.line import HungUp, Line, Wire
from server.store import Store, StoredTable
from server.table import Table
from shared.codec import BadFrame, Codec
from shared.messages import FRAME_LIMIT, PROTOCOL, TO_SERVER, Close, Command, Hello
from shared.records import Record

log = logging.getLogger("racktempo.gate")
HELLO_S = 5.0
"""How long a client may take to say hello."""


class _AnyHello(Record):
    """What hellos of all versions have in common."""

    model_config = ConfigDict(extra="ignore")

    kind: Literal["hello"]
    protocol: int


_ANY_HELLO: Codec[_AnyHello] = Codec(_AnyHello, FRAME_LIMIT)


class _Unwelcome(Exception):
    """A client is not let in."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(text)
        self.code, self.text = code, text


class Gate:
    """The tables of one process. Make it with Gate.open."""

    def __init__(self, store: Store, thinkers: Executor) -> None:
        self.keepers: list[Keeper] = []
        self.guesses = Guesses()
        self._store = store
        self._thinkers = thinkers
        self._tasks: dict[Keeper, asyncio.Task[None]] = {}

    @classmethod
    @asynccontextmanager
    async def open(cls, store: Store, thinkers: Executor | None = None) -> AsyncIterator["Gate"]:
        """Open a gate on a store; bots think in two threads, or in the given executor."""
        gate = cls(store, thinkers or ThreadPoolExecutor(2, "racktempo bot"))
        watch = StallWatch(gate.stalled)
        try:
            yield gate
        finally:
            watch.stop()
            for keeper in gate.keepers:
                gate._tasks[keeper].cancel()
            await asyncio.gather(*gate._tasks.values(), return_exceptions=True)
            if not thinkers:
                gate._thinkers.shutdown(wait=False, cancel_futures=True)

    def add(self, table: Table, stored: StoredTable | None = None) -> Keeper:
        """Open a table, or, with what was stored, open it again where it was left."""
        keeper = Keeper(table, self._store, self._thinkers, stored)
        self.keepers.append(keeper)
        self._tasks[keeper] = asyncio.create_task(keeper.run())
        return keeper

    def stalled(self, by_ms: int) -> None:
        """Tell every table that the machine stood still."""
        log.warning("the machine stood still for %d ms", by_ms)
        for keeper in self.keepers:
            keeper.stalled(by_ms)

    async def close_lines(self, code: int, text: str) -> None:
        """Close every client's line with a reason, in bounded time."""
        lines = [line for keeper in self.keepers for line in keeper.lines.values()]
        for line in lines:
            line.end(code, text)
        for line in lines:
            await line.ended.wait()

    async def serve(self, wire: Wire) -> None:
        """Serve one client until its line ends."""
        line, keeper = Line(wire), None
        sender = asyncio.create_task(line.run())
        try:
            hello, keeper = await self._admitted(wire)
            keeper.knock(line, hello.name, hello.token)
            await self._pass_on(wire, line, keeper)
        except _Unwelcome as reason:
            line.end(reason.code, reason.text)
        except BadFrame as error:
            line.end(Close.BAD_FRAME, str(error))
        except HungUp:
            sender.cancel()
        finally:
            if keeper:
                keeper.lost(line)
            await asyncio.wait([sender])

    async def _pass_on(self, wire: Wire, line: Line, keeper: Keeper) -> None:
        while True:
            frame, at_ms = await wire.read()
            message = TO_SERVER.unpack(frame)
            if not isinstance(message, Command):
                raise BadFrame(f"A {message.kind} is not expected here.")
            keeper.hear(line, message, at_ms)

    async def _admitted(self, wire: Wire) -> tuple[Hello, Keeper]:
        """Return the client's hello and the table it may go to."""
        try:
            async with asyncio.timeout(HELLO_S):
                frame, _ = await wire.read()
        except TimeoutError:
            raise _Unwelcome(Close.BAD_FRAME, f"No hello came within {HELLO_S:.0f} seconds.") from None
        theirs = _ANY_HELLO.unpack(frame).protocol
        if theirs != PROTOCOL:
            text = f"This host speaks version {PROTOCOL} of the protocol, your client version {theirs}."
            raise _Unwelcome(Close.OTHER_VERSION, text)
        hello = TO_SERVER.unpack(frame)
        if not isinstance(hello, Hello):
            raise BadFrame("The first message must be hello.")
        return hello, await self._found(hello, wire.peer)

    async def _found(self, hello: Hello, peer: str) -> Keeper:
        """Return the table whose token the client holds, or whose code it knows; guessing is slow."""
        for keeper in self.keepers:
            if hello.token and keeper.knows(hello.token):
                return keeper
        await asyncio.sleep(self.guesses.wait_ms(peer, now_ms()) / 1_000)
        for keeper in self.keepers:
            if same_code(hello.code, keeper.table.record.code):
                return keeper
        self.guesses.wrong(peer, now_ms())
        log.warning("wrong code from %s (%d so far)", peer, self.guesses.total)
        raise _Unwelcome(Close.WRONG_CODE, "No table here has this code.")

"""Admission: who may come in, and to which table. One process, one store, any number of tables.

A client says hello first. Another protocol version, a wrong code or a full table is told so and closed. Who holds a
seat's token never waits; all others try one code of one table or role, each address in turn (server.net.codes), and
a try whose line has gone is dropped. After the welcome a client's commands go to the keeper of its table, the only
task that touches it.
It knows no sockets (see server.net.listener) and serves any wire.
"""

import asyncio
import contextlib
import logging
from collections import OrderedDict
from collections.abc import AsyncIterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import asynccontextmanager
from typing import Literal

from pydantic import ConfigDict, Field

from server.clock import StallWatch, now_ms
from server.club.admission import Shares
from server.club.club import Club
from server.club.keeper import SHARES, ClubKeeper
from server.club.review_process import Reviewer
from server.net.codes import Guesses, same_code
from server.net.wire import HungUp, Wire
from server.records import hash_token
from server.store import Store, StoredTable
from server.table.keeper import Keeper
from server.table.outbox import Outbox
from server.table.seating import Seating
from shared.bucket import Bucket
from shared.codec import BadFrame, Codec
from shared.records import Record
from shared.visitors import is_our_page
from shared.wire.messages import FRAME_LIMIT, HELLO_MS, PROTOCOL, TO_CLIENT, TO_SERVER, Close, Hello, Refused

log = logging.getLogger("racktempo.admission")
STALL_APART_MS = 20
"""Tables handle a stall one after the other: all at once would cause the next stall."""
TELL_STALLS_MS = 1_000
"""A table handles stalls at most this often; with many tables, each does so less often."""
HELLO_S = HELLO_MS / 1_000
NONSENSE, NONSENSE_PER_S = 8, 1
"""How many commands with values that cannot be a line may send at once, and a second after that."""
RETURNS, RETURNS_PER_S, RETURNED_KEPT = 32, 4, 4_096
"""How often somebody may come back to one seat: at once, and a second after that. Each time all at the table are shown
it anew. And of how many seats that is remembered."""
_OF_CLUBS = ("desk", "teacher")
"""Roles that a single table does not have."""
LOOK_AGAIN_MS = 1_000
"""How often a try looks whether those before it have gone."""


class _AnyHello(Record):
    """What hellos of all versions have in common."""

    model_config = ConfigDict(extra="ignore")

    kind: Literal["hello"]
    protocol: int


_ANY_HELLO: Codec[_AnyHello] = Codec(_AnyHello, FRAME_LIMIT)


class _AnyCommand(Record):
    """What a command has even if its values cannot be."""

    model_config = ConfigDict(extra="ignore")

    kind: Literal["command", "desk command"]
    id: int = Field(ge=1, le=2**53)


_ANY_COMMAND: Codec[_AnyCommand] = Codec(_AnyCommand, FRAME_LIMIT)


class _Unwelcome(Exception):
    """A client is not let in."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(text)
        self.code, self.text = code, text


class Admission:
    """The tables of one process. Make it with Admission.open."""

    def __init__(self, store: Store, thinkers: Executor, page_key: bytes = b"") -> None:
        self.keepers: list[Keeper] = []
        self.club: ClubKeeper | None = None
        self.guesses = Guesses()
        self._store = store
        self._thinkers = thinkers
        self._page_key = page_key
        self._returned: OrderedDict[bytes, Bucket] = OrderedDict()
        self._tasks: dict[Keeper | ClubKeeper, asyncio.Task[None]] = {}

    @classmethod
    @asynccontextmanager
    async def open(
        cls, store: Store, thinkers: Executor | None = None, page_key: bytes = b""
    ) -> AsyncIterator["Admission"]:
        """Take clients in for the tables of a store; bots think in two threads, or in the given executor. Pages that
        have the key may say whom they show a table to."""
        admission = cls(store, thinkers or ThreadPoolExecutor(2, "racktempo bot"), page_key)
        watch = StallWatch(admission.stalled)
        try:
            yield admission
        finally:
            watch.stop()
            for task in admission._tasks.values():
                task.cancel()
            await asyncio.gather(*admission._tasks.values(), return_exceptions=True)
            if not thinkers:
                admission._thinkers.shutdown(wait=False, cancel_futures=True)

    def add(self, table: Seating, stored: StoredTable | None = None) -> Keeper:
        """Open a table, or, with what was stored, open it again where it was left."""
        keeper = Keeper(table, self._store, self._thinkers, stored)
        self.keepers.append(keeper)
        self._tasks[keeper] = asyncio.create_task(keeper.run())
        return keeper

    async def add_club(
        self,
        club: Club,
        stored: Sequence[StoredTable] = (),
        reviewer: Reviewer | None = None,
        shares: Shares = SHARES,
    ) -> "ClubKeeper":
        """Open an evening of several tables, or, with what was stored, go on with it; nobody may knock before.

        The reviewer, if any, looks at its heats for the standings; shares are what one address gets.
        """
        self.club = keeper = ClubKeeper(club, self._store, self.add, reviewer, shares)
        await keeper.open(stored)
        self._tasks[keeper] = asyncio.create_task(keeper.run())
        return keeper

    def stalled(self, by_ms: int) -> None:
        """Tell every table that the machine stood still."""
        log.warning("the machine stood still for %d ms", by_ms)
        for number, keeper in enumerate(self.keepers):
            keeper.stalled(by_ms, number * STALL_APART_MS, max(TELL_STALLS_MS, len(self.keepers) * STALL_APART_MS))

    async def close_lines(self, code: int, text: str) -> None:
        """Close every client's line with a reason, in bounded time; where an evening is over, that is the reason."""
        if self.club and self.club.club.record.phase == "over":
            code, text = Close.TABLE_CLOSED, "The evening is over."
        lines = [line for keeper in self.keepers for line in keeper.lines.values()]
        lines += self.club.lines if self.club else []
        for line in lines:
            line.end(code, text)
        for line in lines:
            await line.ended.wait()

    async def serve(self, wire: Wire) -> None:
        """Serve one client until its line ends."""
        line = Outbox(wire)
        sender = asyncio.create_task(line.run())
        try:
            await self._admit(wire, line)
            await self._pass_on(wire, line)
        except _Unwelcome as reason:
            line.end(reason.code, reason.text)
        except BadFrame as error:
            line.end(Close.BAD_FRAME, str(error))
        except HungUp:
            sender.cancel()
        finally:
            line.is_lost = True
            if line.receiver:
                line.receiver.lost(line)
            await asyncio.wait([sender])

    async def _pass_on(self, wire: Wire, line: Outbox) -> None:
        nonsense = Bucket(NONSENSE_PER_S, NONSENSE)
        while True:
            frame, at_ms = await wire.read()
            try:
                message = TO_SERVER.unpack(frame)
            except BadFrame as error:
                if not line.is_welcome or not nonsense.take(at_ms):
                    raise
                number = _ANY_COMMAND.unpack(frame).id
                line.tell(TO_CLIENT.pack(Refused(id=number, code="no such value", text=str(error), late_ms=None)))
                continue
            if isinstance(message, Hello) or not line.receiver:
                raise BadFrame("Only the first message may be hello.")
            if not line.is_welcome:
                raise BadFrame("Wait for the welcome before you send anything.")
            line.receiver.hear(line, message, at_ms)

    async def _admit(self, wire: Wire, line: Outbox) -> None:
        """Let a client knock where it may go."""
        try:
            async with asyncio.timeout(HELLO_S):
                frame, _ = await wire.read()
        except TimeoutError:
            raise _Unwelcome(Close.BAD_FRAME, f"No hello came within {HELLO_S:.0f} seconds.") from None
        theirs = _ANY_HELLO.unpack(frame).protocol
        if theirs != PROTOCOL:
            text = f"This host uses version {PROTOCOL} of the protocol; your client uses version {theirs}."
            raise _Unwelcome(Close.OTHER_VERSION, text)
        hello = TO_SERVER.unpack(frame)
        if not isinstance(hello, Hello):
            raise BadFrame("The first message must be hello.")
        line.held = hello.held
        if hello.visitor and is_our_page(self._page_key, hello.visitor.address, hello.visitor.proof):
            line.address = hello.visitor.address
        if not self._returns(hello, line):
            if wire.is_crowded:
                raise _Unwelcome(Close.TOO_MANY, "All places for newcomers are taken; try again in a while.")
            await self._try_code(hello, wire, line)

    def _returns(self, hello: Hello, line: Outbox) -> bool:
        """Let a client in at once that holds the token of a seat, a waiting place or a desk; say whether it does."""
        if not hello.token:
            return False
        if self.club and self.club.knows(hello):
            self.club.knock(line, hello)
            return True
        digest = hash_token(hello.token)
        seats = (keeper for keeper in self.keepers if hello.role not in _OF_CLUBS and keeper.knows(digest))
        if keeper := next(seats, None):
            pace = self._returned.setdefault(digest, Bucket(RETURNS_PER_S, RETURNS))
            self._returned.move_to_end(digest)
            if len(self._returned) > RETURNED_KEPT:
                self._returned.popitem(last=False)
            if not pace.take(now_ms()):
                raise _Unwelcome(Close.TOO_MANY, "This seat is taken up again and again; wait a moment.")
            keeper.knock(line, hello.name, hello.token, hello.role == "watcher")
        return keeper is not None

    async def _try_code(self, hello: Hello, wire: Wire, line: Outbox) -> None:
        """Try a code when its turn has come, and knock where it opens; nothing else may come over the wire meanwhile.

        Raises:
            HungUp: the line has gone, and the code was not looked at.
        """
        keeper = self._named(hello)
        if not self.club and hello.role in _OF_CLUBS:
            raise _Unwelcome(Close.NO_CLUB, f"This host is not running an evening, so there is no {hello.role} here.")
        what = "an unknown table" if keeper is None else keeper.name
        one = self.guesses.enter(line.address, f"the evening's {hello.role}" if self.club else what, now_ms())
        if one is None:
            text = "Many at your address are trying codes; your turn has not come yet."
            raise _Unwelcome(Close.TOO_MANY, text)
        try:
            while wait_ms := self.guesses.wait_ms(one, now_ms()):
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(min(wait_ms, LOOK_AGAIN_MS) / 1_000):
                        await wire.read()
                        raise BadFrame("Wait for the welcome before you send anything.")
            if self.club and self.club.takes(hello):
                return self.club.knock(line, hello)
            if keeper and not self.club and same_code(hello.code, keeper.table.record.code):
                return keeper.knock(line, hello.name, hello.token, hello.role == "watcher")
            self.guesses.wrong(one, now_ms())
        finally:
            self.guesses.leave(one)
        log.warning("wrong code from %s (%d so far)", line.address, self.guesses.total)
        raise _Unwelcome(Close.WRONG_CODE, "The code is not right.")

    def _named(self, hello: Hello) -> Keeper | None:
        """Return the table that a hello names; where there is but one, no name is needed."""
        if len(self.keepers) == 1:
            return self.keepers[0]
        return next((keeper for keeper in self.keepers if keeper.name == hello.table), None)

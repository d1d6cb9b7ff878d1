"""Who may have a screen on the page: visitors whose name and code the table has taken.

The code is asked on the page itself and told to the table before a process or a folder is made for a visitor. Their
seat is held until their screen takes it over. A browser is known by a cookie that is new every time a code was right,
so that a cookie that somebody else gave it opens nothing. Who is known is kept in a file, so that they find their seats
when the page is started anew; a lost file costs only the seats, so its errors are ignored.
"""

import asyncio
import contextlib
import hashlib
import secrets
from collections import Counter, OrderedDict
from pathlib import Path

from client.connection.address import read_address
from client.connection.link import Connected, Ended, Heard, Link, Lost, Waiting
from client.connection.seat_tokens import derived_token
from client.storage.files import read_at_most, state_folder, write_whole
from shared.codec import BadFrame, Codec
from shared.records import Record
from shared.visitors import visitor_proof
from shared.wire.messages import PageVisitor

ASKING_MOST = 12
"""Visitors whose code the table is being asked about at once."""
ASKING_EACH = 2
KNOWN_MOST = 256
HOLD_S = 10.0
"""How long a seat is held for a screen that has not come yet."""


class Visitor(Record):
    """Somebody whom the table has let in, and the secret from which the tokens of their seats follow."""

    name: str
    code: str
    secret: bytes


_KNOWN: Codec[dict[str, Visitor]] = Codec(dict[str, Visitor], 1_000_000)
"""Visitors by their cookies."""


def known_path(table: str, port: int) -> Path:
    """Return the file of those who are known to a table's page at a port."""
    return state_folder() / "visitors" / hashlib.sha256(f"{read_address(table)} {port}".encode()).hexdigest()[:32]


class NotLetIn(Exception):
    """A visitor is not let in; the message is one sentence for them."""


class Entry:
    """The visitors of one table; with key its host counts their tries by their own addresses. kept is the file of those
    who are known, if any."""

    def __init__(self, table: str, key: bytes = b"", kept: Path | None = None) -> None:
        self.where, self._key, self._kept = read_address(table), key, kept
        self._known: OrderedDict[str, Visitor] = OrderedDict()
        if kept:
            with contextlib.suppress(OSError, BadFrame):
                self._known.update(_KNOWN.unpack(read_at_most(kept, _KNOWN.limit)))
        self._asking: Counter[str] = Counter()
        self._holding: set[asyncio.Task[None]] = set()

    def visitor(self, cookie: str) -> Visitor | None:
        """Return who has a cookie of ours."""
        return self._known.get(cookie)

    def has_room(self, peer: str) -> bool:
        """Say whether the table may be asked for one more visitor of an address."""
        return self._asking.total() < ASKING_MOST and self._asking[peer] < ASKING_EACH

    async def ask(self, peer: str, name: str, code: str, cookie: str = "") -> str:
        """Knock at the table and return the visitor's new cookie. Who comes back with a cookie keeps the seat.

        Raises:
            NotLetIn: the table says no, or nothing.
        """
        before = self._known.get(cookie)
        is_back = before is not None and (before.name, before.code) == (name, code)
        secret = before.secret if before and is_back else secrets.token_bytes(16)
        self._asking[peer] += 1
        try:
            await self._knock(name, code, secret, peer)
        finally:
            self._asking[peer] -= 1
            if not self._asking[peer]:
                del self._asking[peer]
        if is_back:
            self._known.pop(cookie, None)
        fresh = secrets.token_hex(16)
        self._known[fresh] = Visitor(name=name, code=code, secret=secret)
        if len(self._known) > KNOWN_MOST:
            self._known.popitem(last=False)
        if self._kept:
            with contextlib.suppress(OSError):
                write_whole(self._kept, _KNOWN.pack(self._known))
        return fresh

    async def close(self) -> None:
        """Hold no seat any more."""
        for task in self._holding:
            task.cancel()
        await asyncio.gather(*self._holding, return_exceptions=True)

    async def _knock(self, name: str, code: str, secret: bytes, peer: str) -> None:
        whose = PageVisitor(address=peer, proof=visitor_proof(self._key, peer)) if self._key else None
        link = Link(self.where, name, code, derived_token(secret, self.where, code, name), visitor=whose)
        first: asyncio.Future[Heard] = asyncio.get_running_loop().create_future()
        holding = asyncio.create_task(_hold(link, first))
        self._holding.add(holding)
        holding.add_done_callback(self._holding.discard)
        try:
            answer = await first
        except asyncio.CancelledError:  # the visitor has gone, so nobody asks any more
            holding.cancel()
            raise
        if isinstance(answer, Ended | Lost):
            holding.cancel()
            raise NotLetIn(answer.text)


async def _hold(link: Link, first: asyncio.Future[Heard]) -> None:
    """Run a line until the table says who may come in, and hold the seat until the visitor's screen takes it over."""

    def hear(heard: Heard) -> None:
        if not first.done() and not isinstance(heard, Waiting):
            first.set_result(heard)
        if isinstance(heard, Connected):
            asyncio.get_running_loop().call_later(HOLD_S, link.close)

    try:
        await link.run(hear)
    finally:
        link.close()
        if not first.done():
            first.cancel()

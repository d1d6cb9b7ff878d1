"""Who may have a screen on the page: visitors whose name and code the table has taken.

The code is asked on the page itself and told to the table before a process or a folder is made for a visitor. Their
seat is held until their screen takes it over. A browser is known by a cookie that is new every time a code was right,
so that a cookie that somebody else gave it opens nothing.
"""

import asyncio
import secrets
from collections import Counter, OrderedDict
from dataclasses import dataclass

from client.connection.address import read_address
from client.connection.link import Connected, Ended, Heard, Link, Lost, Waiting
from client.connection.seat_tokens import derived_token
from shared.visitors import visitor_proof
from shared.wire.messages import PageVisitor

ASKING_MOST = 12
"""Visitors whose code the table is being asked about at once."""
ASKING_EACH = 2
KNOWN_MOST = 256
HOLD_S = 10.0
"""How long a seat is held for a screen that has not come yet."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody whom the table has let in, and the secret from which the tokens of their seats follow."""

    name: str
    code: str
    secret: bytes


class NotLetIn(Exception):
    """A visitor is not let in; the message is one sentence for them."""


class Entry:
    """The visitors of one table; with key its host counts their tries by their own addresses."""

    def __init__(self, table: str, key: bytes = b"") -> None:
        self.where, self._key = read_address(table), key
        self._known: OrderedDict[str, Visitor] = OrderedDict()
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
        self._known[fresh] = Visitor(name, code, secret)
        if len(self._known) > KNOWN_MOST:
            self._known.popitem(last=False)
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

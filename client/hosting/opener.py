"""How anything is opened in this process: a store, a host on it, and the connection of its owner.

Tables alone, tables and clocks for others and evenings differ in what is hosted and under which name; the rest is here.
What is played goes over a line like any other: a client here sees no more than a client far away.
"""

import logging
import ssl
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, Literal, TypeVar

from client.connection.address import Address
from client.connection.link import Link
from client.connection.opened import Opened
from client.connection.seat_tokens import fresh_token, recall, remember, token_path
from client.storage.card_files import keep_played
from client.storage.files import state_folder
from server.evening import HostedClub
from server.host import GoOn, Hosted, privacy, tls_context
from server.net.beacon import Announcer
from server.net.interfaces import typed_addresses
from server.net.listener import CannotOpen
from server.store import Store, StoreFault
from shared.wire.announce import Announcement

# What a table logs is for a host without a screen; here it would be written across the player's.
logging.getLogger("racktempo").addHandler(logging.NullHandler())

Tls = tuple[Path, Path]
"""A certificate and its key."""
Host = AbstractAsyncContextManager[Hosted | HostedClub]
L = TypeVar("L")


class Unfinished(ValueError):
    """Something was left unfinished and it is not decided whether to go on with it; the message describes it."""


@dataclass(frozen=True, slots=True)
class Kind(Generic[L]):
    """What others join: the file it is kept in, what was left unfinished there (None: nothing), and a sentence on
    that; how all of the file is forgotten, and how it is hosted, from what was left or anew. card is the text of the
    card that it is opened with."""

    path: Path
    left: Callable[[Store], L | None]
    sentence: Callable[[L], str]
    clear: Callable[[Store], None]
    host: Callable[[Store, L | None, ssl.SSLContext | None], Host]
    role: Literal["player", "desk"] = "player"
    card: str = ""


@contextmanager
def as_sentences() -> Iterator[None]:
    """Turn what the server cannot do into a ValueError, whose message screens show."""
    try:
        yield
    except (CannotOpen, StoreFault) as fault:
        raise ValueError(str(fault)) from fault


@asynccontextmanager
async def hosting(path: Path | None, host: Callable[[Store], Host]) -> AsyncIterator[Hosted | HostedClub]:
    """Open a file (None: memory) and host on it. Raises ValueError with a sentence."""
    with as_sentences():
        store = Store.open(path)
    try:
        with as_sentences():
            async with host(store) as hosted:
                yield hosted
    finally:
        await store.close()


@asynccontextmanager
async def open_for_others(kind: Kind[L], name: str, go_on: GoOn, tls: Tls | None) -> AsyncIterator[Opened]:
    """Open what others join, and a line to it that regains the place it had.

    Raises:
        Unfinished: there is something unfinished, and go_on is "ask".
        ValueError: it could not be opened; the message is one sentence.
    """
    keep_played(kind.card)
    context, who_reads = tls_context(*tls) if tls else None, privacy(tls[0] if tls else None)
    async with hosting(kind.path, lambda store: kind.host(store, _left(kind, store, go_on), context)) as hosted:
        record, port = hosted.record, hosted.listener.port
        code = hosted.record.desk_code if isinstance(hosted, HostedClub) else hosted.record.code
        is_desk = kind.role == "desk"
        token = token_path(state_folder(), Address("this-machine"), record.id, "desk" if is_desk else "host")
        where, known = Address("127.0.0.1", hosted.own_listener.port), recall(token) or fresh_token()
        line = Link(where, name, code, known, lambda own: remember(token, own), role=kind.role)
        announced = Announcement(record.name, port, kind="club" if is_desk else "table", private=tls is not None)
        beacon = Announcer(announced)
        try:
            yield Opened(line, hosted.listener.addresses, typed_addresses(port), beacon.show, who_reads, kind.card)
        finally:
            await beacon.close()


def _left(kind: Kind[L], store: Store, go_on: GoOn) -> L | None:
    """Return what to go on with, and forget all others, unless that has not been decided."""
    left = kind.left(store)
    if left and go_on == "ask":
        raise Unfinished(kind.sentence(left))
    if not left or go_on == "fresh":
        kind.clear(store)
        return None
    return left

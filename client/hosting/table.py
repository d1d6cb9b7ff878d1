"""Tables inside the client's own process: alone with bots, as a host for others, or four bots by themselves.

With client.hosting.evening one of the two modules of the client that open what the server has. What is played still
goes over a line like any other: a client here sees no more than a client far away. A table for one keeps its running
heat in memory: when its window closes there is nobody left to go on with it, and a file on the disk would only keep a
second table on the same machine from opening. Every finished heat is kept by the client all the same.
"""

import logging
import secrets
import ssl
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path

from client.connection.address import Address
from client.connection.link import Link
from client.connection.opened import Opened
from client.connection.seat_tokens import fresh_token, recall, remember, token_path
from client.console import log_to_standard_error, say
from client.storage.files import state_folder
from server.admission import Gate
from server.clock import wall_time
from server.host import GoOn as GoOn
from server.host import clear, host_table, how_it_stands, new_record, privacy, run_headless, tls_context, unfinished
from server.net.beacon import Announcer
from server.net.interfaces import typed_addresses
from server.net.listener import CannotOpen, Door, open_door
from server.shared_clock import GroupTable
from server.store import Database, Store, StoredTable, StoreFault, default_path
from server.table.chairs import TableRecord
from server.table.output import Output
from server.table.seating import Seating
from server.table.table import Table
from shared.cards.play import shipped_text
from shared.names import clean_name
from shared.rules.drills import Laid
from shared.rules.heat import SavedHeat
from shared.rules.intents import Ready, Start
from shared.rules.settings import Settings
from shared.rules.wall import CONTRIBUTION_BYTES
from shared.wire.announce import Announcement
from shared.wire.messages import Command

# What a table logs is for a host without a screen; here it would be written across the player's.
logging.getLogger("racktempo").addHandler(logging.NullHandler())

Tls = tuple[Path, Path]
"""A certificate and its key."""
VIRTUAL_START = "1970-01-01T00:00:00+00:00"
"""When a heat in virtual time is said to be played: its clock begins at zero."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """A kind of table that others join: the file in which it is kept, the command that opens it, and its maker."""

    path: Path
    command: str
    make: Callable[[TableRecord, Callable[[int], bytes], Callable[[], str]], Seating]


class Unfinished(ValueError):
    """A table was left unfinished and nobody has said whether to go on with it; the message is a sentence about it."""


@asynccontextmanager
async def open_solo(
    settings: Settings, name: str, *, card: str = "", laid: tuple[Laid, ...] = ()
) -> AsyncIterator[Opened]:
    """Open a table for one with three bots; the first heat begins as soon as the line runs.

    card is the text of the card to play by, the practice card if empty. With laid heats it is a drill.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    store = Store.open(None)
    try:
        async with host_table(
            store, settings, "Drill" if laid else "Practice", card=card, host="127.0.0.1", port=0, laid=laid
        ) as hosted:
            link = Link(Address("127.0.0.1", hosted.door.port), name, hosted.record.code, fresh_token())
            link.ask(Ready(contribution=secrets.token_bytes(CONTRIBUTION_BYTES)), 0)
            yield Opened(link)
    except CannotOpen as fault:
        raise ValueError(str(fault)) from fault
    finally:
        await store.close()


def open_drill(laid: tuple[Laid, ...], name: str, card: str) -> AbstractAsyncContextManager[Opened]:
    """Open a table for one at which laid heats are played, one after the other. Raises ValueError like open_solo."""
    return open_solo(laid[0].settings.model_copy(update={"heats": len(laid)}), name, card=card, laid=laid)


def open_host(
    settings: Settings, name: str, port: int, *, card: str = "", go_on: GoOn = "ask", tls: Tls | None = None
) -> AbstractAsyncContextManager[Opened]:
    """Open a table for others on every network of this machine and sit down at it.

    card is the text of the card to play by, the practice card if empty; a table that was left unfinished keeps its
    own. go_on says what becomes of such a table. tls is a certificate and its key, for wss; the
    line to our own table then goes through a door of its own that only this machine can reach.

    Raises:
        Unfinished: there is one, and go_on is "ask".
        ValueError: it could not be opened; the message is one sentence.
    """
    kept = _Kept(default_path(), "racktempo host", Table)
    return _open_for_others(kept, new_record(settings, f"{_whose(name)} table", card), name, port, go_on, tls)


def open_together(
    settings: Settings, name: str, port: int, *, go_on: GoOn = "ask", tls: Tls | None = None
) -> AbstractAsyncContextManager[Opened]:
    """Open a clock for real tiles that others join, and sit down at it; for the rest it is like open_host."""
    kept = _Kept(clocks_path(), "racktempo clock --together", GroupTable)
    fresh = new_record(settings.unseeded(), f"{_whose(name)} clock").with_(card="")
    return _open_for_others(kept, fresh, name, port, go_on, tls)


def clocks_path() -> Path:
    """Return where shared clocks are kept: beside the tables, so that one of each can be open."""
    return default_path().with_name("clocks.sqlite3")


def _whose(name: str) -> str:
    return f"{clean_name(name, cells=8) or 'A'}'s"


@asynccontextmanager
async def _open_for_others(
    kept: _Kept, fresh: TableRecord, name: str, port: int, go_on: GoOn, tls: Tls | None
) -> AsyncIterator[Opened]:
    context, who_reads = tls_context(*tls) if tls else None, privacy(tls[0] if tls else None)
    with _told():
        store = Store.open(kept.path)
    try:
        with _told():
            stored = _left(store, go_on, kept.command)
            record = stored.record if stored else fresh
            token = token_path(state_folder(), Address("this-machine"), record.id, "host")
            async with Gate.open(store) as gate:
                gate.add(kept.make(record, secrets.token_bytes, wall_time), stored)
                async with open_door(gate, None, port, tls=context) as door, _own_door(gate, door, context) as own:
                    where, known = Address("127.0.0.1", own.port), recall(token) or fresh_token()
                    line = Link(where, name, record.code, known, lambda seat: remember(token, seat))
                    beacon = Announcer(Announcement(record.name, door.port, private=tls is not None))
                    try:
                        yield Opened(line, door.addresses, typed_addresses(door.port), beacon.show, who_reads)
                    finally:
                        await beacon.close()
    finally:
        await store.close()


def host_headless(settings: Settings, name: str, port: int, go_on: GoOn, tls: Tls | None, card: str = "") -> int:
    """Host a table without a screen until a signal comes; return the exit code.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    log_to_standard_error()
    with _told():
        return run_headless(settings, name or "Open table", card=card, port=port, go_on=go_on, tls=tls, say=say)


def left_unfinished(path: Path | None = None) -> str:
    """Return a sentence about the table that was left unfinished in a file (the user's tables if None), or nothing.

    Raises:
        ValueError: the file of tables cannot be read, or another host is using it.
    """
    with _told():
        database = Database(path or default_path())
        try:
            left = [stored for stored in database.load() if stored.is_unfinished]
        finally:
            database.close()
    return how_it_stands(left[-1]) if left else ""


def play_bots(
    settings: Settings, random_bytes: Callable[[int], bytes] = secrets.token_bytes, card: str = ""
) -> tuple[SavedHeat, ...]:
    """Play one whole set with bots in all four seats under a virtual clock that jumps from deadline to deadline.

    With a seed in the settings nothing is random and every machine plays the same set.
    """
    record = TableRecord(
        id="four-birds", name="Four birds", code="", settings=settings, host=0, card=card or shipped_text()
    )
    table = Table(record, random_bytes, lambda: VIRTUAL_START)
    heats: list[SavedHeat] = []
    now_ms = 0

    def settle(output: Output) -> None:
        if output.finished:
            heats.append(output.finished)
        for thought in output.thoughts:
            settle(table.thought(thought.chair, thought.heat, thought.step, thought.run(), now_ms))

    while table.record.phase != "over":
        if table.record.phase != "heat":
            settle(table.command(0, Command(id=len(heats) + 1, heat=0, intent=Start()), now_ms))
        due_ms = table.next_deadline_ms()
        if due_ms is not None:
            now_ms = due_ms
            settle(table.tick(now_ms))
    return tuple(heats)


def _left(store: Store, go_on: GoOn, command: str) -> StoredTable | None:
    """Return the table to go on with; forget all others unless that has not been decided: then name the command."""
    stored = unfinished(store)
    if stored and go_on == "ask":
        raise Unfinished(f"{how_it_stands(stored)} Start {command} --resume or {command} --fresh.")
    if not stored or go_on == "fresh":
        clear(store)
        return None
    return stored


@asynccontextmanager
async def _own_door(gate: Gate, door: Door, context: ssl.SSLContext | None) -> AsyncIterator[Door]:
    if context is None:
        yield door
        return
    async with open_door(gate, "127.0.0.1", 0) as own:
        yield own


@contextmanager
def _told() -> Iterator[None]:
    """Turn what the server cannot do into what the screens show."""
    try:
        yield
    except (CannotOpen, StoreFault) as fault:
        raise ValueError(str(fault)) from fault

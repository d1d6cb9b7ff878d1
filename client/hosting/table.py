"""Tables inside the client's own process: as a host for others, or four bots by themselves.

Tables for one are in alone.py.
"""

import secrets
import ssl
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

from client.connection.opened import Opened
from client.console import log_to_standard_error, say
from client.hosting.opener import Host, Kind, Tls, as_sentences, open_for_others
from client.storage.card_files import find_played, keep_played
from server.clock import wall_time
from server.host import GoOn as GoOn
from server.host import (
    clear,
    host_seating,
    how_it_stands,
    new_record,
    run_headless,
    text_of,
    unfinished,
)
from server.records import TableRecord
from server.shared_clock import SharedClockTable
from server.store import Database, Store, StoredTable, default_path
from server.table.output import Output
from server.table.seating import Seating
from server.table.table import Table
from shared.cards.owned import told_card
from shared.cards.play import shipped_text
from shared.names import clean_name
from shared.rules.events import StepBegan
from shared.rules.heat import SavedHeat
from shared.rules.intents import Start
from shared.rules.settings import Settings
from shared.wire.messages import PORT, Command

MakeTable = Callable[[TableRecord, Callable[[int], bytes], Callable[[], str]], Seating]
VIRTUAL_START = "1970-01-01T00:00:00+00:00"
"""The date of heats in virtual time: their clock begins at zero."""


def open_host(
    settings: Settings, name: str, port: int, card: str = "", *, go_on: GoOn = "ask", tls: Tls | None = None
) -> AbstractAsyncContextManager[Opened]:
    """Open a table for others on every network of this machine and sit down at it.

    card is the text of the card to play by, the practice card if empty; a table that was left unfinished keeps its
    own. go_on says what becomes of such a table. tls is a certificate and its key, for wss; the
    line to our own table then goes to a listener that only this machine can reach.

    Raises:
        Unfinished: there is one, and go_on is "ask".
        ValueError: it could not be opened; the message is one sentence.
    """
    fresh = new_record(settings, f"{_whose(name)} table", card)

    def make(record: TableRecord, random_bytes: Callable[[int], bytes], wall_time: Callable[[], str]) -> Table:
        return Table(record, random_bytes, wall_time, own_card=text_of(record, card, find_played))

    return open_for_others(_kind(default_path(), "racktempo host", make, fresh, port, card), name, go_on, tls)


def open_together(
    settings: Settings, name: str, port: int, *, go_on: GoOn = "ask", tls: Tls | None = None
) -> AbstractAsyncContextManager[Opened]:
    """Open a clock for real tiles that others join, and sit down at it; for the rest it is like open_host."""
    fresh = new_record(settings.unseeded(), f"{_whose(name)} clock").with_(card="", card_title="", card_digest="")
    kind = _kind(clocks_path(), "racktempo clock --together", SharedClockTable, fresh, port)
    return open_for_others(kind, name, go_on, tls)


def clocks_path() -> Path:
    """Return where shared clocks are kept: beside the tables, so that one of each can be open."""
    return default_path().with_name("clocks.sqlite3")


def _whose(name: str) -> str:
    return f"{clean_name(name, cells=8) or 'A'}'s"


def _kind(
    path: Path, command: str, make: MakeTable, fresh: TableRecord, port: int, card: str = ""
) -> Kind[StoredTable]:
    """Return a kind of table: its file, the command that opens it, its maker, a new one and the text of its card."""

    def host(store: Store, left: StoredTable | None, tls: ssl.SSLContext | None) -> Host:
        record = left.record if left else fresh
        known = record.port if record.port and port == PORT else port  # guests look for it where it was
        table = make(record.with_(port=known), secrets.token_bytes, wall_time)
        return host_seating(store, table, left, port=known, tls=tls, own=True)

    def sentence(left: StoredTable) -> str:
        return f"{how_it_stands(left)} Start {command} --resume or {command} --fresh."

    return Kind(path, unfinished, sentence, clear, host, card=card)


def host_headless(settings: Settings, name: str, port: int, go_on: GoOn, tls: Tls | None, card: str = "") -> int:
    """Host a table without a screen until a signal comes; return the exit code.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    log_to_standard_error()
    keep_played(card)
    with as_sentences():
        return run_headless(
            settings,
            name or "Open table",
            card=card,
            port=port,
            go_on=go_on,
            tls=tls,
            find_card=find_played,
            say=say,
        )


def left_unfinished(path: Path | None = None) -> str:
    """Return a sentence about the table that was left unfinished in a file (the user's tables if None), or nothing.

    Raises:
        ValueError: the file of tables cannot be read, or another host is using it.
    """
    left = _left_in(path or default_path())
    return how_it_stands(left) if left else ""


def table_left() -> str:
    """Return which of the user's tables waits for its host, and where: "Boathouse, heat 2, first left".

    Nothing if none waits, or another program keeps it.
    """
    try:
        left = _left_in(default_path())
    except ValueError:
        return ""
    if left is None:
        return ""
    record, steps = left.record, [event.step for event in left.events if isinstance(event, StepBegan)]
    heat = record.number - record.set_first + (1 if record.phase == "heat" else 2)
    step = steps[-1] if record.phase == "heat" and steps else f"of {record.settings.heats}"
    return f"{clean_name(record.name)}, heat {heat}{', ' if steps else ' '}{step}"


def _left_in(path: Path) -> StoredTable | None:
    with as_sentences():
        database = Database(path)
        try:
            left = [stored for stored in database.load() if stored.is_unfinished]
        finally:
            database.close()
    return left[-1] if left else None


def play_bots(
    settings: Settings, random_bytes: Callable[[int], bytes] = secrets.token_bytes, card: str = ""
) -> tuple[SavedHeat, ...]:
    """Play one whole set with bots in all four seats under a virtual clock that jumps from deadline to deadline.

    With a seed in the settings nothing is random and every machine plays the same set.
    """
    text = card or shipped_text()
    told = told_card(text)
    record = TableRecord(
        id="four-birds",
        name="Four birds",
        code="",
        settings=settings,
        host=0,
        card=told.text,
        card_title=told.title,
        card_digest=told.digest,
    )
    table = Table(record, random_bytes, lambda: VIRTUAL_START, own_card=text)
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

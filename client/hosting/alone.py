"""Tables for one: opened in this process, and gone on with after the program was left, closed or killed.

Each table has a file of its own, so two programs on one machine never meet. The file goes when its set is over; drills
have none. The last sets that are not over are kept; the newest is the one that is offered.
"""

import os
import secrets
import time
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from client.connection.address import Address
from client.connection.link import Link
from client.connection.opened import Opened
from client.connection.seat_tokens import fresh_token, recall, remember, token_path
from client.hosting.opener import hosting
from client.storage.card_files import find_played, keep_played
from client.storage.files import state_folder
from server.host import host_table, text_of
from server.records import TableRecord
from server.store import Database, StoredTable, StoreFault, default_path
from shared.rules.drills import Laid
from shared.rules.settings import Settings

NAME = "Practice"
MOST_WAITING = 3
"""How many unfinished sets are kept."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A set that was left unfinished: its file, the table as it was kept, and the player's name at it."""

    path: Path
    stored: StoredTable

    @property
    def words(self) -> str:
        """Where it stands, in a few words: "heat 2 of 3"."""
        record = self.stored.record
        number = record.number - record.set_first + (1 if record.phase == "heat" else 2)
        return f"heat {number} of {record.settings.heats}"


def solo_folder() -> Path:
    """Return where tables for one are kept, each in a file of its own."""
    return default_path().with_name("alone")


def waiting_set(folder: Path | None = None) -> Waiting | None:
    """Return the set that was left last and is not over; None if there is none, or another program plays it."""
    found = _waiting(folder or solo_folder())
    return found[0] if found else None


def _waiting(folder: Path) -> list[Waiting]:
    """Return all sets that wait, the one that was begun last first. A file in use or unreadable is passed by."""
    found: list[Waiting] = []
    # Looking into a file changes its date, so the order is that of the names, which begin with the moment.
    for path in sorted(folder.glob("*.sqlite3"), reverse=True):
        with suppress(StoreFault):
            database = Database(path)
            try:
                stored = [table for table in database.load() if table.is_unfinished]
            finally:
                database.close()
            if stored:
                found.append(Waiting(path, stored[-1]))
    return found


@asynccontextmanager
async def open_solo(
    settings: Settings,
    name: str,
    card: str = "",
    *,
    go_on: bool = False,
    kept: bool = True,
    laid: tuple[Laid, ...] = (),
    title: str = NAME,
    folder: Path | None = None,
    watch: Callable[[TableRecord], None] = lambda record: None,
) -> AsyncIterator[Opened]:
    """Open a table for one with three bots; with go_on the set that waits, paused, as it was left.

    card is the text of the card to play by, the practice card if empty. Without kept, nothing of the table is kept for
    later. With laid heats it is a drill, never kept. title is what the table is called, folder where it is kept;
    watch is told its record when it opens and when it closes, and may raise ValueError or OSError.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    folder, kept = folder or solo_folder(), kept and not laid
    waiting = waiting_set(folder) if go_on else None
    if go_on and waiting is None:
        raise ValueError("No set waits to be gone on with, or another program plays it.")
    path = waiting.path if waiting else folder / f"{time.time_ns():020d}-{secrets.token_hex(4)}.sqlite3"
    if kept and not waiting:
        for left in _waiting(folder)[MOST_WAITING - 1 :]:
            _remove(left.path)
    keep_played(card)
    host = partial(
        host_table,
        settings=settings,
        name="Drill" if laid else title,
        stored=waiting.stored if waiting else None,
        card=card,
        host="127.0.0.1",
        port=0,
        laid=laid,
        find_card=find_played,
    )
    phase = "heat"
    try:
        async with hosting(path if kept else None, host) as hosted:
            record = hosted.record
            token = token_path(state_folder(), Address("this-machine"), record.id, "alone")
            known = (recall(token) if waiting else None) or fresh_token()
            if kept:
                remember(token, known)
            assert isinstance(record, TableRecord)
            watch(record)
            own_name = record.chairs[record.host or 0].name if waiting else name
            line = Link(Address("127.0.0.1", hosted.listener.port), own_name, record.code, known)
            try:
                yield Opened(line, card=text_of(record, card, find_played), alone=True)
            finally:
                assert isinstance(hosted.record, TableRecord)
                phase = hosted.record.phase
                watch(hosted.record)
    finally:
        if kept and phase in ("seating", "over"):
            _remove(path)
            with suppress(OSError):
                token.unlink()


def open_drill(laid: tuple[Laid, ...], name: str, card: str) -> AbstractAsyncContextManager[Opened]:
    """Open a table for one at which laid heats are played, one after the other. Raises ValueError like open_solo."""
    return open_solo(laid[0].settings.model_copy(update={"heats": len(laid)}), name, card=card, laid=laid)


def _remove(path: Path) -> None:
    """Delete a table's file, and what SQLite keeps beside it."""
    for ending in ("", "-wal", "-shm", "-journal"):
        with suppress(OSError):
            os.unlink(f"{path}{ending}")

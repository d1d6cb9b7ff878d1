"""What must outlive the process: tables, the events of running heats, and finished heats, in one SQLite file.

An append returns only when it is on the disk (synchronous=FULL), and is written whole or not at all.
One thread writes; what arrives while it writes goes into its next transaction, so that many tables share one
wait for the disk. Tokens come in hashed. This module decides nothing about a game.
"""

import asyncio
import sqlite3
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import platformdirs

from server.kept import KeptHeat
from server.records import ClubRecord, SeatReview, TableRecord
from shared import versions
from shared.codec import BadFrame, Codec, known_versions
from shared.private_files import create_private
from shared.rules.events import AnyEvent, Event
from shared.rules.heat import HEAT, SavedHeat
from shared.troubles import describe_error

SCHEMA = versions.STORE
_OLDEST = 3
"""The version of the first release."""
_APPLICATION = 0x7261636B
_TABLES = """
CREATE TABLE tables (id TEXT PRIMARY KEY, record BLOB NOT NULL);
CREATE TABLE events (
    "table" TEXT, heat INTEGER, number INTEGER, event BLOB NOT NULL, PRIMARY KEY ("table", heat, number)
) WITHOUT ROWID;
CREATE TABLE clubs (id TEXT PRIMARY KEY, record BLOB NOT NULL);
CREATE TABLE heats ("table" TEXT, heat INTEGER, saved BLOB NOT NULL, PRIMARY KEY ("table", heat)) WITHOUT ROWID;
CREATE TABLE reviews (
    "table" TEXT, heat INTEGER, seat INTEGER, review BLOB NOT NULL, PRIMARY KEY ("table", heat, seat)
) WITHOUT ROWID;
"""
_LIMIT = 1024 * 1024
_UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
"""What a damaged file raises; SQLite's message may quote text of the file."""
EVENT: Codec[AnyEvent] = Codec(Event, _LIMIT)
RECORD: Codec[TableRecord] = Codec(TableRecord, _LIMIT)
CLUB: Codec[ClubRecord] = Codec(ClubRecord, _LIMIT)
REVIEW: Codec[SeatReview] = Codec(SeatReview, _LIMIT)


class StoreFault(Exception):
    """The disk could not be used; the message is one sentence for the host. Nothing was written in part."""


@dataclass(frozen=True, slots=True)
class Append:
    """One step of one table: its record, and events that follow the first `after` ones of a heat.

    A finished heat is kept whole, and its single events are deleted.
    """

    record: TableRecord
    heat: int = 0
    after: int = 0
    events: tuple[AnyEvent, ...] = ()
    finished: SavedHeat | None = None


@dataclass(frozen=True, slots=True)
class ClubAppend:
    """One step of an evening of several tables, stored together with what it did at them, or what the coach found."""

    record: ClubRecord
    reviews: tuple[SeatReview, ...] = ()


Appends = Sequence[Append | ClubAppend]


@dataclass(frozen=True, slots=True)
class StoredTable:
    """A table as it was left: its record, the events of the heat that ran, the heats it finished, and what the coach
    found in them."""

    record: TableRecord
    events: tuple[AnyEvent, ...]
    finished: tuple[KeptHeat, ...]
    reviews: tuple[SeatReview, ...] = ()

    @property
    def is_unfinished(self) -> bool:
        """Say whether people would want to go on: a heat was running or the set had heats to come."""
        return self.record.phase in ("heat", "between")


def default_path() -> Path:
    """Return where tables are kept: in the user's data folder."""
    return Path(platformdirs.user_data_dir("racktempo", appauthor=False)) / "tables.sqlite3"


class Database:
    """The file itself, used from one thread at a time; a path of None keeps everything in memory."""

    def __init__(self, path: Path | None) -> None:
        """Open or create the file, readable by its owner only, and keep every other process out.

        Raises:
            StoreFault: another process holds the file, it is of another version, or the disk fails.
        """
        self._where = str(path) if path else "memory"
        try:
            if path:
                create_private(path)
            self._disk = sqlite3.connect(path or ":memory:", timeout=0, isolation_level=None, check_same_thread=False)
        except (OSError, sqlite3.Error) as error:
            raise StoreFault(f"{self._where} cannot be opened: {describe_error(error)}.") from error
        try:
            self._prepare()
        except _UNREADABLE as error:
            self._disk.close()
            raise StoreFault(_opening_sentence(error, self._where)) from error
        except StoreFault:
            self._disk.close()
            raise

    def commit(self, appends: Iterable[Append | ClubAppend]) -> None:
        """Write all of the appends in one transaction, and return when they are on the disk.

        Raises:
            StoreFault: nothing of it was written.
        """
        try:
            self._disk.execute("BEGIN IMMEDIATE")
            for append in appends:
                self._write(append)
            self._disk.execute("COMMIT")
        except sqlite3.Error as error:
            self._undo()
            raise StoreFault(f"{self._where} could not be written: {describe_error(error)}.") from error
        except BaseException:
            self._undo()
            raise

    def load(self) -> tuple[StoredTable, ...]:
        """Return every table that was kept, the one that was written last at the end.

        Raises:
            StoreFault: the file cannot be read or holds something else.
        """
        try:
            rows = self._disk.execute("SELECT id, record FROM tables ORDER BY rowid").fetchall()
            return tuple(self._stored(table, RECORD.unpack(record)) for table, record in rows)
        except (*_UNREADABLE, BadFrame) as error:
            raise StoreFault(f"{self._where} cannot be read: {describe_error(error)}") from error

    def load_club(self) -> ClubRecord | None:
        """Return the evening that was kept, if any. Raises StoreFault."""
        try:
            row = self._disk.execute("SELECT record FROM clubs ORDER BY rowid DESC LIMIT 1").fetchone()
            return CLUB.unpack(row[0]) if row else None
        except (*_UNREADABLE, BadFrame) as error:
            raise StoreFault(f"{self._where} cannot be read: {describe_error(error)}") from error

    def forget_club(self) -> None:
        """Drop the evening; its tables are dropped one by one. Raises StoreFault."""
        try:
            self._disk.execute("DELETE FROM clubs")
        except sqlite3.Error as error:
            raise StoreFault(f"{self._where} could not be written: {describe_error(error)}.") from error

    def forget(self, table: str) -> None:
        """Drop a table with all its heats.

        Raises:
            StoreFault: it is still there.
        """
        try:
            self._disk.execute("BEGIN IMMEDIATE")
            self._disk.execute("DELETE FROM tables WHERE id = ?", (table,))
            self._disk.execute('DELETE FROM events WHERE "table" = ?', (table,))
            self._disk.execute('DELETE FROM heats WHERE "table" = ?', (table,))
            self._disk.execute('DELETE FROM reviews WHERE "table" = ?', (table,))
            self._disk.execute("COMMIT")
        except sqlite3.Error as error:
            self._undo()
            raise StoreFault(f"{self._where} could not be written: {describe_error(error)}.") from error

    def close(self) -> None:
        """Close the file."""
        self._disk.close()

    def _prepare(self) -> None:
        self._disk.execute("PRAGMA locking_mode = EXCLUSIVE")
        is_new = self._disk.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,)
        version = self._pragma("user_version")
        if not is_new and self._pragma("application_id") != _APPLICATION:
            raise StoreFault(f"{self._where} belongs to another program.")
        if version > SCHEMA:
            raise StoreFault(f"{self._where} is of version {version}; {known_versions(SCHEMA)}")
        if not is_new and version < _OLDEST:
            raise StoreFault(
                f"{self._where} is of version {version}; this racktempo reads version {_OLDEST} and later."
            )
        self._disk.execute("PRAGMA journal_mode = WAL")
        self._disk.execute("PRAGMA synchronous = FULL")
        self._disk.execute("BEGIN IMMEDIATE")
        if is_new:
            for statement in _TABLES.split(";"):
                self._disk.execute(statement)
            self._disk.execute(f"PRAGMA application_id = {_APPLICATION}")
        self._disk.execute(f"PRAGMA user_version = {SCHEMA}")
        self._disk.execute("COMMIT")

    def _pragma(self, name: str) -> int:
        return int(self._disk.execute(f"PRAGMA {name}").fetchone()[0])

    def _write(self, append: Append | ClubAppend) -> None:
        if isinstance(append, ClubAppend):
            club = append.record
            self._disk.execute("INSERT OR REPLACE INTO clubs VALUES (?, ?)", (club.id, CLUB.pack(club)))
            for one in append.reviews:
                row = (club.table_id(one.table), one.heat, one.seat, REVIEW.pack(one))
                self._disk.execute("INSERT OR REPLACE INTO reviews VALUES (?, ?, ?, ?)", row)
            return
        table = append.record.id
        self._disk.execute("INSERT OR REPLACE INTO tables VALUES (?, ?)", (table, RECORD.pack(append.record)))
        numbered = enumerate(append.events, append.after)
        rows = [(table, append.heat, number, EVENT.pack(event)) for number, event in numbered]
        self._disk.executemany("INSERT INTO events VALUES (?, ?, ?, ?)", rows)
        if append.finished:
            heat = append.finished
            self._disk.execute("INSERT INTO heats VALUES (?, ?, ?)", (table, heat.number, HEAT.pack(heat)))
            self._disk.execute('DELETE FROM events WHERE "table" = ? AND heat = ?', (table, heat.number))

    def _stored(self, table: str, record: TableRecord) -> StoredTable:
        events = self._disk.execute(
            'SELECT event FROM events WHERE "table" = ? AND heat = ? ORDER BY number', (table, record.number)
        )
        heats = self._disk.execute('SELECT saved FROM heats WHERE "table" = ? ORDER BY heat', (table,))
        reviews = self._disk.execute('SELECT review FROM reviews WHERE "table" = ? ORDER BY heat, seat', (table,))
        return StoredTable(
            record,
            tuple(EVENT.unpack(event) for (event,) in events),
            tuple(KeptHeat.read(heat) for (heat,) in heats),
            tuple(REVIEW.unpack(review) for (review,) in reviews),
        )

    def _undo(self) -> None:
        if self._disk.in_transaction:
            self._disk.execute("ROLLBACK")


class Store:
    """A database for an event loop: append waits for the disk in a thread of its own, or, inline, at once."""

    def __init__(self, database: Database, inline: bool = False) -> None:
        self._database = database
        self._thread = None if inline else ThreadPoolExecutor(1, "racktempo disk")
        self._waiting: list[tuple[Appends, asyncio.Future[None]]] = []
        self._writing: asyncio.Task[None] | None = None

    @classmethod
    def open(cls, path: Path | None) -> Self:
        """Open a file, or, for a path of None, keep everything in memory. Raises StoreFault."""
        return cls(Database(path), inline=path is None)

    def load(self) -> tuple[StoredTable, ...]:
        """Return every table that was kept. Raises StoreFault."""
        return self._database.load()

    def forget(self, table: str) -> None:
        """Drop a table with all its heats. Raises StoreFault."""
        self._database.forget(table)

    def load_club(self) -> ClubRecord | None:
        """Return the evening that was kept, if any. Raises StoreFault."""
        return self._database.load_club()

    def forget_club(self) -> None:
        """Drop the evening that was kept. Raises StoreFault."""
        self._database.forget_club()

    async def append(self, appends: Appends) -> None:
        """Return when all of it is on the disk.

        Raises:
            StoreFault: nothing of it is.
        """
        if self._thread is None:
            return self._database.commit(appends)
        done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._waiting.append((appends, done))
        if self._writing is None:
            self._writing = asyncio.create_task(self._write(self._thread))
        await done
        return None

    async def close(self) -> None:
        """Finish what is being written and close the file."""
        if self._writing:
            await self._writing
        if self._thread:
            self._thread.shutdown()
        self._database.close()

    async def _write(self, thread: ThreadPoolExecutor) -> None:
        loop = asyncio.get_running_loop()
        while self._waiting:
            batch, self._waiting = self._waiting, []
            faults = await loop.run_in_executor(thread, self._commit, [appends for appends, _ in batch])
            for (_, done), fault in zip(batch, faults, strict=True):
                if done.done():
                    continue
                if fault:
                    done.set_exception(fault)
                else:
                    done.set_result(None)
        self._writing = None

    def _commit(self, batch: Sequence[Appends]) -> list[Exception | None]:
        """Commit together; if that fails each on its own, so that one table's trouble is not another's."""
        try:
            self._database.commit(append for appends in batch for append in appends)
        except Exception as fault:
            if len(batch) == 1:
                return [fault]
            return [fault for appends in batch for fault in self._commit([appends])]
        return [None] * len(batch)


def _opening_sentence(error: Exception, where: str) -> str:
    if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
        return "The tables on this machine are in use by another racktempo host; end that one first."
    return f"{where} cannot be used: {describe_error(error)}."

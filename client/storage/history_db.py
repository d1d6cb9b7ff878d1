"""A player's own heats in one SQLite file: each finished heat once, and the review of its steps.

A heat is added in one transaction and is on the disk when add returns (WAL, synchronous=FULL); adding it again
changes nothing. The schema is versioned: an older file is brought up to date, a newer one is refused and left
as it is, a damaged one is set aside under another name and never deleted. This module computes nothing from the
heats and reviews none.
"""

import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import Field, TypeAdapter, ValidationError

from client.storage.drilled import Memory, Round
from client.storage.files import data_folder
from client.target import Named
from shared.codec import BadFrame, Codec, known_versions
from shared.private_files import create_private
from shared.records import Record
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
from shared.rules.steps import StepName
from shared.rules.tiles import Tile
from shared.rules.typed_tiles import MOST_TYPED
from shared.troubles import describe_error
from shared.versions import COACH

Source = Literal["table", "real tiles", "drill"]
"""Where a heat was played: at a table of the program, with tiles on a table, or in a drill."""

R = TypeVar("R", bound=Record)
_SOURCE: TypeAdapter[Source] = TypeAdapter(Source)
_APPLICATION = 0x72746869
_BUSY_S = 5.0
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE heats (
            id INTEGER PRIMARY KEY, commitment TEXT NOT NULL, seat INTEGER NOT NULL, played_at TEXT NOT NULL,
            source TEXT NOT NULL, detail TEXT NOT NULL, set_first INTEGER NOT NULL, heat BLOB NOT NULL,
            UNIQUE (commitment, seat, played_at)
        )""",
    ),
    (
        """CREATE TABLE reviews (
            id INTEGER PRIMARY KEY, heat INTEGER NOT NULL REFERENCES heats ON DELETE CASCADE, coach TEXT NOT NULL,
            UNIQUE (heat, coach)
        )""",
        """CREATE TABLE losses (
            review INTEGER NOT NULL REFERENCES reviews ON DELETE CASCADE, step TEXT NOT NULL, loss BLOB NOT NULL,
            PRIMARY KEY (review, step)
        ) WITHOUT ROWID""",
    ),
    (
        """CREATE TABLE targets (
            id INTEGER PRIMARY KEY, heat INTEGER NOT NULL REFERENCES heats ON DELETE CASCADE, named BLOB NOT NULL
        )""",
    ),
    (),  # losses say more: what the coach would pass, the stake, and what became of plans
    (
        """CREATE TABLE memories (
            heat INTEGER NOT NULL REFERENCES heats ON DELETE CASCADE, step TEXT NOT NULL, memory BLOB NOT NULL,
            PRIMARY KEY (heat, step)
        ) WITHOUT ROWID""",
        "CREATE TABLE rounds (id INTEGER PRIMARY KEY, drill TEXT NOT NULL, round BLOB NOT NULL)",
    ),
    ("CREATE TABLE racks (id INTEGER PRIMARY KEY, clocked TEXT NOT NULL UNIQUE, typed BLOB NOT NULL)",),
)
"""What leads from each version of the schema to the next; the number of a version counts those that were run."""

_HEATS = "SELECT id, source, detail, set_first, heat FROM heats ORDER BY id"
_LOSSES = """SELECT heat, coach, loss FROM reviews LEFT JOIN losses ON review = reviews.id
    WHERE reviews.id IN (SELECT max(id) FROM reviews GROUP BY heat)"""


class HistoryFault(Exception):
    """The file could not be used; the message is one sentence for the player. Nothing was half done."""


class StepLoss(Record):
    """What a review says of one step, in points (0-100): the loss with its standard error, and the luck after it.

    kinds are short words for what was decided ("breaking a pair"), none if nothing fits; forced means that the
    player decided nothing: the clock or a bot did, or there was only one way. best is the coach's pass; stake,
    first_plan and last_plan are as shared.measures.habits.Decision says. Reviews kept before version 4 lack these.
    """

    step: StepName
    points: Annotated[float, Field(ge=0)]
    error: Annotated[float, Field(ge=0)]
    luck: float
    kinds: tuple[Annotated[str, Field(min_length=1, max_length=60)], ...] = ()
    forced: bool = False
    best: tuple[Tile, ...] = ()
    stake: Annotated[float, Field(ge=0)] = 0.0
    first_plan: float | None = None
    last_plan: float = 0.0


class TypedRacks(Record):
    """What was typed of a heat with real tiles, line by line, as client.models.real_racks names them."""

    lines: dict[Annotated[str, Field(max_length=40)], Annotated[str, Field(max_length=MOST_TYPED)]]


_LOSS: Codec[StepLoss] = Codec(StepLoss, 16 * 1024)
_NAMED: Codec[Named] = Codec(Named, 16 * 1024)
_MEMORY: Codec[Memory] = Codec(Memory, 16 * 1024)
_ROUND: Codec[Round] = Codec(Round, 16 * 1024)
_RACKS: Codec[TypedRacks] = Codec(TypedRacks, 64 * 1024)


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """A kept heat. set_first is the number of the first heat of its set; losses are the latest review's, by step,
    and coach says which coach made it ("" if there is none); targets are what the player named, oldest first;
    memories say when its decisions come back in drills, by step."""

    id: int
    heat: SeatHeat
    source: Source = "table"
    detail: str = ""
    set_first: int = 1
    coach: str = ""
    losses: Mapping[StepName, StepLoss] = field(default_factory=dict)
    targets: tuple[Named, ...] = ()
    memories: Mapping[StepName, Memory] = field(default_factory=dict)

    @property
    def is_older(self) -> bool:
        """Whether an earlier version of the coach judged it, by numbers that do not compare with today's."""
        return bool(self.losses) and self.coach != COACH

    def by_this_coach(self) -> "HistoryEntry":
        """Return it without losses whose points do not compare: an earlier coach's, or of a heat played for values."""
        return replace(self, losses={}) if self.is_older or self.heat.settings.play_for == "values" else self


@dataclass(frozen=True, slots=True)
class Added:
    """Which heat it is now, and whether it was not there before."""

    id: int
    is_new: bool


@dataclass(frozen=True, slots=True)
class Read:
    """All heats in the order in which they were added, and one sentence for each that could not be read."""

    entries: tuple[HistoryEntry, ...]
    faults: tuple[str, ...] = ()


def history_path() -> Path:
    """Return where the history lies: in the user's data folder."""
    return data_folder() / "history.sqlite3"


class History:
    """The file, open. Any thread may use it; several processes may hold it at once.

    notice is a sentence for the player if a damaged file was set aside, else empty.
    """

    def __init__(self, path: Path) -> None:
        """Open or create the file, readable by its owner only.

        Raises:
            HistoryFault: it is of a newer version or another program's, or the disk does not serve.
        """
        self.path = path
        self.notice = ""
        self._lock = threading.Lock()
        try:
            self._disk = self._opened()
        except _Damaged as damage:
            self.notice = self._set_aside(str(damage))
            self._disk = self._opened()

    @staticmethod
    def _connect(path: Path) -> sqlite3.Connection:
        return sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False)

    def add(self, heat: SeatHeat, source: Source = "table", detail: str = "", set_first: int = 1) -> Added:
        """Keep a heat once: a repeated one is recognised by its commitment, its seat and when it was played.

        (The time counts because a deal repeated by seed has the same commitment and is still another heat.) detail
        says which drill it was; set_first is the number of the first heat of the same set at that table.

        Raises:
            HistoryFault: it may not be there; adding it again is safe.
        """
        key = (heat.commitment, heat.seat, heat.played_at)
        with self._transaction() as disk:
            row = disk.execute("SELECT id FROM heats WHERE (commitment, seat, played_at) = (?, ?, ?)", key).fetchone()
            if row:
                return Added(row[0], False)
            cursor = disk.execute(
                "INSERT INTO heats (commitment, seat, played_at, source, detail, set_first, heat)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                (*key, source, detail, set_first, SEAT_HEAT.pack(heat)),
            )
            return Added(int(cursor.lastrowid or 0), True)

    def set_racks(self, clocked: str, lines: Mapping[str, str]) -> None:
        """Keep what was typed of a heat at a clock, in place of what was kept before; the heat itself may come later.

        Raises:
            HistoryFault: nothing changed.
        """
        typed = _RACKS.pack(TypedRacks(lines=dict(lines)))
        with self._transaction() as disk:
            disk.execute("INSERT OR REPLACE INTO racks (clocked, typed) VALUES (?, ?)", (clocked, typed))

    def racks(self) -> dict[str, Mapping[str, str]]:
        """Return what was typed of heats at clocks, by heat, the one typed last at the end.

        Raises:
            HistoryFault: the file cannot be read.
        """
        with self._transaction("BEGIN") as disk:
            rows = disk.execute("SELECT clocked, typed FROM racks ORDER BY id").fetchall()
        return {clocked: found.lines for clocked, typed in rows for found in _readable(_RACKS, [typed])}

    def add_tiles(self, heat: SeatHeat) -> None:
        """Keep a heat with real tiles whose racks are known, in place of its times alone.

        What was judged of it with other tiles goes.

        Raises:
            HistoryFault: nothing changed.
        """
        with self._transaction() as disk:
            found = (heat.commitment, heat.played_at)
            row = disk.execute("SELECT id, heat FROM heats WHERE (commitment, played_at) = (?, ?)", found).fetchone()
            packed = SEAT_HEAT.pack(heat)
            if row and row[1] != packed:
                disk.execute("UPDATE heats SET seat = ?, heat = ? WHERE id = ?", (heat.seat, packed, row[0]))
                for table in ("reviews", "memories"):
                    disk.execute(f"DELETE FROM {table} WHERE heat = ?", (row[0],))
        self.add(heat, "real tiles")

    def set_losses(self, heat_id: int, coach: str, losses: Iterable[StepLoss]) -> None:
        """Keep a review of a heat, in place of an earlier one by the same version of the coach.

        Raises:
            HistoryFault: nothing changed; there may be no such heat.
        """
        with self._transaction() as disk:
            disk.execute("DELETE FROM reviews WHERE heat = ? AND coach = ?", (heat_id, coach))
            review = disk.execute("INSERT INTO reviews (heat, coach) VALUES (?, ?)", (heat_id, coach)).lastrowid
            rows = [(review, loss.step, _LOSS.pack(loss)) for loss in losses]
            disk.executemany("INSERT INTO losses VALUES (?, ?, ?)", rows)

    def set_targets(self, heat_id: int, named: Iterable[Named]) -> None:
        """Keep what the player named in a heat, in place of what was kept before.

        Raises:
            HistoryFault: nothing changed; there may be no such heat.
        """
        with self._transaction() as disk:
            disk.execute("DELETE FROM targets WHERE heat = ?", (heat_id,))
            rows = [(heat_id, _NAMED.pack(one)) for one in named]
            disk.executemany("INSERT INTO targets (heat, named) VALUES (?, ?)", rows)

    def set_memory(self, heat_id: int, step: StepName, memory: Memory) -> None:
        """Keep when a decision comes back, in place of what was kept before.

        Raises:
            HistoryFault: nothing changed; there may be no such heat.
        """
        with self._transaction() as disk:
            disk.execute("INSERT OR REPLACE INTO memories VALUES (?, ?, ?)", (heat_id, step, _MEMORY.pack(memory)))

    def add_round(self, drill: str, played: Round) -> None:
        """Keep what came of a round of a drill.

        Raises:
            HistoryFault: nothing changed.
        """
        with self._transaction() as disk:
            disk.execute("INSERT INTO rounds (drill, round) VALUES (?, ?)", (drill, _ROUND.pack(played)))

    def rounds(self, drill: str) -> tuple[Round, ...]:
        """Return the rounds of a drill, oldest first; one that cannot be read is left out.

        Raises:
            HistoryFault: the file cannot be read.
        """
        with self._transaction("BEGIN") as disk:
            rows = disk.execute("SELECT round FROM rounds WHERE drill = ? ORDER BY id", (drill,)).fetchall()
        return tuple(_readable(_ROUND, (data for (data,) in rows)))

    def read(self) -> Read:
        """Return every heat with its latest review. A heat that cannot be read stays in the file and is told.

        Raises:
            HistoryFault: the file cannot be read.
        """
        with self._transaction("BEGIN") as disk:
            heats, losses = disk.execute(_HEATS).fetchall(), disk.execute(_LOSSES).fetchall()
            targets = disk.execute("SELECT heat, named FROM targets ORDER BY id").fetchall()
            kept = disk.execute("SELECT heat, step, memory FROM memories").fetchall()
        reviews: dict[int, tuple[str, list[bytes]]] = {}
        for heat_id, coach, loss in losses:
            reviews.setdefault(heat_id, (coach, []))[1].extend([loss] if loss is not None else [])
        memories: dict[int, dict[StepName, Memory]] = {}
        for heat_id, step, data in kept:
            for memory in _readable(_MEMORY, [data]):  # one that cannot be read comes back as if it were new
                memories.setdefault(heat_id, {})[step] = memory
        entries: list[HistoryEntry] = []
        faults: list[str] = []
        for heat_id, source, detail, set_first, data in heats:
            coach, packed = reviews.get(heat_id, ("", []))
            try:
                by_step = {loss.step: loss for loss in map(_LOSS.unpack, packed)}
                where = _SOURCE.validate_python(source)
                named = tuple(_NAMED.unpack(one) for of, one in targets if of == heat_id)
                heat = SEAT_HEAT.unpack(data)
                again = memories.get(heat_id, {})
                entries.append(HistoryEntry(heat_id, heat, where, detail, set_first, coach, by_step, named, again))
            except (BadFrame, ValidationError) as error:
                why = str(error) if isinstance(error, BadFrame) else "it does not say where it was played."
                faults.append(f"Heat {heat_id} of the history cannot be read and is left out: {why}")
        return Read(tuple(entries), tuple(faults))

    def delete_all(self) -> int:
        """Delete all heats, rounds of drills and typed racks with their bytes, and return how many heats there were.

        Raises:
            HistoryFault: they may still be there.
        """
        with self._transaction() as disk:
            count = int(disk.execute("SELECT count(*) FROM heats").fetchone()[0])
            disk.execute("DELETE FROM heats")
            disk.execute("DELETE FROM rounds")
            disk.execute("DELETE FROM racks")
        with self._lock, self._told():
            self._disk.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return count

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._disk.close()

    @contextmanager
    def _transaction(self, begin: str = "BEGIN IMMEDIATE") -> Iterator[sqlite3.Connection]:
        with self._lock, self._told():
            try:
                self._disk.execute(begin)
                yield self._disk
                self._disk.execute("COMMIT")
            except BaseException:
                if self._disk.in_transaction:
                    self._disk.rollback()
                raise

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.IntegrityError as error:
            raise HistoryFault("This heat is not in the history.") from error
        except (sqlite3.Error, OverflowError, UnicodeError) as error:
            raise HistoryFault(f"The history in {self.path} cannot be used: {describe_error(error)}.") from error

    def _opened(self) -> sqlite3.Connection:
        try:
            create_private(self.path)
            disk = self._connect(self.path)
        except (OSError, sqlite3.Error) as error:
            raise HistoryFault(f"The history in {self.path} cannot be opened: {describe_error(error)}.") from error
        try:
            disk.text_factory = lambda data: data.decode(errors="replace")  # One garbled word is not the whole file.
            _check(disk, self.path)
            _prepare(disk)
            for query in (_HEATS, _LOSSES):
                disk.execute(f"EXPLAIN {query}")
        except (sqlite3.Error, UnicodeError) as error:
            disk.close()
            if _is_damage(error):
                raise _Damaged(describe_error(error)) from error
            raise HistoryFault(f"The history in {self.path} cannot be used: {describe_error(error)}.") from error
        except BaseException:
            disk.close()
            raise
        return disk

    def _set_aside(self, damage: str) -> str:
        """Rename the file and what SQLite keeps beside it, and return a sentence that says so."""
        number = 1
        while (aside := self.path.with_name(f"{self.path.name}.damaged-{number}")).exists():
            number += 1
        try:
            for ending in ("-wal", "-shm", ""):
                beside = self.path.with_name(self.path.name + ending)
                if beside.exists():
                    beside.rename(aside.with_name(aside.name + ending))
        except OSError as error:
            told = f"The history in {self.path} is damaged and cannot be set aside: {describe_error(error)}."
            raise HistoryFault(told) from error
        return f"The history cannot be used: {damage}. It was moved to {aside}, and a new one was started."


def _readable(codec: Codec[R], packed: Iterable[bytes]) -> Iterator[R]:
    for data in packed:
        with suppress(BadFrame):
            yield codec.unpack(data)


class _Damaged(Exception):
    """The file is not an intact database."""


def _is_damage(error: Exception) -> bool:
    """Say whether the file itself is at fault, not the disk, a lock or the room left.

    Our statements are sound, so where SQLite finds fault with one the tables are not what they were.
    """
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return isinstance(error, UnicodeError) or code in (
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_NOTADB,
        sqlite3.SQLITE_ERROR,
    )


def _check(disk: sqlite3.Connection, path: Path) -> None:
    """Refuse what is not ours to write to, before anything is written."""
    application, version = _pragma(disk, "application_id"), _pragma(disk, "user_version")
    tables = disk.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if application != _APPLICATION and (application or version or tables):
        raise HistoryFault(f"{path} belongs to another program; it was left as it is.")
    if version > len(MIGRATIONS):
        raise HistoryFault(
            f"The history in {path} is of version {version}; {known_versions(len(MIGRATIONS))} It was left as it is."
        )
    found = disk.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise _Damaged("it is damaged")


def _prepare(disk: sqlite3.Connection) -> None:
    """Bring the schema up to date in one transaction, and set what SQLite keeps for a connection only."""
    disk.execute("PRAGMA journal_mode = WAL")
    disk.execute("PRAGMA synchronous = FULL")
    disk.execute("PRAGMA foreign_keys = ON")
    disk.execute("PRAGMA secure_delete = ON")
    if _pragma(disk, "user_version") == len(MIGRATIONS):
        return
    disk.execute("BEGIN IMMEDIATE")
    # Another process may have done it while this one waited.
    for statements in MIGRATIONS[_pragma(disk, "user_version") :]:
        for statement in statements:
            disk.execute(statement)
    disk.execute(f"PRAGMA application_id = {_APPLICATION}")
    disk.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    disk.execute("COMMIT")


def _pragma(disk: sqlite3.Connection, name: str) -> int:
    return int(disk.execute(f"PRAGMA {name}").fetchone()[0])

"""Who sits on which chair, and everything about a table that must outlive the process.

A chair is a place at the table and stays with its person; a seat (East, South, West, North) belongs to one
heat and moves on with the deal.
"""

import hashlib
import hmac
from collections.abc import Callable
from typing import Literal, TypeVar

from server.table.bots import BIRDS
from shared.clock.group_clock import GroupClock
from shared.names import NAME_CELLS, clean_name, skeleton
from shared.records import Record
from shared.rules.drills import Laid
from shared.rules.settings import Settings
from shared.rules.wall import Stream

T = TypeVar("T")


def each(make: Callable[[int], T]) -> tuple[T, T, T, T]:
    """Return one value for each chair, made from its number."""
    return (make(0), make(1), make(2), make(3))


class Chair(Record):
    """One chair. stand_in: a bot plays for the person; left: the person gave the chair up during a heat;
    since: the first heat they played here; contribution: they are ready, and this goes into the wall;
    last_id: the last command dealt with; shows: the person lets a teacher see the rack."""

    sitter: Literal["person", "bot", "nobody"] = "nobody"
    name: str = ""
    token_hash: bytes = b""
    stand_in: bool = False
    left: bool = False
    since: int = 0
    contribution: bytes | None = None
    last_id: int = 0
    shows: bool = False

    @property
    def person(self) -> str:
        """A key that stays the person's all evening, or nothing; it tells nothing of the token."""
        return self.token_hash.hex()[:16] if self.sitter == "person" else ""

    @property
    def is_present(self) -> bool:
        """A person who plays for themselves."""
        return self.sitter == "person" and not self.stand_in


EMPTY = Chair()


class HeatHead(Record):
    """What a running heat was opened with, in chair order."""

    number: int
    east: int
    settings: Settings
    secret: bytes
    contributions: tuple[bytes, bytes, bytes, bytes]
    names: tuple[str, str, str, str]
    sitters: tuple[str, str, str, str]
    played_at: str


class Sat(Record):
    """Whose heat it was: the keys of those who sat at the table when it was dealt, in chair order; came are others
    who came to a chair while the heat ran, and see its rack as well."""

    heat: int
    people: tuple[str, str, str, str]
    came: tuple[tuple[int, str], ...] = ()

    def chairs(self, person: str) -> frozenset[int]:
        """Return the chairs whose racks a person has been shown."""
        came = {chair for chair, other in self.came if other == person}
        return frozenset(came | {chair for chair, other in enumerate(self.people) if other == person})


class TableRecord(Record):
    """A table without the events of its running heat. number counts heats; set_first is the set's first one;
    secret and east are those of the heat to come; host is a chair, or nobody has come yet. sat and closed are a
    club's: who played each heat, and that the desk has closed the table. clock is there where tiles are real."""

    id: str
    name: str
    code: str
    settings: Settings
    chairs: tuple[Chair, Chair, Chair, Chair] = (EMPTY, EMPTY, EMPTY, EMPTY)
    host: int | None = None
    phase: Literal["seating", "heat", "between", "over"] = "seating"
    number: int = 0
    set_first: int = 1
    secret: bytes = b""
    card: str = ""
    head: HeatHead | None = None
    sat: tuple[Sat, ...] = ()
    closed: bool = False
    clock: GroupClock | None = None

    def with_chair(self, chair: int, value: Chair) -> "TableRecord":
        """Return the record with one chair changed."""
        return self.with_(chairs=each(lambda other: value if other == chair else self.chairs[other]))

    def with_(self, **changes: object) -> "TableRecord":
        """Return the record with some fields changed."""
        return self.model_copy(update=changes)


def east_chair(record: TableRecord) -> int:
    """Return which chair deals the coming heat.

    The deal moves one chair to the right after every heat. A person alone at the table deals and does not
    deal in turn, as is common practice in training.
    """
    settings, turn = record.settings, record.number + 1 - record.set_first
    people = [chair for chair in range(4) if record.chairs[chair].sitter == "person"]
    if settings.first_east == "lot":
        first = Stream(record.id.encode(), f"lot {record.set_first}").below(4)
    else:
        first = int(settings.first_east) - 1
    if len(people) != 1:
        return (first + turn) % 4
    alone = people[0]
    second = alone if first != alone else (alone + 1) % 4
    return (first, second)[turn % 2]


def heat_head(record: TableRecord, played_at: str, laid: Laid | None = None) -> HeatHead:
    """Return the head of the coming heat. A repeatable deal takes no contributions; a drill has settings of its own.

    Its settings have no seed: a heat that is told must not tell the deals that follow it.
    """
    repeatable = record.settings.seed is not None
    return HeatHead(
        number=record.number + 1,
        east=-laid.seat % 4 if laid else east_chair(record),
        settings=laid.settings if laid else record.settings.unseeded(),
        secret=record.secret,
        contributions=each(lambda chair: b"" if repeatable else record.chairs[chair].contribution or b""),
        names=each(lambda chair: record.chairs[chair].name),
        sitters=each(lambda chair: record.chairs[chair].sitter),
        played_at=played_at,
    )


def bot_chair(record: TableRecord, chair: int) -> Chair:
    """Return a chair with a bot on it, named after a bird that nobody at the table is named after."""
    taken = {skeleton(other.name) for other in record.chairs}
    birds = BIRDS[chair:] + BIRDS[:chair]
    return Chair(sitter="bot", name=next(bird for bird in birds if skeleton(bird) not in taken))


def person_chair(record: TableRecord, chair: int, text: str, token: bytes, since: int) -> Chair:
    """Return a chair with a newcomer on it, the name cleaned and told apart from the names at the table."""
    name = own_name(record, chair, clean_name(text, "Guest"))
    return Chair(sitter="person", name=name, token_hash=hash_token(token), since=since)


def own_name(record: TableRecord, chair: int, name: str) -> str:
    """Return a clean name that cannot be taken for one on the other chairs: where need be with the chair's number."""
    taken = {skeleton(record.chairs[other].name) for other in range(4) if other != chair}
    # Of these at least four differ, and three names at most are taken.
    ends = ("", *(f" {chair + 1}{letter}" for letter in ("", "b", "c", "d")))
    names = (f"{clean_name(name, cells=NAME_CELLS - len(end))}{end}" for end in ends)
    return next(other for other in names if skeleton(other) not in taken)


def free_chair(record: TableRecord) -> int | None:
    """Return the chair for a newcomer: the first empty one, else the first that a bot holds, or None."""
    for sitter in ("nobody", "bot"):
        for chair in range(4):
            if record.chairs[chair].sitter == sitter:
                return chair
    return None


def hash_token(token: bytes) -> bytes:
    """Return what is kept of a token."""
    return hashlib.sha256(token).digest()


def chair_of_token(record: TableRecord, token: bytes) -> int | None:
    """Return the chair that a token opens, compared in constant time, or None."""
    wanted = hash_token(token)
    for chair in range(4):
        if hmac.compare_digest(record.chairs[chair].token_hash, wanted):
            return chair
    return None

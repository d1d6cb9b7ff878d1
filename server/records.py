"""What must outlive the process, as values: a table with its chairs and its running heat's head, an evening with its
desks, and what the coach has found.

A chair is a place at the table and stays with its person; a seat (East, South, West, North) belongs to one heat and
moves on with the deal. Decides nothing, and knows neither the store that keeps these values nor the tables that they
describe.
"""

import hashlib
from collections.abc import Callable
from typing import Literal, NamedTuple, TypeVar

from pydantic import Field, model_validator

from shared.clock.group_clock import GroupClock
from shared.measures.standings import Reviewed
from shared.records import Record
from shared.rules.players import Player, Players
from shared.rules.settings import Settings
from shared.rules.wall_round import Attempt, Round, WallKind

T = TypeVar("T")
_DESKS_KEPT = 8


def each(make: Callable[[int], T]) -> tuple[T, T, T, T]:
    """Return one value for each chair, made from its number."""
    return (make(0), make(1), make(2), make(3))


class Chair(Record):
    """One chair. stand_in: a bot plays for the person; left: the person gave the chair up during a heat;
    since: the first heat they played here; ready: for the next heat; silences: how often in this set they were silent
    when a wall was made; last_id: the last command dealt with; shows: the person lets a teacher see the rack; wish: the
    chair they would like to swap with."""

    sitter: Literal["person", "bot", "nobody"] = "nobody"
    name: str = ""
    token_hash: bytes = b""
    stand_in: bool = False
    left: bool = False
    since: int = 0
    ready: bool = False
    silences: int = 0
    last_id: int = 0
    shows: bool = False
    wish: int | None = None

    @model_validator(mode="before")
    @classmethod
    def _from_before_rounds(cls, read: object) -> object:
        """Up to store 5 a chair that was ready held its contribution to the wall."""
        if isinstance(read, dict) and "contribution" in read:
            rest = {key: value for key, value in read.items() if key != "contribution"}
            return {**rest, "ready": read["contribution"] is not None}
        return read

    @property
    def person(self) -> str:
        """A key that stays the same for a person all evening, or nothing; the token cannot be derived from it."""
        return self.token_hash.hex()[:16] if self.sitter == "person" else ""

    @property
    def is_present(self) -> bool:
        """A person who plays for themselves."""
        return self.sitter == "person" and not self.stand_in


EMPTY = Chair()


class HeatHead(Record):
    """What a running heat was opened with, in chair order; wall is how its wall was made, attempts the round's."""

    number: int
    east: int
    settings: Settings
    secret: bytes
    contributions: tuple[bytes, bytes, bytes, bytes]
    names: tuple[str, str, str, str]
    sitters: tuple[str, str, str, str]
    played_at: str
    wall: WallKind = ""
    attempts: tuple[Attempt, ...] = ()


class Sat(Record):
    """Whose heat it was: the keys of those who sat at the table when it was dealt, in chair order; came are others
    who came to a chair while the heat ran, and see its rack as well; played are all who played each chair's seat."""

    heat: int
    people: tuple[str, str, str, str]
    came: tuple[tuple[int, str], ...] = ()
    played: tuple[Players, Players, Players, Players] = ((), (), (), ())

    def chairs(self, person: str) -> frozenset[int]:
        """Return the chairs whose racks a person has been shown."""
        came = {chair for chair, other in self.came if other == person}
        return frozenset(came | {chair for chair, other in enumerate(self.people) if other == person})

    def own_chair(self, person: str, number: int) -> int | None:
        """Return the chair whose heat is a person's own: they played it, or else it was dealt to them. number is theirs
        among the table's people."""
        played = (chair for chair in range(4) if any(one.person == number > 0 for one in self.played[chair]))
        dealt = (chair for chair in range(4) if person and self.people[chair] == person)
        return next(played, next(dealt, None))

    def renamed(self, old: str, new: str) -> "Sat":
        """Return it with another key for a person."""
        came = tuple((chair, new if person == old else person) for chair, person in self.came)
        people = each(lambda chair: new if self.people[chair] == old else self.people[chair])
        return self.model_copy(update={"came": came, "people": people})

    def plus(self, chair: int, player: Player) -> "Sat":
        """Return it with who plays a chair's seat from a step on."""
        before = self.played[chair]
        if before and (before[-1].name, before[-1].person) == (player.name, player.person):
            return self
        return self.model_copy(
            update={"played": each(lambda at: (*self.played[at], player) if at == chair else self.played[at])}
        )


class Beside(Record):
    """Somebody beside a table, without a chair of it: place is their number there, above those of the chairs. waits:
    the next free chair is theirs; sees: the host lets them see the racks of those who agree."""

    token_hash: bytes
    name: str
    place: int
    waits: bool
    sees: bool = False


class TableRecord(Record):
    """A table without the events of its running heat. number counts heats; set_first is the set's first one; secret and
    east are those of the heat to come; host is a chair, or nobody has come yet. sat says who played each heat,
    people are the keys of all who ever did, the first one first. closed is a club's: the desk has closed the table.
    sent_away are hashes of tokens that stay out; played are the last heat's settings. clock is there where tiles are
    real. card is the card's text if its owner shares it, else only title and digest are kept. round is there while the
    wall of the next heat is being made. beside are people without a chair, who waits longest first; shown is the last
    heat of which somebody beside the table was shown a rack. port is where it was open last, 0 if nobody knows."""

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
    card_title: str = ""
    card_digest: str = ""
    head: HeatHead | None = None
    sat: tuple[Sat, ...] = ()
    people: tuple[str, ...] = ()
    sent_away: tuple[bytes, ...] = ()
    played: Settings | None = None
    closed: bool = False
    clock: GroupClock | None = None
    round: Round | None = None
    beside: tuple[Beside, ...] = ()
    shown: int = 0
    port: int = 0

    def number_of(self, person: str) -> int:
        """Return a person's number among all who played here, 0 for nobody among them."""
        return self.people.index(person) + 1 if person in self.people else 0

    def knowing(self, *people: str) -> "TableRecord":
        """Return the record with these people among those who played here."""
        new = (person for person in people if person and person not in self.people)
        return self.with_(people=(*self.people, *dict.fromkeys(new)))

    def renamed(self, old: str, new: str) -> "TableRecord":
        """Return the record with another key for a person: all that they played stays theirs."""
        sat = tuple(one.renamed(old, new) for one in self.sat)
        return self.with_(sat=sat, people=tuple(new if person == old else person for person in self.people))

    def sat_in(self, heat: int) -> Sat | None:
        """Return who played a heat; what an older host kept does not tell it."""
        return next((sat for sat in reversed(self.sat) if sat.heat == heat), None)

    def with_chair(self, chair: int, value: Chair) -> "TableRecord":
        """Return the record with one chair changed."""
        return self.with_(chairs=each(lambda other: value if other == chair else self.chairs[other]))

    def with_(self, **changes: object) -> "TableRecord":
        """Return the record with some fields changed."""
        return self.model_copy(update=changes)


class DeskClient(Record):
    """A desk that has said hello, and its last command that was carried out."""

    token_hash: bytes
    last_id: int = 0


class SeatKey(NamedTuple):
    """A seat (counted from East) of a heat at the table of that number."""

    table: int
    heat: int
    seat: int


class SeatReview(Record):
    """The coach's review of a seat's heat; reviewed is None if there was nothing to judge."""

    table: int
    heat: int
    seat: int = Field(ge=0, le=3)
    reviewed: Reviewed | None


class Watched(Record):
    """A teacher, and the last heat of which they may have seen racks."""

    token_hash: bytes
    name: str
    heat: int


class ClubRecord(Record):
    """An evening. opened counts the tables that ever were; closed_round is the last heat that no table plays any
    more, and whose racks may be told; waiting are people without a chair, the longest first; master is where the
    secrets of a common deal come from. A place in the standings needs ranked_from heats (0: a set's less one); wait_ms
    is how long a table waits for one person (0: for ever). watched are the teachers who were here, with the last heat
    that was running meanwhile."""

    id: str
    name: str
    code: str
    desk_code: str
    teacher_code: str
    settings: Settings
    master: bytes
    card: str = ""
    card_title: str = ""
    card_digest: str = ""
    opened: int = 0
    closed_round: int = 0
    waiting: tuple[Chair, ...] = ()
    desks: tuple[DeskClient, ...] = ()
    teacher: bool = False
    phase: Literal["open", "over"] = "open"
    ranked_from: int = 0
    wait_ms: int = 60_000
    watched: tuple[Watched, ...] = ()

    @property
    def least(self) -> int:
        """How many heats a place in the standings needs: all of a set but one, and more than one where it has more."""
        heats = self.settings.heats
        return self.ranked_from or max(heats - 1, min(heats, 2))

    def with_(self, **changes: object) -> "ClubRecord":
        """Return the record with some fields changed."""
        return self.model_copy(update=changes)

    def with_desk(self, token_hash: bytes, last_id: int) -> "ClubRecord":
        """Return the record after a command of a desk; it remembers only the latest desks."""
        others = [desk for desk in self.desks if desk.token_hash != token_hash]
        return self.with_(desks=(*others, DeskClient(token_hash=token_hash, last_id=last_id))[-_DESKS_KEPT:])

    def desk_last_id(self, token_hash: bytes) -> int:
        """Return the last command of a desk that was dealt with."""
        return next((desk.last_id for desk in self.desks if desk.token_hash == token_hash), 0)

    def without(self, token_hash: bytes) -> "ClubRecord":
        """Return the record with somebody waiting no more."""
        return self.with_(waiting=tuple(one for one in self.waiting if one.token_hash != token_hash))

    def table_id(self, number: int) -> str:
        """Return the id of a table by its number on the desk."""
        return f"{self.id}.{number}"


def hash_token(token: bytes) -> bytes:
    """Return what is kept of a token."""
    return hashlib.sha256(token).digest()

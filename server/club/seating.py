"""Who sits where on an evening of several tables: chairs, people who wait, and nobody at a deal they have seen.

The base of the club, synchronous as it is: what one input causes at tables goes into a ClubOutput. What is played,
and when, is in server.club.club.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from server.club.table import ClubTable
from server.records import Chair, ClubRecord, Watched, hash_token
from server.table.output import Joined, Output, Rejected
from shared.names import clean_name, skeleton
from shared.rules.intents import LetIn
from shared.rules.refusals import Refusal
from shared.rules.wall import Stream
from shared.wire.desk_intents import LetBack, SeatPerson, SendHome, Unseat
from shared.wire.messages import Held

MOST_WAITING = 200
MOST_WATCHED = 64
"""So many teachers are remembered."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a person is: a chair of a table, or (table 0) among those who wait."""

    table: int
    chair: int
    person: Chair


@dataclass(slots=True)
class ClubOutput:
    """What one input caused, by table; sent_home are people to send home: they get a sentence and are closed."""

    tables: dict[int, list[Output]] = field(default_factory=dict)
    sent_home: list[bytes] = field(default_factory=list)

    def add(self, table: int, output: Output) -> None:
        """Take in what happened at a table."""
        self.tables.setdefault(table, []).append(output)


@dataclass(frozen=True, slots=True)
class Regained:
    """What a table answers to a machine that asks for somebody's seat; before is that person's key until then."""

    table: int
    before: str
    answer: Joined | Rejected


class ClubSeating:
    """Tables by their numbers, and everybody who has come; random_bytes(n) gives fresh random bytes, for lots."""

    def __init__(self, record: ClubRecord, random_bytes: Callable[[int], bytes]) -> None:
        self.record = record
        self.tables: dict[int, ClubTable] = {}
        self.teachers: frozenset[bytes] = frozenset()
        """The hashes of the tokens of the teachers who are here."""
        self._random_bytes = random_bytes

    @property
    def open_tables(self) -> dict[int, ClubTable]:
        """The tables that the desk has not closed."""
        return {number: table for number, table in self.tables.items() if not table.record.closed}

    def places(self) -> Iterator[Place]:
        """Yield everybody who is here, those at tables first."""
        for number, table in self.open_tables.items():
            for chair in table.people:
                yield Place(number, chair, table.record.chairs[chair])
        for person in self.record.waiting:
            yield Place(0, 0, person)

    def find(self, key: str) -> Place | None:
        """Return where a person is, by the key under which the desk sees them."""
        return next((place for place in self.places() if place.person.person == key), None)

    def place_of(self, token: bytes) -> Place | None:
        """Return where the holder of a token is."""
        return self.find(person_of(token))

    def free_place(self, newcomer: Chair) -> tuple[int, int] | None:
        """Return the first free chair for somebody: an empty one, else a bot's, at best one that plays no heat now;
        none where they have seen another rack of the deal."""
        ranked = [
            (rank, number, chair)
            for number, table in self.open_tables.items()
            for chair in range(4)
            if (rank := table.freedom(chair)) is not None and table.may_sit(newcomer, chair)
        ]
        return min(ranked)[1:] if ranked else None

    def wait(self, name: str, token: bytes) -> None:
        """Let somebody wait for a chair; the shell has looked for one."""
        if len(self.record.waiting) < MOST_WAITING:
            waits = Chair(sitter="person", name=clean_name(name, "Guest"), token_hash=hash_token(token))
            self.record = self.record.with_(waiting=(*self.record.waiting, waits))

    def kept_for(self, name: str) -> int | None:
        """Return the table that keeps a seat for somebody of this name, whose line is down."""
        return next((number for number, table in self.open_tables.items() if table.keeps_seat_of(name)), None)

    def regain(self, name: str, token: bytes, held: Held, now_ms: int, out: ClubOutput) -> Regained | None:
        """Ask for the seat that is kept for somebody of this name, if there is one. Whoever has been let in is known at
        every table by their new key; a teacher is not let in."""
        number = self.kept_for(name)
        if number is None:
            return None
        table, asking = self.tables[number], Chair(sitter="person", name=name, token_hash=hash_token(token))
        if self._has_watched(asking, table.heat is not None, table.reached + 1):
            return None
        before = table.record.chairs
        answer = table.join(name, token, now_ms, held)
        out.add(number, answer.output)
        if isinstance(answer, Rejected):
            return Regained(number, "", answer)
        old = before[answer.chair].person
        for table in self.tables.values():
            table.know_as(old, person_of(token))
        return Regained(number, old, answer)

    def is_played_elsewhere(self, token: bytes) -> bool:
        """Say whether a machine has lost its person to another one, whose line is up."""
        people = {table.replaced(hash_token(token)) for table in self.tables.values()}
        places = (place for place in self.places() if place.table and place.person.person in people)
        return any(place.chair in self.tables[place.table].connected for place in places)

    def _take_in(self, number: int, table: ClubTable) -> None:
        self.tables[number] = table
        table.may_sit = lambda newcomer, chair: not self._has_seen(newcomer, number, chair)

    def _move(self, intent: SeatPerson | Unseat | SendHome, now_ms: int, out: ClubOutput) -> Refusal | None:
        if isinstance(intent, SeatPerson):
            return self._seat(intent, now_ms, out)
        return self._take_away(intent, now_ms, out)

    def _let_back(self, intent: LetBack, now_ms: int, out: ClubOutput) -> Refusal | None:
        place = self.find(intent.person)
        if place is None or not place.table:
            return _nobody()
        answer = self.tables[place.table].desk(LetIn(chair=place.chair), now_ms)
        if isinstance(answer, Refusal):
            return answer
        out.add(place.table, answer)
        return None

    def _seat(self, intent: SeatPerson, now_ms: int, out: ClubOutput) -> Refusal | None:
        place, table = self.find(intent.person), self.open_tables.get(intent.table)
        if place is None:
            return _nobody()
        if table is None:
            return no_table(intent.table)
        if (place.table, place.chair) == (intent.table, intent.chair):
            return Refusal("not now", f"{place.person.name} sits there already.")
        other = table.record.chairs[intent.chair] if intent.chair in table.people else None
        refusal = self._has_seen(place.person, intent.table, intent.chair)
        if other and place.table and not refusal:
            refusal = self._has_seen(other, place.table, place.chair)
        if refusal:
            return refusal
        self._lift(place, now_ms, out)
        if other:
            self._lift(Place(intent.table, intent.chair, other), now_ms, out)
        out.add(intent.table, table.sit(intent.chair, place.person, now_ms))
        if other and place.table:
            out.add(place.table, self.tables[place.table].sit(place.chair, other, now_ms))
        elif other:
            self._let_wait(other)
        return None

    def _has_seen(self, person: Chair, number: int, chair: int) -> Refusal | None:
        """Nobody plays a deal they have seen from another chair: in a shared deal they would know other racks."""
        table = self.tables[number]
        coming, name = table.reached + 1, table.record.name
        if refusal := self._has_watched(person, table.heat is not None, coming):
            return refusal
        if table.sees_another(person.person, chair):
            return Refusal("seen", f"{person.name} was dealt another rack of the heat that runs at {name}.")
        seen = max((other.seen(person.person) for at, other in self.tables.items() if at != number), default=0)
        if self.record.settings.same_deal and seen >= coming:
            return Refusal("seen", f"{person.name} has seen the deal of heat {coming}, which {name} has yet to finish.")
        return None

    def _has_watched(self, person: Chair, is_running: bool, coming: int) -> Refusal | None:
        """A teacher sits at no table; and who was one, not where a heat is to be played that they may have seen.

        A person is known by their token or, since another code means another token, by their name.
        """
        for one in self.record.watched:
            if one.token_hash != person.token_hash and skeleton(one.name) != skeleton(person.name):
                continue
            if one.token_hash in self.teachers:
                return Refusal("seen", f"{person.name} is here as a teacher, and a teacher sits at no table.")
            if one.heat >= coming and (is_running or self.record.settings.same_deal):
                return Refusal("seen", f"{person.name} was a teacher in heat {coming} and may have seen racks of it.")
        return None

    def _note_teachers(self, here: Mapping[bytes, str]) -> None:
        """Take note of the teachers who are here, by their names, and of the heat that who came or went has seen."""
        reached = max((table.record.number for table in self.tables.values()), default=0)
        before = {one.token_hash: one.name for one in self.record.watched}
        for token_hash in here.keys() ^ self.teachers:
            others = tuple(one for one in self.record.watched if one.token_hash != token_hash)
            name = here.get(token_hash, before.get(token_hash, ""))
            watched = Watched(token_hash=token_hash, name=name, heat=reached)
            self.record = self.record.with_(watched=(*others, watched)[-MOST_WATCHED:])
        self.teachers = frozenset(here)

    def _take_away(self, intent: Unseat | SendHome, now_ms: int, out: ClubOutput) -> Refusal | None:
        place = self.find(intent.person)
        if place is None:
            return _nobody()
        if isinstance(intent, SendHome):
            self._lift(place, now_ms, out)
            out.sent_home.append(place.person.token_hash)
        elif place.table:
            self._lift(place, now_ms, out)
            self._let_wait(place.person)
        else:
            return Refusal("not now", f"{place.person.name} waits already.")
        return None

    def _lift(self, place: Place, now_ms: int, out: ClubOutput) -> None:
        if place.table:
            out.add(place.table, self.tables[place.table].take_up(place.chair, now_ms)[1])
        else:
            self.record = self.record.without(place.person.token_hash)

    def _let_wait(self, person: Chair) -> None:
        waits = person.model_copy(update={"stand_in": False, "left": False, "ready": False})
        self.record = self.record.with_(waiting=(*self.record.waiting, waits))

    def _draw_lots(self, now_ms: int, out: ClubOutput) -> Refusal | None:
        tables = self.open_tables
        if self._in_heat(tables):
            return Refusal("not now", f"A heat is running at {self._in_heat(tables)}; lots are drawn between heats.")
        if self.record.settings.same_deal and len({table.record.number for table in tables.values()}) > 1:
            return Refusal("seen", "Not every table has played the same heats; lots are drawn when they have.")
        # All tables play the same heat next; people who saw its deal at a closed table keep waiting.
        numbers = list(tables)
        places = tuple(place for place in self.places() if tables and not self._has_seen(place.person, numbers[0], 0))
        if not places:
            return Refusal("not now", "There is nobody to seat.")
        drawn = Stream(self._random_bytes(32), "lots").shuffled(places)
        for place in places:
            self._lift(place, now_ms, out)
        for count, place in enumerate(drawn):
            chair, at = divmod(count, len(numbers))
            if chair < 4:
                out.add(numbers[at], tables[numbers[at]].sit(chair, place.person, now_ms))
            else:
                self._let_wait(place.person)
        return None

    def _in_heat(self, tables: dict[int, ClubTable]) -> str:
        """Return the name of a table that plays a heat, or nothing."""
        return next((table.record.name for table in tables.values() if table.heat), "")


def person_of(token: bytes) -> str:
    """Return the key of the person who has a token."""
    return Chair(sitter="person", token_hash=hash_token(token)).person


def no_table(number: int) -> Refusal:
    return Refusal("no such table", f"There is no open table {number}.")


def _nobody() -> Refusal:
    return Refusal("no such person", "This person is not here any more.")

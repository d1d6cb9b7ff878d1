"""An evening of several tables: who sits where, starts and pauses for all, the deal they share, the standings.

Synchronous like a table: messages and times go in, a ClubOutput comes out, and next_deadline_ms says when to call
tick. It acts on its tables directly, so that the shell must let nobody else at them meanwhile, must store all that
an output says in one step, and must go back to the checkpoint if it cannot. It knows no sockets and draws no dice.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial

from server.chairs import Chair, TableRecord, hash_token
from server.club_record import MOST_WAITING, ClubRecord, SeatKey, SeatReview, shared_secret
from server.club_results import Results
from server.club_table import ClubNews, ClubTable
from server.codes import make_code
from server.kept import KeptHeat
from server.output import Output
from server.seating import Checkpoint
from shared.desk_intents import (
    CallOff,
    CloseTable,
    DeskIntent,
    EndEvening,
    GiveTime,
    HoldClocks,
    LetTeacherSee,
    OpenTable,
    PlayBy,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
)
from shared.intents import ChangeSettings, Extend, NewSet, Pause, Resume, SeatBot, Start, TableIntent
from shared.messages import DeskCommand, Done, Refused
from shared.names import clean_name
from shared.refusals import Refusal
from shared.standings import Played, standings
from shared.wall import Stream

MakeTable = Callable[[TableRecord], ClubTable]
MOST_TABLES = 60
_TABLE_CELLS = 16


@dataclass(frozen=True, slots=True)
class Place:
    """Where a person is: a chair of a table, or (table 0) among those who wait."""

    table: int
    chair: int
    person: Chair


@dataclass(slots=True)
class ClubOutput:
    """What one input caused, by table; sent_home are people who are to be told so and closed."""

    tables: dict[int, list[Output]] = field(default_factory=dict)
    sent_home: list[bytes] = field(default_factory=list)

    def add(self, table: int, output: Output) -> None:
        """Take in what happened at a table."""
        self.tables.setdefault(table, []).append(output)


ClubCheckpoint = tuple[ClubRecord, dict[int, ClubTable], dict[int, Checkpoint], int | None, dict[int, ClubNews]]


class Club:
    """The evening. Tables have numbers from 1 on, in the order in which they were opened."""

    def __init__(self, record: ClubRecord, make_table: MakeTable, random_bytes: Callable[[int], bytes]) -> None:
        self.record = record
        self.tables: dict[int, ClubTable] = {}
        self.starts_at_ms: int | None = None
        self.make_table = make_table
        self._random_bytes = random_bytes
        self.results = Results()

    # ---- what the shell asks

    @property
    def open_tables(self) -> dict[int, ClubTable]:
        """The tables that the desk has not closed."""
        return {number: table for number, table in self.tables.items() if not table.record.closed}

    def played(self) -> tuple[Played, ...]:
        """Return every result of the evening."""
        return self.results.played()

    def left_to_look_at(self) -> tuple[SeatKey, ...]:
        """Return the people's seats that the coach has yet to look at.

        Only of heats whose racks may be seen: of any other nothing is worked out, so that nothing can tell of it, be
        it only by the time that it takes.
        """
        return self.results.left(lambda number, kept: self.tables[number].has_told(kept))

    def checkpoint(self) -> ClubCheckpoint:
        """Return what to go back to if an output could not be stored."""
        tables = {number: table.checkpoint() for number, table in self.tables.items()}
        news = {number: table.news for number, table in self.tables.items()}
        return self.record, dict(self.tables), tables, self.starts_at_ms, news

    def go_back(self, before: ClubCheckpoint, connected: Callable[[int], Iterable[int]]) -> None:
        """Undo everything since the checkpoint; connected says which chairs of a table have a line."""
        self.record, self.tables, checkpoints, self.starts_at_ms, news = before
        for number, table in self.tables.items():
            table.go_back(checkpoints[number], connected(number))
            table.news = news[number]

    def restore(
        self, tables: dict[int, ClubTable], earlier: Iterable[tuple[int, KeptHeat]], reviews: Iterable[SeatReview]
    ) -> ClubOutput:
        """Take over tables that were read from disk and have been restored themselves, with the heats of their sets
        before this one and all that the coach has found."""
        for number, table in sorted(tables.items()):
            self._take_in(number, table)
        for number, kept in earlier:
            self.results.add(number, kept, tables[number].record)
        self._add_results()
        for review in reviews:
            self.results.take(review)
        return self.heat_over()

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
        return self.find(Chair(sitter="person", token_hash=hash_token(token)).person)

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
            self.record = self.record.but(waiting=(*self.record.waiting, waits))

    def command(self, desk: bytes, command: DeskCommand, now_ms: int) -> tuple[Done | Refused, ClubOutput]:
        """Deal with a command of the desk whose token has this hash; one dealt with before is not done again."""
        out = ClubOutput()
        if command.id <= self.record.desk_last_id(desk):
            text = "This was dealt with before; the desk shows how it stands."
            return Refused(id=command.id, code="repeated", text=text, late_ms=None), out
        refusal = self.obey(command.intent, now_ms, out)
        self.record = self.record.with_desk(desk, command.id)
        if refusal:
            return Refused(id=command.id, code=refusal.code, text=refusal.text, late_ms=None), out
        self._tell_news(out)
        return Done(id=command.id), out

    def heat_over(self) -> ClubOutput:
        """Take note of the heats that ended and of what the coach found; what may be told is told at all tables."""
        out = ClubOutput()
        self._add_results()
        self._close_rounds(out)
        self._tell_news(out)
        return out

    def tick(self, now_ms: int) -> ClubOutput:
        """Do what time alone brings about: the start that a countdown led to."""
        out = ClubOutput()
        if self.starts_at_ms is not None and self.starts_at_ms <= now_ms:
            self.starts_at_ms = None
            self._start(now_ms, out)
            self._tell_news(out)
        return out

    def next_deadline_ms(self) -> int | None:
        """Return when tick has something to do."""
        return self.starts_at_ms

    # ---- what the desk asks

    def obey(self, intent: DeskIntent, now_ms: int, out: ClubOutput) -> Refusal | None:
        """Do what a desk asks; out takes what it caused."""
        if self.record.phase == "over":
            return Refusal("ended", "The evening is over.")
        match intent:
            case OpenTable():
                return self._open(intent.name, out)
            case RenameTable() | CloseTable():
                table = self.open_tables.get(intent.table)
                if table is None:
                    return _no_table(intent.table)
                if isinstance(intent, CloseTable):
                    return self._close(intent.table, table, now_ms, out)
                out.add(intent.table, table.rename(self._table_name(intent.name, intent.table)))
            case SeatPerson():
                return self._seat(intent, now_ms, out)
            case Unseat() | SendHome():
                return self._take_away(intent, now_ms, out)
            case SeatAtRandom():
                return self._draw_lots(now_ms, out)
            case SeatBots() | HoldClocks() | RunClocks() | GiveTime():
                return self._at_tables(intent, now_ms, out)
            case StartAll() | CallOff():
                return self._count_down(intent, now_ms, out)
            case PlayBy():
                return self._play_by(intent, now_ms, out)
            case LetTeacherSee():
                code = make_code(self._random_bytes(16)) if intent.on else ""
                self.record = self.record.but(teacher=intent.on, teacher_code=code)
                for number, table in self.open_tables.items():
                    out.add(number, table.forget_agreements())
            case EndEvening():
                return self._end(out)
        return None

    def _open(self, name: str, out: ClubOutput) -> Refusal | None:
        if len(self.open_tables) >= MOST_TABLES:
            return Refusal("not now", f"There are {MOST_TABLES} tables already.")
        number = self.record.opened + 1
        # A new table joins in with the next heat: the deals before it are others' secrets or known to all.
        reached = max((table.record.number for table in self.tables.values()), default=0)
        record = TableRecord(
            id=self.record.table_id(number),
            name=self._table_name(name, number),
            code=make_code(self._random_bytes(16)),
            settings=self.record.settings,
            card=self.record.card,
            number=reached,
            set_first=reached + 1,
        )
        self._take_in(number, self.make_table(record))
        self.record = self.record.but(opened=number)
        out.add(number, Output())
        return None

    def _take_in(self, number: int, table: ClubTable) -> None:
        self.tables[number] = table
        table.may_sit = lambda newcomer, chair: not self._has_seen(newcomer, number, chair)

    def _table_name(self, text: str, number: int) -> str:
        name = clean_name(text, f"Table {number}", _TABLE_CELLS)
        taken = {table.record.name for other, table in self.open_tables.items() if other != number}
        return f"{clean_name(name, cells=_TABLE_CELLS - 4)} {number}" if name in taken else name

    def _close(self, number: int, table: ClubTable, now_ms: int, out: ClubOutput) -> Refusal | None:
        for chair in table.people:
            person, output = table.take_up(chair, now_ms)
            out.add(number, output)
            self._let_wait(person)
        out.add(number, table.close())
        self._close_rounds(out)
        return None

    def _seat(self, intent: SeatPerson, now_ms: int, out: ClubOutput) -> Refusal | None:
        place, table = self.find(intent.person), self.open_tables.get(intent.table)
        if place is None:
            return _nobody()
        if table is None:
            return _no_table(intent.table)
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
        self._close_rounds(out)
        return None

    def _has_seen(self, person: Chair, number: int, chair: int) -> Refusal | None:
        """Nobody plays a deal that they have seen from another chair: in a common deal that would tell them racks."""
        table = self.tables[number]
        coming, name = table.reached + 1, table.record.name
        if table.sees_another(person.person, chair):
            return Refusal("seen", f"{person.name} was dealt another rack of the heat that runs at {name}.")
        seen = max((other.seen(person.person) for at, other in self.tables.items() if at != number), default=0)
        if self.record.settings.same_deal and seen >= coming:
            return Refusal("seen", f"{person.name} has seen the deal of heat {coming}, which {name} has yet to finish.")
        return None

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
        self._close_rounds(out)
        return None

    def _lift(self, place: Place, now_ms: int, out: ClubOutput) -> None:
        if place.table:
            out.add(place.table, self.tables[place.table].take_up(place.chair, now_ms)[1])
        else:
            self.record = self.record.without(place.person.token_hash)

    def _let_wait(self, person: Chair) -> None:
        waits = person.model_copy(update={"stand_in": False, "left": False, "contribution": None})
        self.record = self.record.but(waiting=(*self.record.waiting, waits))

    def _draw_lots(self, now_ms: int, out: ClubOutput) -> Refusal | None:
        tables = self.open_tables
        if self._in_heat(tables):
            return Refusal("not now", f"A heat is running at {self._in_heat(tables)}; lots are drawn between heats.")
        if self.record.settings.same_deal and len({table.record.number for table in tables.values()}) > 1:
            return Refusal("seen", "Not every table has played the same heats; lots are drawn when they have.")
        # All tables play the same heat next; who saw its deal at a table that was closed goes on waiting.
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

    def _at_tables(
        self, intent: SeatBots | HoldClocks | RunClocks | GiveTime, now_ms: int, out: ClubOutput
    ) -> Refusal | None:
        tables = self.open_tables
        if intent.table:
            if intent.table not in tables:
                return _no_table(intent.table)
            tables = {intent.table: tables[intent.table]}
        refusals, done = list[Refusal](), 0
        for number, table in tables.items():
            for asked in _asked_of(intent, table):
                answer = table.desk(asked, now_ms)
                if isinstance(answer, Refusal):
                    refusals.append(answer)
                else:
                    done += 1
                    out.add(number, answer)
        if done:
            return None
        return refusals[0] if refusals else Refusal("not now", "There is no empty chair.")

    def _count_down(self, intent: StartAll | CallOff, now_ms: int, out: ClubOutput) -> Refusal | None:
        if isinstance(intent, CallOff):
            if self.starts_at_ms is None:
                return Refusal("not now", "No countdown is running.")
            self.starts_at_ms = None
            return None
        if not self._startable():
            return Refusal("not now", "No table has people and no heat running.")
        self.starts_at_ms = now_ms + intent.in_ms if intent.in_ms else None
        if not intent.in_ms:
            self._start(now_ms, out)
        return None

    def _startable(self) -> dict[int, ClubTable]:
        """Return the tables that can start; those that finished their set only when no other has heats left."""
        idle = {number: table for number, table in self.open_tables.items() if table.people and not table.heat}
        left = {number: table for number, table in idle.items() if table.record.phase != "over"}
        return left or ({} if self._in_heat(self.open_tables) else idle)

    def _start(self, now_ms: int, out: ClubOutput) -> None:
        for number, table in self._startable().items():
            asked: tuple[TableIntent, ...] = (NewSet(), Start()) if table.record.phase == "over" else (Start(),)
            for intent in asked:
                answer = table.desk(intent, now_ms)
                if isinstance(answer, Output):
                    out.add(number, answer)

    def _play_by(self, intent: PlayBy, now_ms: int, out: ClubOutput) -> Refusal | None:
        tables = self.open_tables
        if intent.settings.same_deal or self.record.settings.same_deal:
            if self._in_heat(tables):
                return Refusal("not now", f"All share a deal, and a heat is running at {self._in_heat(tables)}.")
            if len({table.record.number for table in tables.values() if table.people}) > 1:
                return Refusal("not now", "All share a deal, and not every table has finished it.")
        self.record = self.record.but(settings=intent.settings)
        for number, table in tables.items():
            answer = table.desk(ChangeSettings(settings=intent.settings), now_ms)
            assert isinstance(answer, Output)
            out.add(number, answer)
        return None

    def _end(self, out: ClubOutput) -> Refusal | None:
        if self._in_heat(self.open_tables):
            return Refusal("not now", f"A heat is running at {self._in_heat(self.open_tables)}: wait, or close it.")
        self.starts_at_ms = None
        last = max((table.record.number for table in self.tables.values()), default=0)
        self.record = self.record.but(phase="over", closed_round=last)
        for number, table in self.open_tables.items():
            out.add(number, table.end())
        return None

    # ---- the deal they share

    def _add_results(self) -> None:
        for number, table in self.tables.items():
            for kept in table.finished:
                self.results.add(number, kept, table.record)

    def _close_rounds(self, out: ClubOutput) -> None:
        """Take note of the heats that no table plays any more; who has not begun them cannot play them later."""
        tables = self.open_tables
        through = [table.reached for table in tables.values() if table.people or table.heat]
        closed = min(through) if through else max((table.reached for table in self.tables.values()), default=0)
        if closed <= self.record.closed_round:
            return
        self.record = self.record.but(closed_round=closed)
        for number, table in tables.items():
            if table.record.number < closed:
                out.add(number, table.skip_to(closed))

    def _tell_news(self, out: ClubOutput) -> None:
        closed, tables = self.record.closed_round, self.open_tables
        same_deal = self.record.settings.same_deal
        counted = [one for one in self.played() if one.heat <= closed or not same_deal]
        told = standings(counted)
        playing = sum(table.reached <= closed for table in tables.values() if table.people or table.heat)
        for number, table in self.tables.items():
            last = table.finished[-1] if table.finished else None
            is_told = last is not None and table.opens(last) and last.settings.same_deal and last.number <= closed
            news = ClubNews(
                evening=self.record.name,
                starts_at_ms=self.starts_at_ms,
                closed_round=closed,
                still_playing=playing if same_deal else 0,
                teacher=self.record.teacher,
                standings=told,
                elsewhere_heat=last.number if last and is_told else 0,
                elsewhere=self.results.elsewhere(number, last.number) if last and is_told else ((), (), (), ()),
            )
            if news != table.news:
                out.add(number, table.hear_news(news))

    def _in_heat(self, tables: dict[int, ClubTable]) -> str:
        """Return the name of a table that plays a heat, or nothing."""
        return next((table.record.name for table in tables.values() if table.heat), "")


def _asked_of(intent: SeatBots | HoldClocks | RunClocks | GiveTime, table: ClubTable) -> tuple[TableIntent, ...]:
    match intent:
        case SeatBots():
            return tuple(SeatBot(chair=chair) for chair in range(4) if table.record.chairs[chair].sitter == "nobody")
        case HoldClocks():
            return (Pause(),)
        case RunClocks():
            return (Resume(),)
        case GiveTime():
            return (Extend(by_ms=intent.by_ms),)


def _no_table(number: int) -> Refusal:
    return Refusal("no such table", f"There is no open table {number}.")


def _nobody() -> Refusal:
    return Refusal("no such person", "This person is not here any more.")


def new_club(record: ClubRecord, random_bytes: Callable[[int], bytes], wall_time: Callable[[], str]) -> Club:
    """Return an evening whose tables draw on these random bytes and this calendar; the tables come later."""

    def make_table(table: TableRecord) -> ClubTable:
        return ClubTable(table, random_bytes, wall_time, partial(shared_secret, record.master))

    return Club(record, make_table, random_bytes)

"""An evening of several tables: starts and pauses for all, the deal they share, the standings. Who sits where is in
server.club.seating.

Synchronous like a table: messages and times go in, a ClubOutput comes out, and next_deadline_ms says when to call
tick. It acts on its tables directly, so the shell must keep others away from them meanwhile, must store all that
an output says in one step, and must go back to the checkpoint if it cannot. It knows no sockets and draws no dice.
"""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from functools import partial

from server.club.results import Results
from server.club.seating import ClubOutput, ClubSeating, no_table
from server.club.table import ClubNews, ClubTable
from server.kept import KeptHeat
from server.net.codes import make_code
from server.records import ClubRecord, SeatKey, SeatReview, TableRecord
from server.table.output import Output
from server.table.seating import Checkpoint
from server.table.walling import BEING_MADE
from shared.measures.standings import Played, standings
from shared.names import clean_name, own_name
from shared.rules.intents import ChangeSettings, Extend, NewSet, Pause, Resume, SeatBot, Start, TableIntent
from shared.rules.refusals import Refusal
from shared.rules.settings import Settings
from shared.rules.wall import SECRET_BYTES, seeded_secret
from shared.wire.desk_intents import (
    MOST_TABLES,
    CallOff,
    CloseTable,
    DeskIntent,
    EndEvening,
    GiveTime,
    HoldClocks,
    LetBack,
    LetTeacherSee,
    OpenTable,
    PlayBy,
    RankFrom,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
    WaitFor,
)
from shared.wire.messages import DeskCommand, Done, Refused

MakeTable = Callable[[TableRecord], ClubTable]
_TABLE_CELLS = 16


ClubCheckpoint = tuple[
    ClubRecord, dict[int, ClubTable], dict[int, Checkpoint], int | None, dict[int, ClubNews], frozenset[bytes]
]


class Club(ClubSeating):
    """The evening. Tables have numbers from 1 on, in the order in which they were opened."""

    def __init__(self, record: ClubRecord, make_table: MakeTable, random_bytes: Callable[[int], bytes]) -> None:
        super().__init__(record, random_bytes)
        self.starts_at_ms: int | None = None
        self.make_table = make_table
        self.results = Results()
        self.progress: Callable[[], tuple[int, int]] = lambda: (0, 0)
        """At how many seats the coach has looked, and of how many; there may be none."""
        self.standings = standings(())
        """Those that may be told now."""

    # ---- what the shell asks

    def played(self) -> tuple[Played, ...]:
        """Return every result of the evening."""
        return self.results.played()

    def own_name(self, text: str, newcomer: str) -> str:
        """Return a clean name for a newcomer by their key, one that nobody else has or had this evening: the standings
        know people by it."""
        others = {place.person.name for place in self.places()}
        others |= {one.name for one in self.played() if one.person not in ("", newcomer)}
        return own_name(clean_name(text, "Guest"), others)

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
        return self.record, dict(self.tables), tables, self.starts_at_ms, news, self.teachers

    def go_back(self, before: ClubCheckpoint, connected: Callable[[int], Iterable[int]]) -> None:
        """Undo everything since the checkpoint; connected says which chairs of a table have a line."""
        self.record, self.tables, checkpoints, self.starts_at_ms, news, self.teachers = before
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
        # Nobody knows how long the teachers stayed who were here.
        self.teachers = frozenset(one.token_hash for one in self.record.watched)
        return self.teachers_are({})

    def command(self, desk: bytes, command: DeskCommand, now_ms: int) -> tuple[Done | Refused, ClubOutput]:
        """Carry out a command of the desk whose token has this hash; a repeated one is not done again."""
        out = ClubOutput()
        if command.id <= self.record.desk_last_id(desk):
            text = "This was done before; the desk shows the result."
            return Refused(id=command.id, code="repeated", text=text, late_ms=None), out
        refusal = self.obey(command.intent, now_ms, out)
        self.record = self.record.with_desk(desk, command.id)
        if refusal:
            return Refused(id=command.id, code=refusal.code, text=refusal.text, late_ms=None), out
        self.tell_news(out)
        return Done(id=command.id), out

    def heat_over(self) -> ClubOutput:
        """Take note of the heats that ended and of what the coach found; what may be told is told at all tables."""
        out = ClubOutput()
        self._add_results()
        self._close_rounds(out)
        self.tell_news(out)
        return out

    def teachers_are(self, here: Mapping[bytes, str]) -> ClubOutput:
        """Take note of the teachers who are here: the hashes of their tokens, with their names."""
        self._note_teachers(here)
        return self.heat_over()

    def tick(self, now_ms: int) -> ClubOutput:
        """Do what time alone brings about: the start that a countdown led to."""
        out = ClubOutput()
        if self.starts_at_ms is not None and self.starts_at_ms <= now_ms:
            self.starts_at_ms = None
            self._start(now_ms, out)
            self.tell_news(out)
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
                    return no_table(intent.table)
                if isinstance(intent, CloseTable):
                    return self._close(intent.table, table, now_ms, out)
                out.add(intent.table, table.rename(self._table_name(intent.name, intent.table)))
            case SeatPerson() | Unseat() | SendHome():
                if refusal := self._move(intent, now_ms, out):
                    return refusal
                self._close_rounds(out)
            case LetBack():
                return self._let_back(intent, now_ms, out)
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
                self.record = self.record.with_(teacher=intent.on, teacher_code=code)
                for number, table in self.open_tables.items():
                    out.add(number, table.forget_agreements())
            case RankFrom():
                self.record = self.record.with_(ranked_from=intent.heats)
            case WaitFor():
                self.record = self.record.with_(wait_ms=intent.ms)
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
            code="",  # people come in with the evening's code
            settings=self.record.settings,
            card=self.record.card,
            card_title=self.record.card_title,
            card_digest=self.record.card_digest,
            number=reached,
            set_first=reached + 1,
        )
        self._take_in(number, self.make_table(record))
        self.record = self.record.with_(opened=number)
        out.add(number, Output())
        return None

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

    def _at_tables(
        self, intent: SeatBots | HoldClocks | RunClocks | GiveTime, now_ms: int, out: ClubOutput
    ) -> Refusal | None:
        tables = self.open_tables
        if intent.table:
            if intent.table not in tables:
                return no_table(intent.table)
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
        if any(table.record.round for table in tables.values()):
            return BEING_MADE
        if intent.settings.same_deal or self.record.settings.same_deal:
            if self._in_heat(tables):
                return Refusal("not now", f"All tables share a deal, and a heat is running at {self._in_heat(tables)}.")
            if len({table.record.number for table in tables.values() if table.people}) > 1:
                return Refusal("not now", "All tables share a deal, and not every table has finished it.")
        before, self.record = self.record, self.record.with_(settings=intent.settings)
        seated = (place for place in self.places() if place.table and intent.settings.same_deal)
        if refusal := next(filter(None, (self._has_seen(at.person, at.table, at.chair) for at in seated)), None):
            self.record = before
            return refusal
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
        self.record = self.record.with_(phase="over", closed_round=last)
        for number, table in self.open_tables.items():
            out.add(number, table.end())
        return None

    # ---- the deal they share

    def _add_results(self) -> None:
        for number, table in self.tables.items():
            for kept in table.finished:
                self.results.add(number, kept, table.record)

    def _close_rounds(self, out: ClubOutput) -> None:
        """Take note of the heats that have a result and that no table plays any more; who has not begun them cannot
        play them later."""
        tables = self.open_tables
        closed = min((self.results.last, *(table.reached for table in tables.values() if table.plays)))
        if closed <= self.record.closed_round:
            return
        self.record = self.record.with_(closed_round=closed)
        for number, table in tables.items():
            if table.record.number < closed:
                out.add(number, table.skip_to(closed))

    def tell_news(self, out: ClubOutput) -> None:
        """Tell every table what it may know of the club; out takes what that caused."""
        closed, tables = self.record.closed_round, self.open_tables
        same_deal = self.record.settings.same_deal
        counted = [one for one in self.played() if one.heat <= closed or not same_deal]
        self.standings = standings(counted, self.record.least)
        looked = self.progress()
        playing = sum(table.reached <= closed for table in tables.values() if table.plays)
        for number, table in self.tables.items():
            last = table.finished[-1] if table.finished else None
            is_told = last is not None and table.opens(last) and last.settings.same_deal and last.number <= closed
            news = ClubNews(
                evening=self.record.name,
                number=number,
                over=self.record.phase == "over",
                wait_ms=self.record.wait_ms,
                starts_at_ms=self.starts_at_ms,
                closed_round=closed,
                still_playing=playing if same_deal else 0,
                teacher=self.record.teacher,
                watching=bool(self.teachers),
                standings=self.standings,
                looked=looked,
                elsewhere_heat=last.number if last and is_told else 0,
                elsewhere=self.results.elsewhere(number, last.number) if last and is_told else ((), (), (), ()),
            )
            if news != table.news:
                out.add(number, table.hear_news(news))


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


def new_club(
    record: ClubRecord, random_bytes: Callable[[int], bytes], wall_time: Callable[[], str], own_card: str = ""
) -> Club:
    """Return an evening whose tables draw on these random bytes and this calendar; the tables come later.

    own_card is the text of a card that its owner does not share.
    """

    def make_table(table: TableRecord) -> ClubTable:
        return ClubTable(table, random_bytes, wall_time, partial(shared_secret, record.master), own_card)

    return Club(record, make_table, random_bytes)


def shared_secret(master: bytes, settings: Settings, heat: int) -> bytes:
    """Return the secret of a heat's wall that all tables share; knowing one reveals nothing about the others."""
    if settings.seed is not None:
        return seeded_secret(settings.seed, heat)
    secret = hashlib.sha256(b"racktempo round\0" + master + heat.to_bytes(4, "big")).digest()
    assert len(secret) == SECRET_BYTES
    return secret

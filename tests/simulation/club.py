"""One evening of a club: tables that share a deal or do not, a desk that moves people about, and the same faults.

The witness of single tables looks at each table; what only a club can do wrong is looked for here.
"""

import asyncio
import re
from collections import Counter
from collections.abc import Callable, Coroutine
from random import Random
from typing import TypeVar

from server.admission import Admission
from server.clock import now_ms
from server.club.club import new_club
from server.club.keeper import ClubKeeper
from server.records import Chair, ClubRecord, TableRecord, hash_token
from server.store import Append, Appends, ClubAppend, StoredTable, StoreFault
from shared.rules.heat import HEAT
from shared.rules.intents import Leave, ShowRack
from shared.rules.seats import Seat, chair_of, seat_of
from shared.rules.tiles import Tile
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import (
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
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
    WaitFor,
)
from shared.wire.messages import Command, DeskCommand, Done, HeatFile, Hello, Refused, Role
from shared.wire.views import View
from tests.clubs import club_record
from tests.simulation import evening
from tests.simulation.disk import Killed
from tests.simulation.network import MemoryLink
from tests.simulation.people import KINDS, Person, settings_of
from tests.simulation.witness import Witness, check

P = TypeVar("P", bound=Person)
NAMES = ("Ann", "Bo\x1b[31m", "C\u202ed", "[b]Dora[/b]", "Ann", "Emil", "Fay", "Gus")
MOST_TABLES = 4
TOLD_WITHIN_MS = 10_000
"""What is through at all tables that play is told after at most so long, with a full disk and a stall in between."""


class Guest(Person):
    """A player; some who left, or were sent home, come again with the evening's code. Some let a teacher see."""

    async def _act(self, link: MemoryLink) -> None:
        club = self.view.club if self.view else None
        if club and club.teacher and self.random.random() < 0.1:
            self.ask(link, ShowRack(on=self.random.random() < 0.6), 0)
        await super()._act(link)

    moves = False
    machines: Random | None = None
    """Draws when they come from another machine; None: never, as in those evenings that tests play by their seed."""

    def _has_another_machine(self) -> bool:
        return self.machines is not None and self.view is not None and self.machines.random() < 0.1

    def _comes_again(self) -> bool:
        self.asked.clear()
        return self.kind == "leaving" and self.random.random() < 0.7


class Desk(Person):
    """Whoever runs the evening, or with another role merely watches it. After so many rounds the desk ends it."""

    role: Role = "desk"
    rounds = 2
    shown: ClubView | None = None
    teacher: "Teacher | None" = None

    def _hello(self) -> Hello:
        return super()._hello().model_copy(update={"role": self.role})

    def _look_at(self, link: MemoryLink, message: object) -> None:
        if isinstance(message, ClubView):
            self.shown = message
            if self.teacher and message.desk and message.desk.teacher_code:
                self.teacher.code = message.desk.teacher_code
            self._begin_to_act(link)

    async def _act(self, link: MemoryLink) -> None:
        await asyncio.sleep(self.random.uniform(1, 15))
        if self.random.random() < 0.03:
            link.is_silent = True
        elif self.random.random() < 0.03:
            link.cut()
        elif self.role == "desk" and (order := self._order()):
            self._send(link, DeskCommand(id=self._next_id, intent=order))

    def _order(self) -> DeskIntent | None:
        view, random = self.shown, self.random
        assert view is not None
        if not view.tables:
            return OpenTable()
        asked = [chair.person for table in view.tables for chair in table.chairs if chair.asks]
        if asked:  # only in evenings where guests have other machines
            return LetBack(person=asked[0])
        running = [table for table in view.tables if table.phase == "heat"]
        if any(table.paused for table in running):
            return RunClocks()
        if random.random() < 0.5:
            return self._whim(view)
        if running or view.starts_in_ms is not None:
            return None
        if max(table.heat_number for table in view.tables) >= self.rounds:
            return EndEvening()
        return StartAll(in_ms=random.choice((0, 3_000, 10_000)))

    def _whim(self, view: ClubView) -> DeskIntent:
        random, table = self.random, self.random.choice(view.tables).number
        seated = [chair.person for each in view.tables for chair in each.chairs if chair.person]
        person = random.choice([*seated, *(one.person for one in view.waiting), "0" * 16])
        wishes: tuple[tuple[int, DeskIntent], ...] = (
            (12, SeatPerson(person=person, table=table, chair=random.randrange(4))),
            (3, Unseat(person=person)),
            (1, SendHome(person=person)),
            (3, SeatAtRandom()),
            (3, SeatBots(table=random.choice((0, table)))),
            (2, HoldClocks(table=random.choice((0, table)))),
            (2, GiveTime(table=random.choice((0, table)), by_ms=random.randrange(1_000, 20_000))),
            (1, OpenTable() if len(view.tables) < MOST_TABLES else CallOff()),
            (1, CloseTable(table=table) if len(view.tables) > 1 else CallOff()),
            (2, PlayBy(settings=view.settings.model_copy(update={"same_deal": random.random() < 0.7}))),
            (1, LetTeacherSee(on=random.random() < 0.7)),
            (1, WaitFor(ms=random.choice((0, 5_000, 30_000)))),
            (1, RankFrom(heats=random.randrange(3))),
        )
        weights, orders = zip(*wishes, strict=True)
        return random.choices(orders, weights)[0]


class Watcher(Desk):
    """Somebody who only watches."""

    role: Role = "watcher"


class Teacher(Watcher):
    """A teacher, who comes whenever the desk has said the code, and whose lines break as anybody's."""

    role: Role = "teacher"

    def _comes_again(self) -> bool:
        return True


class ClubWitness:
    """The whole club: each table by a witness of its own, and what they must not do to each other."""

    def __init__(self, new_witness: Callable[[], Witness]) -> None:
        self.record: ClubRecord | None = None
        self.tables: dict[str, Witness] = {}
        self.records: dict[str, TableRecord] = {}
        self._new_witness = new_witness
        self._given: set[tuple[str, int]] = set()
        self._opened: set[int] = set()
        self._may_go: set[str] = set()
        self._here: set[str] = set()
        self._keys: dict[str, str] = {}
        self._let_back: set[str] = set()
        self._sat: dict[tuple[str, int], tuple[set[str], ...]] = {}
        self._deals: dict[int, tuple[tuple[Tile, ...], ...]] = {}
        self._racks: dict[tuple[str, int], tuple[str, Seat]] = {}
        self._told: set[tuple[str, int, int]] = set()
        self._agreed: set[tuple[str, int, int]] = set()
        self._through = 0, 0
        """The last heat that may be told and is not, and since when."""

    # ---- what is asked

    def asked(self, person: Person, command: Command | DeskCommand) -> None:
        """Take note of what somebody sent."""
        match command.intent:
            case SendHome(person=key):
                self._may_go.add(key)
            case Leave() if person.token:
                self._may_go.add(_key(person.token))
            case LetBack(person=key):
                self._let_back.add(key)
            case GiveTime():
                self._given.add(("desk", command.id))
            case OpenTable():
                self._opened.add(command.id)

    # ---- on disk

    def written(self, appends: Appends, at_first: int) -> None:
        """Check one step that reached the disk; at_first is how many tables the evening was to begin with."""
        for append in appends:
            if isinstance(append, ClubAppend):
                self.record = append.record
                check(append.record.opened <= at_first + len(self._opened), "each command counts once", "open table")
            else:
                self._see_table(append)
        waiting = self.record.waiting if self.record else ()
        chairs = [chair for record in self.records.values() if not record.closed for chair in record.chairs]
        here = Counter(person.person for person in (*chairs, *waiting) if person.sitter == "person")
        check(max(here.values(), default=1) == 1, "nobody is in two places")
        lost = {self._same(key) for key in self._here} - here.keys() - self._may_go
        check(not lost, "nobody who is moved gets lost", f"{len(lost)} people")
        self._here = set(here)

    def _see_table(self, append: Append) -> None:
        record, heat = append.record, append.heat
        witness = self.tables.get(record.id)
        if witness is None:
            witness = self.tables[record.id] = self._new_witness()
            witness.has_desk = True
            witness.extends_asked = self._given
        is_new = bool(append.events) and heat not in witness.heats
        witness.written(append)
        before, self.records[record.id] = self.records.get(record.id, record), record
        for was, now in zip(before.chairs, record.chairs, strict=True):
            if was.person and now.person and was.person != now.person and was.name == now.name:
                # No two people have one name: they are at another machine now.
                by_word = was.person in self._let_back
                check(by_word, "another machine has a seat only by the desk's word", f"{was.name}'s")
                self._keys[was.person] = now.person
        for number, seated in enumerate(record.chairs):
            if seated.shows and seated.is_present:
                self._agreed.add((record.id, record.number, number))
        if is_new:
            self._sat[record.id, heat] = tuple({chair.person} for chair in record.chairs)
            if witness.heats[heat].settings.same_deal:
                dealt = tuple(witness.heats[heat].state.dealt)
                check(dealt == self._deals.setdefault(heat, dealt), "where all share a deal, all are dealt the same")

        elif record.head:
            # A result is that of the first person who played the seat, be it in place of somebody else or of a bot.
            for sat, chair in zip(self._sat[record.id, record.number], record.chairs, strict=True):
                sat.add(chair.person)

    def _same(self, person: str) -> str:
        """Return the key that a person has now, at whichever table another machine was let in."""
        while person in self._keys:
            person = self._keys[person]
        return person

    def _are_through(self, heat: int) -> bool:
        """Say whether no table plays a heat any more, or might still begin it."""
        if self.record and self.record.phase == "over":
            return True
        for record in self.records.values():
            people = any(chair.sitter == "person" and not chair.left for chair in record.chairs)
            plays = record.phase == "heat" and record.number == heat
            if not record.closed and (plays or (people and record.number < heat)):
                return False
        return True

    # ---- at the people's ends

    def heard(self, person: Person, command: Command | DeskCommand | None, message: object, now_ms: int) -> None:
        """Check a message that reached somebody."""
        table = self.tables.get(person.table)
        match message:
            case View():
                assert table is not None
                table.heard(person.chair, person.token, None, message)
                self._see_view(person, table, message)
            case HeatFile(data=data):
                heat = HEAT.unpack(data)
                self._see_told(heat.settings.same_deal, heat.number)
            case ClubView():
                keys = {chair.person for each in message.tables for chair in each.chairs} - {""}
                check(message.role == "desk" or not (keys or message.desk), "only the desk is told codes and keys")
                self._see_racks(message)
                if message.role == "desk":  # the club has just shown the evening, so it is there to tell
                    self._see_nothing_held_back(now_ms)
            case Evening():
                self._see_results(message)
            case Done() if isinstance(command, DeskCommand) and self.record and person.token:
                kept_id = self.record.desk_last_id(hash_token(person.token))
                check(command.id <= kept_id, "what is acknowledged is on disk", "of the desk")
            case Done() | Refused() if table and isinstance(command, Command):
                table.heard(person.chair, person.token, command, message)

    def _see_nothing_held_back(self, now_ms: int) -> None:
        """What is through at all tables that have played is told: who came late to another holds nobody back."""
        assert self.record
        reached = [heat for table in self.tables.values() for heat, seen in table.heats.items() if seen.ended]
        last = max(reached, default=0)
        for record in self.records.values():
            people = any(chair.sitter == "person" and not chair.left for chair in record.chairs)
            plays = record.phase == "heat"
            if not record.closed and (plays or (people and self.tables[record.id].heats)):
                last = min(last, record.number - plays)
        if last <= self.record.closed_round:
            self._through = 0, now_ms
        elif last != self._through[0]:
            self._through = last, now_ms
        held_ms = now_ms - self._through[1]
        check(held_ms <= TOLD_WITHIN_MS, "nobody's racks wait for a table that has not played", f"heat {last}")

    def _see_racks(self, shown: ClubView) -> None:
        """A rack is shown to a teacher alone, of a seat whose person agreed in that heat."""
        for each in shown.tables:
            for number, chair in enumerate(each.chairs):
                if not chair.rack:
                    continue
                assert self.record
                key = (self.record.table_id(each.number), each.heat_number, number)
                check(shown.role == "teacher", "nobody beside a table sees a rack", "but a teacher")
                check(key in self._agreed, "a teacher sees only racks of those who agreed", f"heat {each.heat_number}")

    def _see_told(self, same_deal: bool, heat: int) -> None:
        invariant = "nothing of a common deal is told while somebody plays it"
        check(not same_deal or self._are_through(heat), invariant, f"heat {heat}")

    def _see_view(self, person: Person, table: Witness, view: View) -> None:
        for result in view.results:
            told = result.secret or any(seat.dealt or seat.final for seat in result.seats)
            self._see_told(bool(told) and table.heats[result.number].settings.same_deal, result.number)
        if view.club:
            self._see_told(bool(view.club.elsewhere), view.club.elsewhere_heat)
        heat = view.heat
        if heat and heat.rack and table.heats[heat.number].settings.same_deal:
            assert person.token is not None
            seat = (person.table, seat_of(view.you, table.heats[heat.number].head.east))
            key = self._same(_key(person.token))
            first = self._racks.setdefault((key, heat.number), seat)
            check(first == seat, "nobody sees two racks of one deal", f"heat {heat.number}")

    def _see_results(self, told: Evening) -> None:
        """Results are those of the heats, with somebody who sat there meanwhile, wherever that person sits by now."""
        found = set[tuple[str, int, int]]()
        for one in told.played:
            number = re.match(r"(?:Table )?(\d+)", one.table)
            assert number
            assert self.record
            table_id = self.record.table_id(int(number[1]))
            heat = self.tables[table_id].heats[one.heat]
            chair = chair_of(Seat(one.seat), heat.head.east)
            check(heat.ended, "a result is of a heat that ended")
            sat = {self._same(key) for key in self._sat[table_id, one.heat][chair]}
            check(self._same(one.person) in sat, "results stay with the person")
            answers = [each for (seat, step), each in heat.answers.items() if seat == one.seat and step != "plan"]
            check(one.total_ms == sum(each.spent_ms for each in answers), "a result is what the clocks said")
            found.add((table_id, one.heat, one.seat))
        check(self._told <= found, "no result is lost")
        self._told = found


def _key(token: bytes) -> str:
    return Chair(sitter="person", token_hash=hash_token(token)).person


class ClubNight(evening.Evening):
    """The host's machine, the network, the desk and the guests, from one seed."""

    LIMIT_FRAMES = 100_000

    def complete(self, card: str, rack: tuple[Tile, ...]) -> bool:
        """No rack is a complete hand: a club's tables play by a real card, whose hands nobody is dealt."""
        return False

    def _invite(self) -> None:
        random = self.random
        # While the club acts it waits for what every table writes, and then writes itself.
        self.club = ClubWitness(lambda: self._new_witness(MOST_TABLES + 2))
        same_deal, heats = random.random() < 0.7, random.choice((1, 2, 3))
        settings = settings_of(random).model_copy(update={"same_deal": same_deal, "heats": heats, "level_ms": 60_000})
        self._at_first = random.choice((2, 2, 3))
        self._record = club_record(settings, "acorn alder", "birch reed", random.randbytes(32))
        desk = self._come(Desk, "desk", "fast", "birch reed")
        desk.rounds = random.choice((1, 2, 3))
        watcher = self._come(Watcher, "watcher", "fast", "acorn alder")
        desk.teacher = self._come(Teacher, "Tess", "fast", "not said yet")
        count = random.randint(3, len(NAMES))
        self._guests = [self._come(Guest, name, random.choice(KINDS), "acorn alder") for name in NAMES[:count]]
        others = Random(f"other machines {self.report.seed}")
        if others.random() < 0.4:
            for guest in self._guests:
                guest.machines = others
        self.people = [desk, watcher, desk.teacher, *self._guests]

    def _come(self, kind: type[P], name: str, manner: str, code: str) -> P:
        """Invite somebody, who brings a token of their own as real clients do."""
        person = kind(name, manner, code, Random(self.random.randrange(2**32)), self._connect, self._heard)
        person.token = self.random.randbytes(16)
        return person

    async def _open(self, admission: Admission, stored: tuple[StoredTable, ...]) -> None:
        for one in stored:
            self.club.tables[one.record.id].resumed = one.record.phase == "heat"
        record = self.disk.load_club()
        club = new_club(record or self._record, self._bytes.randbytes, lambda: "2026-01-01T00:00:00+00:00")
        try:
            keeper = await self._unless_killed(admission.add_club(club, stored))
            for _ in range(0 if record else self._at_first):
                await keeper.open_table()
        except (StoreFault, Killed):
            self._killed.set()  # The disk was full, or the power went, before the doors were open.

    async def _unless_killed(self, opening: Coroutine[None, None, ClubKeeper]) -> ClubKeeper:
        """Wait until the evening is open. It waits for its tables, of which the power may end one before it is open."""
        opened, ends = asyncio.create_task(opening), asyncio.create_task(self._killed.wait())
        await asyncio.wait((opened, ends), return_when=asyncio.FIRST_COMPLETED)
        ends.cancel()
        if not opened.done():
            opened.cancel()
            raise Killed
        return await opened

    def _note_asked(self) -> None:
        for person in self.people:
            for asked in person.asked.values():
                self.club.asked(person, asked)

    def _check_heard(self, person: Person, command: Command | DeskCommand | None, message: object) -> None:
        self.club.heard(person, command, message, now_ms())

    def _check_written(self, appends: Appends) -> None:
        self.club.written(appends, self._at_first)

    def _is_over(self) -> bool:
        is_over = self.club.record is not None and self.club.record.phase == "over"
        return is_over or all(guest.gone for guest in self._guests)

    def _witnesses(self) -> dict[str, Witness]:
        return self.club.tables

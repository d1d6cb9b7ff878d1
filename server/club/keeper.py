"""The keeper of a club: the only task that acts for its desk, and the way in with the evening's code.

For each thing that is asked it takes the turn of every table, lets the club act on them, waits until all of it is on
the disk in one step, and only then tells anybody; so a person who is moved is never at two tables or at none. Lines
follow their people: who is moved gets a second welcome on the line they have. Its log lines name roles and kinds.
"""

import asyncio
import logging
import secrets
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial

from server.clock import now_ms
from server.club.club import Club
from server.club.review_process import Reviewer
from server.club.reviewing import Reviewing
from server.club.seating import ClubOutput, Place
from server.club.show import club_view
from server.club.table import ClubTable
from server.net.codes import same_code
from server.records import Chair, SeatReview, hash_token
from server.store import Append, ClubAppend, Store, StoredTable, StoreFault
from server.table.keeper import RETRY_MS, Keeper
from server.table.kept import KeptHeat
from server.table.outbox import Outbox
from server.table.output import Joined, Output
from server.table.seating import TOKEN_BYTES
from server.table.table import Table
from shared.rules.intents import Leave
from shared.wire.club_views import ClubRole, Evening
from shared.wire.desk_intents import OpenTable
from shared.wire.messages import (
    NO_CHAIR,
    PROTOCOL,
    TO_CLIENT,
    Close,
    Command,
    DeskCommand,
    Done,
    Hello,
    Refused,
    Welcome,
)

log = logging.getLogger("racktempo.club")
SHOW_MS = 200
"""The desk and the watchers see changes at most this often."""
BEAT_MS = 2_000
"""And at least this often, so that the clocks they draw do not drift from the tables'."""
TELL_MS = 10_000
"""While the coach looks at heats, what it finds is told this often, and when it is through: every telling is a view for
everybody between heats, who read standings at leisure."""
MOST_WATCHING = 64
MOST_WITH_STEPS = 1_500
"""Of more results than these the desk is told the whole heats only: a frame holds no more."""
AddKeeper = Callable[[Table, StoredTable | None], Keeper]
_ROLES: dict[str, ClubRole] = {"desk": "desk", "watcher": "watcher", "teacher": "teacher", "player": "waiting"}


@dataclass(frozen=True, slots=True)
class _Knock:
    line: Outbox
    hello: Hello


@dataclass(frozen=True, slots=True)
class _Heard:
    line: Outbox
    command: Command | DeskCommand


@dataclass(frozen=True, slots=True)
class _Lost:
    line: Outbox


@dataclass(frozen=True, slots=True)
class _Looked:
    review: SeatReview


_Item = _Knock | _Heard | _Lost | _Looked


class ClubKeeper:
    """Runs one evening for its desk, its watchers and those who wait; the tables run themselves.

    Without a reviewer no heat is looked at, and the standings know times alone.
    """

    def __init__(self, club: Club, store: Store, add: AddKeeper, reviewer: Reviewer | None = None) -> None:
        self.club = club
        self.keepers: dict[int, Keeper] = {}
        self._store, self._add = store, add
        self._roles: dict[Outbox, ClubRole] = {}
        self._inbox: list[_Item] = []
        self._wake = asyncio.Event()
        self._changed = self._ended = False
        self._shown_ms = self._results_told_ms = 0
        self._has_found = False
        self._revision = 0
        self._reviewing: Reviewing | None = None
        if reviewer:
            self._reviewing = Reviewing(reviewer, club.left_to_look_at, club.results.heat_of, self._found)

    @property
    def lines(self) -> list[Outbox]:
        """The lines that lead to no table."""
        return list(self._roles)

    # ---- what arrives

    def knows(self, token: bytes) -> bool:
        """Say whether a token belongs to somebody who waits for a chair."""
        digest = hash_token(token)
        return any(one.token_hash == digest for one in self.club.record.waiting)

    def takes(self, hello: Hello) -> bool:
        """Say whether the code opens the role that is asked for."""
        record = self.club.record
        codes = {"desk": record.desk_code, "teacher": record.teacher_code}
        code = codes.get(hello.role, record.code)
        return bool(code) and same_code(hello.code, code)

    def knock(self, line: Outbox, hello: Hello) -> None:
        """Let a client in or close its line with the reason."""
        line.receiver = self
        self._put(_Knock(line, hello))

    def hear(self, line: Outbox, command: Command | DeskCommand, at_ms: int) -> None:
        """Take a command; nobody's clock depends on when it was read."""
        self._put(_Heard(line, command))

    def lost(self, line: Outbox) -> None:
        """Take note that a line is gone."""
        self._put(_Lost(line))

    def _found(self, review: SeatReview) -> None:
        self._put(_Looked(review))

    def _put(self, item: _Item) -> None:
        self._inbox.append(item)
        self._wake.set()

    def _table_changed(self, has_finished: bool) -> None:
        self._changed = True
        self._ended = self._ended or has_finished
        if has_finished or self._roles:
            self._wake.set()

    # ---- the one task

    async def open(self, stored: Sequence[StoredTable]) -> None:
        """Open the tables that were stored, each as it was left, and take note of what they played."""
        tables: dict[int, ClubTable] = {}
        earlier: list[tuple[int, KeptHeat]] = []
        for one in stored:
            number = int(one.record.id.rpartition(".")[2])
            tables[number] = self.club.make_table(one.record)
            earlier += [(number, KeptHeat.of(heat)) for heat in one.finished if heat.number < one.record.set_first]
            self._keep(number, tables[number], one)
        for keeper in self.keepers.values():
            await keeper.is_open.wait()
        async with self._all_turns():
            reviews = [review for one in stored for review in one.reviews]
            await self._settle(partial(self.club.restore, tables, earlier, reviews))

    async def open_table(self, name: str = "") -> None:
        """Open a table before anybody can come. Raises StoreFault."""

        def act() -> ClubOutput:
            out = ClubOutput()
            self.club.obey(OpenTable(name=name), now_ms(), out)
            return out

        async with self._all_turns():
            await self._settle(act)

    async def run(self) -> None:
        """Keep the evening until cancelled; the coach looks at its heats meanwhile."""
        if self._reviewing is None:
            return await self._run()
        looking = asyncio.create_task(self._reviewing.run())
        try:
            await self._run()
        finally:
            looking.cancel()
            await asyncio.gather(looking, return_exceptions=True)

    async def _run(self) -> None:
        while True:
            await self._something()
            items, self._inbox = self._inbox, []
            for item in items:
                await self._take(item)
            if self._ended or self._may_tell_results():
                self._ended = self._has_found = False
                self._results_told_ms = now_ms()
                await self._act(self.club.heat_over, "a heat's end")
                await self._tell_evening()
            deadline_ms = self.club.next_deadline_ms()
            if deadline_ms is not None and deadline_ms <= now_ms():
                await self._act(lambda: self.club.tick(now_ms()), "a start")
            if self._changed or now_ms() >= self._shown_ms + BEAT_MS:
                await self._show()

    async def _something(self) -> None:
        """Wait for the inbox, a change that may be shown now, or the countdown's end."""
        due_ms = [self._shown_ms + (SHOW_MS if self._changed else BEAT_MS)] if self._roles else []
        deadline_ms = self.club.next_deadline_ms()
        if deadline_ms is not None:
            due_ms.append(deadline_ms)
        if self._has_found:
            due_ms.append(self._results_told_ms + TELL_MS)
        while not (self._inbox or self._ended or (due_ms and min(due_ms) <= now_ms())):
            self._wake.clear()
            timer = None
            if due_ms:
                timer = asyncio.get_running_loop().call_at(min(due_ms) / 1_000, self._wake.set)
            await self._wake.wait()
            if timer:
                timer.cancel()
            if self._changed and self._roles:
                due_ms.append(self._shown_ms + SHOW_MS)

    async def _take(self, item: _Item) -> None:
        match item:
            case _Lost(line=line):
                if self._roles.pop(line, None):
                    self._changed = True
            case _Knock(line=line, hello=hello):
                await self._admit(line, hello)
            case _Heard(line=line, command=DeskCommand() as command):
                if self._roles.get(line) == "desk":
                    await self._obey(line, command)
                else:
                    line.end(Close.BAD_FRAME, "You are no desk.")
            case _Heard(line=line, command=Command() as command):
                await self._wish(line, command)
            case _Looked(review=review):
                await self._note(item, review)

    async def _note(self, item: _Looked, review: SeatReview) -> None:
        """Put what the coach found on the disk; it holds no table up, and is told when that is due."""
        try:
            await self._store.append([ClubAppend(self.club.record, (review,))])
        except StoreFault as fault:
            log.error("%s", fault)
            asyncio.get_running_loop().call_later(RETRY_MS / 1_000, self._put, item)
        else:
            self.club.results.take(review)
            self._has_found = self._changed = True

    def _looked(self) -> tuple[int, int]:
        """Return how many seats the coach is through with, and of how many."""
        if self._reviewing is None:
            return 0, 0
        left = self.club.left_to_look_at()
        through, given_up = self.club.results.looked, sum(key in self._reviewing.given_up for key in left)
        return through + given_up, through + len(left)

    def _may_tell_results(self) -> bool:
        looked, of = self._looked()
        return self._has_found and (looked == of or self._results_told_ms + TELL_MS <= now_ms())

    async def _admit(self, line: Outbox, hello: Hello) -> None:
        role = _ROLES[hello.role]
        line.token = hello.token or secrets.token_bytes(TOKEN_BYTES)
        if role == "waiting":
            await self._seat(line, hello)
        elif len(self._roles) >= MOST_WATCHING:
            line.end(Close.TABLE_FULL, "There are too many who watch already.")
        else:
            log.info("a %s joined", role)
            self._stand(line, role)
            if role == "desk":
                line.tell(self._evening())

    async def _seat(self, line: Outbox, hello: Hello) -> None:
        """Seat a newcomer on the first free chair, or let them wait; who was here before comes back to their place."""
        if self.club.record.phase == "over" and not self.club.place_of(line.token):
            line.end(Close.TABLE_CLOSED, "The evening is over.")
            return

        def act() -> ClubOutput:
            out = ClubOutput()
            place = self.club.place_of(line.token)
            newcomer = Chair(sitter="person", name=hello.name, token_hash=hash_token(line.token))
            free = None if place else self.club.free_place(newcomer)
            found = (place.table, place.chair) if place and place.table else free
            if found:
                number, _ = found
                joined = self.club.tables[number].join(hello.name, line.token, now_ms())
                assert isinstance(joined, Joined)
                self.keepers[number].arrive(line, joined)
                out.add(number, joined.output)
            elif not place:
                self.club.wait(hello.name, line.token)
            return out

        fault = await self._act(act, "somebody who comes")
        if fault:
            line.end(1011, fault)
        elif line.chair is None and self.knows(line.token):
            log.info("somebody waits for a chair")
            self._stand(line, "waiting")
        elif line.chair is None:
            line.end(Close.TABLE_FULL, "All chairs are taken, and too many wait already.")

    def _stand(self, line: Outbox, role: ClubRole) -> None:
        """Take a line in that leads to no table, in place of an older one of the same person."""
        for older in [other for other in self._roles if other.token == line.token and other is not line]:
            older.end(Close.SEAT_TAKEN_OVER, "Your place is now held elsewhere.")
            del self._roles[older]
        line.chair, line.receiver = None, self
        self._roles[line] = role
        last_id = self.club.record.desk_last_id(hash_token(line.token)) if role == "desk" else 0
        waits = self.club.place_of(line.token) if role == "waiting" else None
        if waits:
            last_id = waits.person.last_id
        line.tell(
            TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=line.token, chair=NO_CHAIR, last_id=last_id, table=role))
        )
        self._show_to(line)
        self._changed = True

    async def _obey(self, line: Outbox, command: DeskCommand) -> None:
        answers: list[Done | Refused] = []

        def act() -> ClubOutput:
            answer, out = self.club.command(hash_token(line.token), command, now_ms())
            answers.append(answer)
            return out

        log.info("the desk asks: %s", command.intent.kind)
        fault = await self._act(act, "the desk", line, answers)
        if fault:
            line.tell(TO_CLIENT.pack(Refused(id=command.id, code="disk", text=fault, late_ms=None)))
        self._shown_ms = min(self._shown_ms, now_ms() - SHOW_MS)
        self._changed = True

    async def _wish(self, line: Outbox, command: Command) -> None:
        """Who has no chair can only go; whoever has one in the meantime asked it from the place they had before."""

        def leave() -> ClubOutput:
            self.club.record = self.club.record.without(hash_token(line.token))
            return ClubOutput()

        if self._roles.get(line) == "waiting" and isinstance(command.intent, Leave):
            if not await self._act(leave, "somebody who goes"):
                self._roles.pop(line, None)
                line.end(Close.TABLE_CLOSED, "You have left the evening.")
        else:
            text = "You have no chair yet."
            line.tell(TO_CLIENT.pack(Refused(id=command.id, code="not now", text=text, late_ms=None)))

    # ---- disk first, then people

    @asynccontextmanager
    async def _all_turns(self) -> AsyncIterator[None]:
        held: list[Keeper] = []
        try:
            for keeper in list(self.keepers.values()):
                await keeper.turn.acquire()
                held.append(keeper)
            yield
        finally:
            for keeper in held:
                keeper.turn.release()
                keeper.look_again()

    async def _act(
        self,
        act: Callable[[], ClubOutput],
        what: str,
        line: Outbox | None = None,
        answers: Sequence[Done | Refused] = (),
    ) -> str:
        """Let the club act on the tables; return a sentence if nothing could be done."""
        async with self._all_turns():
            before = self.club.checkpoint()
            try:
                await self._settle(act, line, answers)
                return ""
            except StoreFault as fault:
                log.error("%s", fault)
                text = "The host's disk cannot be written; what you sent changed nothing."
            except Exception as error:
                log.error("%s met %s", what, type(error).__name__)
                text = "The club met an error of its own; what you sent changed nothing."
            for keeper in self.keepers.values():
                keeper.forget_arrivals()
            self.club.go_back(before, lambda number: sorted(self.keepers[number].lines))
            return text

    async def _settle(
        self, act: Callable[[], ClubOutput], line: Outbox | None = None, answers: Sequence[Done | Refused] = ()
    ) -> None:
        """Act, store all of it in one step, lead lines to their people, and tell everybody. Raises StoreFault."""
        out = act()
        outputs = {number: list(out.tables.get(number, ())) for number in self.club.tables}
        for number, table in self.club.tables.items():
            if number not in self.keepers:
                self._keep(number, table)
        appends: list[Append | ClubAppend] = [ClubAppend(self.club.record)]
        for number, keeper in self.keepers.items():
            if number in outputs:
                appends += keeper.to_store(outputs[number])
        await self._store.append(appends)
        if line:
            for answer in answers:
                line.tell(TO_CLIENT.pack(answer))
        self._follow(out, outputs)
        for number, told in outputs.items():
            if told:
                self.keepers[number].deliver(told)
        if self._reviewing:
            self._reviewing.look_again()

    def _keep(self, number: int, table: ClubTable, stored: StoredTable | None = None) -> None:
        keeper = self._add(table, stored)
        keeper.watch = self._table_changed
        self.keepers[number] = keeper

    def _follow(self, out: ClubOutput, outputs: dict[int, list[Output]]) -> None:
        """Lead every line to where its person is now, with a second welcome if that is another place than before."""
        places = {place.person.token_hash: place for place in self.club.places()}
        stood = [(line, 0, 0) for line, role in self._roles.items() if role == "waiting"]
        for number, keeper in self.keepers.items():
            stood += [(line, number, chair) for chair, line in keeper.lines.items()]
        # All who move get up before anybody sits down, so that nobody is taken for an older line of another.
        moved: list[tuple[Outbox, Place]] = []
        for line, number, chair in stood:
            place = places.get(hash_token(line.token))
            if hash_token(line.token) in out.sent_home:
                self._leave_place(line, number, chair)
                line.end(Close.SENT_AWAY, "The desk has sent you home.")
            elif place and (place.table, place.chair) != (number, chair):
                self._leave_place(line, number, chair)
                moved.append((line, place))
        for line, place in moved:
            if line.is_lost:
                continue
            if place.table:
                joined = Joined(place.chair, line.token, place.person.last_id, Output())
                self.keepers[place.table].arrive(line, joined)
            else:
                self._stand(line, "waiting")
        for number, keeper in self.keepers.items():
            table = self.club.tables.get(number)
            if table is not None and table.connected != frozenset(keeper.lines):
                outputs[number].append(table.lines_are(frozenset(keeper.lines)))

    def _leave_place(self, line: Outbox, number: int, chair: int) -> None:
        if number and self.keepers[number].lines.get(chair) is line:
            del self.keepers[number].lines[chair]
        self._roles.pop(line, None)

    # ---- what is shown

    async def _show(self) -> None:
        """Show the evening to all who stand beside it; nothing is shown that is not on the disk."""
        self._changed, self._shown_ms = False, now_ms()
        if self._roles:
            async with self._all_turns():
                if self._ended or self._may_tell_results():
                    self._changed = True  # Results come first, so that no view says more than they do.
                    return
                frames: dict[ClubRole, bytes] = {}
                self._revision += 1
                for line, role in self._roles.items():
                    if role not in frames:
                        frames[role] = self._frame(role)
                    line.show(frames[role])

    def _show_to(self, line: Outbox) -> None:
        self._revision += 1
        line.show(self._frame(self._roles[line]))

    def _frame(self, role: ClubRole) -> bytes:
        waiting = frozenset(hash_token(line.token) for line, other in self._roles.items() if other == "waiting")
        return TO_CLIENT.pack(club_view(self.club, role, self._revision, waiting, now_ms(), self._looked()))

    async def _tell_evening(self) -> None:
        for line, role in self._roles.items():
            if role == "desk":
                line.tell(self._evening())

    def _evening(self) -> bytes:
        played = self.club.played()
        if len(played) > MOST_WITH_STEPS:
            played = tuple(one.model_copy(update={"spent": ()}) for one in played)
        return TO_CLIENT.pack(Evening(played=played))

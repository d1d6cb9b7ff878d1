"""The keeper of a club: the only task that acts for its desk, fed by one inbox.

What is asked goes to the club through server.club.transactions, who comes in through server.club.admission; what is
shown is made in server.club.telling, what the coach finds kept by server.club.reviewing. An error is logged with its
place, its sender gets one sentence, and the evening goes on. Log lines name roles and kinds.
"""

import asyncio
import logging
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from server.clock import now_ms
from server.club.admission import ClubAdmission, Shares
from server.club.club import Club
from server.club.review_process import Reviewer
from server.club.reviewing import Reviews
from server.club.seating import ClubOutput
from server.club.table import ClubTable
from server.club.telling import Telling
from server.club.transactions import Act, AddKeeper, Transactions
from server.faults import INTERNAL_ERROR, describe_fault
from server.inbox import Inbox
from server.kept import KeptHeat
from server.records import SeatReview, hash_token
from server.store import Store, StoredTable, StoreFault
from server.table.keeper import RETRY_MS, Keeper
from server.table.outbox import Outbox
from shared.rules.intents import Leave
from shared.wire.desk_intents import LetTeacherSee, OpenTable, RankFrom
from shared.wire.messages import TO_CLIENT, Close, Command, DeskCommand, Done, Hello, Refused

log = logging.getLogger("racktempo.club")
SHARES = Shares()


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
class _Found:
    review: SeatReview


_Item = _Knock | _Heard | _Lost | _Found


class ClubKeeper:
    """Runs one evening for its desk, its watchers and those who wait; the tables run themselves.

    Without a reviewer no heat is reviewed, and the standings show only times.
    """

    def __init__(
        self, club: Club, store: Store, add: AddKeeper, reviewer: Reviewer | None = None, shares: Shares = SHARES
    ) -> None:
        self.club = club
        self._inbox: Inbox[_Item] = Inbox()
        self._reviews = Reviews(club, store, reviewer, lambda review: self._inbox.put(_Found(review)))
        club.progress = self._reviews.progress
        self.telling = Telling(club, self)
        self._transactions = Transactions(club, store, self.telling, add, self._table_changed)
        self._admission = ClubAdmission(club, self._transactions, self.telling, shares)
        self._ended = False
        """A heat has ended since the results were told."""

    @property
    def keepers(self) -> dict[int, Keeper]:
        """The tables' keepers by number."""
        return self._transactions.keepers

    @property
    def lines(self) -> list[Outbox]:
        """The lines that lead to no table."""
        return list(self.telling.roles)

    # ---- what arrives

    def knows(self, hello: Hello) -> bool:
        """Say whether a client holds the token of a waiting place or of a desk."""
        return self._admission.knows(hello)

    def takes(self, hello: Hello) -> bool:
        """Say whether the code opens the role that is asked for."""
        return self._admission.takes(hello)

    def knock(self, line: Outbox, hello: Hello) -> None:
        """Let a client in or close its line with the reason."""
        line.receiver = self
        self._inbox.put(_Knock(line, hello))

    def hear(self, line: Outbox, command: Command | DeskCommand, at_ms: int) -> None:
        """Take a command; nobody's clock depends on when it was read."""
        self._inbox.put(_Heard(line, command))

    def lost(self, line: Outbox) -> None:
        """Take note that a line is gone."""
        self._inbox.put(_Lost(line))

    def _table_changed(self, has_finished: bool) -> None:
        self.telling.table_changed()
        self._ended = self._ended or has_finished
        if has_finished or self.telling.roles:
            self._inbox.wake()

    # ---- the one task

    async def open(self, stored: Sequence[StoredTable]) -> None:
        """Open the tables that were stored, each as it was left, and take note of what they played.

        Raises:
            StoreFault: one of them cannot be restored; the evening's file is kept.
        """
        tables: dict[int, ClubTable] = {}
        earlier: list[tuple[int, KeptHeat]] = []
        for one in stored:
            number = int(one.record.id.rpartition(".")[2])
            tables[number] = self.club.make_table(one.record)
            earlier += [(number, heat) for heat in one.finished if heat.number < one.record.set_first]
            self._transactions.keep(number, tables[number], one)
        for number, keeper in self.keepers.items():
            await keeper.is_open.wait()
            if not keeper.is_restored:
                raise StoreFault(f"Table {number} of the evening could not be restored from disk; its file is kept.")
        reviews = [review for one in stored for review in one.reviews]
        await self._transactions.begin(partial(self.club.restore, tables, earlier, reviews))
        self._reviews.look_again()

    async def open_table(self, name: str = "") -> None:
        """Open a table before anybody can come. Raises StoreFault."""

        def act() -> ClubOutput:
            out = ClubOutput()
            self.club.obey(OpenTable(name=name), now_ms(), out)
            self.club.tell_news(out)
            return out

        await self._transactions.begin(act)

    async def run(self) -> None:
        """Keep the evening until cancelled; the coach reviews its heats meanwhile."""
        reviewing = asyncio.create_task(self._reviews.run())
        try:
            while True:
                try:
                    await self._round()
                except Exception as error:
                    log.error("the evening: %s", describe_fault(error))
                    await self._inbox.wait(now_ms() + RETRY_MS)
        finally:
            reviewing.cancel()
            await asyncio.gather(reviewing, return_exceptions=True)

    async def _round(self) -> None:
        """Deal with all that has arrived and with what is due, then wait for more."""
        items = self._inbox.take()
        for item in items:
            try:
                await self._take(item)
            except Exception as error:
                log.error("%s: %s", type(item).__name__.strip("_").lower(), describe_fault(error))
                self._answer(item)
        fault = ""
        if (here := self.telling.teachers()).keys() != self.club.teachers:
            fault = await self._act(partial(self.club.teachers_are, here), "a teacher who goes")
        if self._ended or self._reviews.may_tell():
            self._ended = False
            self._reviews.told()
            if fault := await self._act(self.club.heat_over, "a heat's end"):
                asyncio.get_running_loop().call_later(RETRY_MS / 1_000, self._table_changed, True)
            else:
                self.telling.tell_results()
        if (deadline_ms := self.club.next_deadline_ms()) is not None and deadline_ms <= now_ms():
            fault = await self._act(lambda: self.club.tick(now_ms()), "a start") or fault
        due_ms = self.telling.due_ms()
        if (items and self.telling.changed) or (due_ms is not None and due_ms <= now_ms()):
            await self._show()
        times_ms = (self.telling.due_ms(), self._reviews.due_ms(), self.club.next_deadline_ms())
        due_ms = min((at_ms for at_ms in times_ms if at_ms is not None), default=None)
        await self._inbox.wait(max(due_ms, now_ms() + RETRY_MS) if fault and due_ms is not None else due_ms)

    async def _show(self) -> None:
        if self.telling.begin():
            async with self._transactions.all_turns():
                if self._ended or self._reviews.may_tell():
                    self.telling.changed = True  # Results come first, so that no view says more than they do.
                else:
                    self.telling.show()

    async def _act(self, act: Act, what: str) -> str:
        fault = await self._transactions.act(act, what)
        self._reviews.look_again()
        return fault

    async def _take(self, item: _Item) -> None:
        match item:
            case _Lost(line=line):
                self.telling.leave(line)
            case _Knock(line=line, hello=hello):
                await self._admission.admit(line, hello)
            case _Heard(line=line, command=DeskCommand() as command):
                if self.telling.roles.get(line) == "desk":
                    await self._obey(line, command)
                else:
                    line.end(Close.BAD_FRAME, "Only a desk may send this.")
            case _Heard(line=line, command=Command() as command):
                await self._wish(line, command)
            case _Found(review=review):
                await self._note(item, review)

    def _answer(self, item: _Item) -> None:
        """Tell the client whose request met an error that nothing was changed."""
        match item:
            case _Knock(line=line):
                line.end(1011, INTERNAL_ERROR)
            case _Heard(line=line, command=command):
                line.tell(_refused(command, INTERNAL_ERROR))

    async def _obey(self, line: Outbox, command: DeskCommand) -> None:
        answers: list[Done | Refused] = []

        def act() -> ClubOutput:
            answer, out = self.club.command(hash_token(line.token), command, now_ms())
            answers.append(answer)
            return out

        log.info("the desk asks: %s", command.intent.kind)
        fault = await self._act(act, "the desk")
        line.tell(_refused(command, fault) if fault else TO_CLIENT.pack(answers[0]))
        if not fault and isinstance(answers[0], Done):
            match command.intent:
                case LetTeacherSee():
                    self.telling.send_teachers_away()
                case RankFrom():
                    self.telling.tell_results()
        self.telling.soon()

    async def _wish(self, line: Outbox, command: Command) -> None:
        """Let somebody who waits leave; anything else needs a chair, so it is refused."""

        def leave() -> ClubOutput:
            self.club.record = self.club.record.without(hash_token(line.token))
            return ClubOutput()

        if self.telling.roles.get(line) != "waiting" or not isinstance(command.intent, Leave):
            text = "You have no chair yet."
            line.tell(TO_CLIENT.pack(Refused(id=command.id, code="not now", text=text, late_ms=None)))
        elif fault := await self._act(leave, "somebody who goes"):
            line.tell(_refused(command, fault))
        else:
            self.telling.leave(line)
            line.end(Close.TABLE_CLOSED, "You have left the evening.")

    async def _note(self, item: _Found, review: SeatReview) -> None:
        """Keep what the coach found; no table waits for it, and people see it at the next update."""
        try:
            await self._reviews.keep(review)
        except StoreFault as fault:
            log.error("%s", fault)
            self._inbox.put_later(item, RETRY_MS)
        else:
            self.telling.changed = True


def _refused(command: Command | DeskCommand, text: str) -> bytes:
    return TO_CLIENT.pack(Refused(id=command.id, code="disk", text=text, late_ms=None))

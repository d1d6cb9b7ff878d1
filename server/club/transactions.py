"""What the club does at its tables, in one step: all of it is on the disk before anybody sees it, or nothing happened.

Meanwhile the club holds the turn of every table, so that a person who is moved is never at two tables or at none.
Lines follow their people: who is moved gets a second welcome on the line they have.
"""

import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial

from server.clock import now_ms
from server.club.club import Club
from server.club.seating import ClubOutput, Place
from server.club.telling import Telling
from server.faults import INTERNAL_ERROR, describe_fault
from server.records import hash_token
from server.store import Append, ClubAppend, Store, StoredTable, StoreFault
from server.table.keeper import Keeper
from server.table.outbox import Outbox
from server.table.output import Joined, Output
from server.table.table import Table
from shared.wire.messages import Close

log = logging.getLogger("racktempo.club")
AddKeeper = Callable[[Table, StoredTable | None], Keeper]
Act = Callable[[], ClubOutput]


class Transactions:
    """Lets a club act on its tables. every table's keeper calls watch after people have seen a change."""

    def __init__(
        self, club: Club, store: Store, telling: Telling, add: AddKeeper, watch: Callable[[bool], None]
    ) -> None:
        self.keepers: dict[int, Keeper] = {}
        self._club, self._store, self._telling, self._add, self._watch = club, store, telling, add, watch

    def keep(self, number: int, table: Table, stored: StoredTable | None = None) -> None:
        """Give a table its keeper."""
        self.keepers[number] = self._add(table, stored)
        self.keepers[number].watch = self._watch

    @asynccontextmanager
    async def all_turns(self) -> AsyncIterator[None]:
        """Hold the turn of every table."""
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

    async def act(self, act: Act, what: str) -> str:
        """Let the club act on its tables; return a sentence if that failed, and nothing was changed."""
        async with self.all_turns():
            before = self._club.checkpoint()
            try:
                out, outputs = await self._stored(act)
            except StoreFault as fault:
                log.error("%s", fault)
                text = "The host's disk cannot be written; nothing was changed."
            except Exception as error:
                log.error("%s: %s", what, describe_fault(error))
                text = INTERNAL_ERROR
            else:
                self._tell(out, outputs)
                return ""
            for keeper in self.keepers.values():
                keeper.forget_arrivals()
            self._club.go_back(before, lambda number: sorted(self.keepers[number].lines))
            return text

    async def begin(self, act: Act) -> None:
        """Let the club act before anybody has come. Raises StoreFault."""
        async with self.all_turns():
            self._tell(*await self._stored(act))

    async def _stored(self, act: Act) -> tuple[ClubOutput, dict[int, list[Output]]]:
        """Act, and put all of it on the disk in one step; return what happened, also by table. Raises StoreFault."""
        out = act()
        outputs = {number: list(out.tables.get(number, ())) for number in self._club.tables}
        for number, table in self._club.tables.items():
            if number not in self.keepers:
                self.keep(number, table)
            self.keepers[number].table = table  # it may have been made for one that could not be opened
        appends: list[Append | ClubAppend] = [ClubAppend(self._club.record)]
        for number, keeper in self.keepers.items():
            if number in outputs:
                appends += keeper.to_store(outputs[number])
        await self._store.append(appends)
        return out, outputs

    def _tell(self, out: ClubOutput, outputs: dict[int, list[Output]]) -> None:
        """Tell everybody. It is on the disk by now: an error costs what it stands at, and nothing is undone."""
        self._try("lines that follow their people", partial(self._follow, out, outputs))
        for number, told in outputs.items():
            if told:
                self._try(f"table {number}", partial(self.keepers[number].deliver, told))

    def _try(self, what: str, tell: Callable[[], None]) -> None:
        try:
            tell()
        except Exception as error:
            log.error("%s: %s", what, describe_fault(error))

    # ---- lines follow their people

    def _follow(self, out: ClubOutput, outputs: dict[int, list[Output]]) -> None:
        """Lead every line to where its person is now, with a second welcome if that is another place than before."""
        places = {place.person.token_hash: place for place in self._club.places()}
        stood = [(line, 0, 0) for line, role in self._telling.roles.items() if role == "waiting"]
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
                self._telling.stand(line, "waiting")
        for number, keeper in self.keepers.items():
            table = self._club.tables.get(number)
            if table is not None and table.connected != frozenset(keeper.lines):
                outputs[number].append(table.lines_are(frozenset(keeper.lines), now_ms()))

    def _leave_place(self, line: Outbox, number: int, chair: int) -> None:
        if number and self.keepers[number].lines.get(chair) is line:
            del self.keepers[number].lines[chair]
        self._telling.leave(line)

"""The keeper of one table: the only task that touches it, fed by one inbox.

It takes what has arrived, in the order in which it was read, hands it to the table, waits until the outcome is
on the disk, and only then sends it. While it waits nothing else reaches the table, so that a view never
shows what a power cut could undo. A frame that could be read before a clock ran out is handled before the
clock answers. An error in a table ends neither the table nor its neighbours. Its log lines name tables, chairs
and kinds, never tiles.
"""

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from server.clock import now_ms
from server.faults import INTERNAL_ERROR, describe_fault
from server.inbox import Inbox
from server.net.addresses import network_of
from server.records import TableRecord, hash_token
from server.store import Append, Store, StoredTable, StoreFault
from server.table.chairs import chair_of_hash
from server.table.outbox import Outbox
from server.table.output import Built, Joined, Output, Rejected, Thought, ToChair
from server.table.seating import ALL_CHAIRS, Checkpoint, Seating
from shared.bucket import Bucket
from shared.rules.intents import SeatIntent
from shared.wire.messages import NO_CHAIR, PROTOCOL, TO_CLIENT, Close, Command, DeskCommand, Refused, Welcome

log = logging.getLogger("racktempo.keeper")
DRAIN_TURNS = 2
"""Turns of the loop that a frame needs from its client's task to the inbox."""
NOT_RESTORED = "The table could not be restored from the host's disk. Its file is unchanged; the host's log says why."
BESIDE_SHARE = 4
"""How many people of one address may be beside a table."""
BESIDE_PER_S, BESIDE_AT_ONCE = 1, 8
"""How many newcomers may come beside a table at once, and a second after that."""
RETRY_MS = 1_000
"""How long to wait after a failure before the table's deadlines are served again."""


@dataclass(frozen=True, slots=True)
class _Knock:
    at_ms: int
    line: Outbox
    name: str
    token: bytes | None
    watches: bool


@dataclass(frozen=True, slots=True)
class _Heard:
    at_ms: int
    line: Outbox
    command: Command


@dataclass(frozen=True, slots=True)
class _Lost:
    at_ms: int
    line: Outbox


@dataclass(frozen=True, slots=True)
class _Thought:
    at_ms: int
    thought: Thought
    intent: SeatIntent


@dataclass(frozen=True, slots=True)
class _Stall:
    """at_ms is when it began: commands read before it are handled before it, so that the time goes back to the
    clocks that ran during the stall, and to no others."""

    at_ms: int
    by_ms: int


@dataclass(frozen=True, slots=True)
class _Tick:
    at_ms: int


_Item = _Tick | _Knock | _Heard | _Lost | _Thought | _Stall


class Keeper:
    """Runs one table for its lines.

    A stored table that cannot be restored refuses every client, and its file stays as it is (is_restored).
    Others that act on the table, like a club's desk, hold turn meanwhile; watch is called after every change
    that people have seen, with whether a heat ended or somebody left.
    """

    def __init__(self, table: Seating, store: Store, thinkers: Executor, stored: StoredTable | None = None) -> None:
        self.table = table
        self.lines: dict[int, Outbox] = {}
        self.is_open = asyncio.Event()
        self.turn = asyncio.Lock()
        self.is_restored = True
        self.watch: Callable[[bool], None] = lambda has_finished: None
        self._store = store
        self._thinkers = thinkers
        self._stored = stored
        self._inbox: Inbox[_Item] = Inbox()
        self._kept: object = None
        self._events_kept = len(stored.events) if stored else 0
        self._not_before_ms = 0
        self._stall_told_ms = 0
        self._arrived: list[tuple[Outbox, Joined]] = []
        self._moved: list[tuple[tuple[int, int], ...]] = []
        self._thinking: set[asyncio.Task[None]] = set()
        self._come_beside = Bucket(BESIDE_PER_S, BESIDE_AT_ONCE)

    @property
    def name(self) -> str:
        """The table's id, for log lines."""
        return self.table.record.id

    # ---- what arrives

    def knock(self, line: Outbox, name: str, token: bytes | None, watches: bool = False) -> None:
        """Let a client in, to a chair or only to watch, or close its line with the reason."""
        line.receiver = self
        self._inbox.put(_Knock(now_ms(), line, name, token, watches))

    def hear(self, line: Outbox, command: Command | DeskCommand, at_ms: int) -> None:
        """Take a command that was read at that moment."""
        if isinstance(command, Command):
            self._inbox.put(_Heard(at_ms, line, command))
        else:
            line.end(Close.BAD_FRAME, "Only a desk may send this.")

    def lost(self, line: Outbox) -> None:
        """Take note that a line is gone."""
        self._inbox.put(_Lost(now_ms(), line))

    def stalled(self, by_ms: int, wake_in_ms: int, every_ms: int) -> None:
        """Note that the machine stood still. The table handles this before anything else, but it is not woken
        at once, nor more often than every_ms, or an overloaded machine would be kept busy with it."""
        self._inbox.put_quietly(_Stall(now_ms() - by_ms, by_ms))
        self._inbox.wake_at(max(now_ms() + wake_in_ms, self._stall_told_ms + every_ms))

    def knows(self, token_hash: bytes) -> bool:
        """Say whether the token with this hash belongs to a chair of this table, or to somebody beside it."""
        return self.table.knows(token_hash)

    # ---- the one task

    async def run(self) -> None:
        """Keep the table until cancelled."""
        if self._stored:
            try:
                async with self.turn:
                    await self._resume(self._stored)
            except Exception as error:
                log.error("table %s cannot be restored: %s", self.name, describe_fault(error))
                self.is_restored = False
        self.is_open.set()
        while not self.is_restored:
            await self._refuse()
        while True:
            await self._inbox.wait(self._deadline_ms())
            for _ in range(DRAIN_TURNS):
                await asyncio.sleep(0)
            items = _in_order(self._inbox.take())
            if any(isinstance(item, _Stall) for item in items):
                self._stall_told_ms = now_ms()
            if self._is_due():
                items.append(_Tick(now_ms()))
            try:
                async with self.turn:
                    await self._settle(items)
            except Exception as error:
                self._bug(error)

    async def _refuse(self) -> None:
        """Wait until somebody knocks, and refuse them."""
        await self._inbox.wait(None)
        for item in self._inbox.take():
            if isinstance(item, _Knock):
                item.line.end(Close.TABLE_CLOSED, NOT_RESTORED)

    async def _resume(self, stored: StoredTable) -> None:
        output = self.table.restore(stored.events, stored.finished, now_ms())
        while True:
            try:
                return await self._commit([output])
            except StoreFault as fault:
                log.error("table %s: %s", self.name, fault)
                await asyncio.sleep(RETRY_MS / 1_000)

    def _is_due(self) -> bool:
        deadline_ms = self._deadline_ms()
        return deadline_ms is not None and deadline_ms <= now_ms()

    def _deadline_ms(self) -> int | None:
        try:
            deadline_ms = self.table.next_deadline_ms()
        except Exception as error:
            self._bug(error)
            deadline_ms = now_ms()
        return None if deadline_ms is None else max(deadline_ms, self._not_before_ms)

    async def _settle(self, items: Sequence[_Item]) -> None:
        rest = deque(items)
        while rest:
            await self._settle_some(rest)

    async def _settle_some(self, rest: "deque[_Item]") -> None:
        """Take items up to one that closes a line: that line is gone before somebody else comes to its chair."""
        before = self.table.checkpoint()
        self._moved.clear()
        items, outputs = list[_Item](), list[Output]()
        while rest and not (outputs and outputs[-1].closing):
            items.append(rest.popleft())
            if output := self._applied(items[-1]):
                for earlier in outputs:
                    earlier.follow(output.moved)
                outputs.append(output)
        try:
            await self._commit(outputs)
        except StoreFault as fault:
            log.error("table %s: %s", self.name, fault)
            self._undo(items, before, "The host's disk cannot be written; nothing was changed.")
        except Exception as error:
            self._bug(error)
            self._undo(items, before, INTERNAL_ERROR)

    def _applied(self, item: _Item) -> Output | None:
        """Hand one item to the table; an error in it undoes this item only and costs only its own line."""
        before = self.table.checkpoint()
        try:
            output = self._apply(item)
            if output and output.moved:
                self._lead(output.moved)
            return output
        except Exception as error:
            self.table.go_back(before, sorted(self.lines))
            self._bug(error)
            if isinstance(item, _Knock | _Heard):
                item.line.end(1011, INTERNAL_ERROR)
            return None

    def _apply(self, item: _Item) -> Output | None:
        match item:
            case _Tick():
                return self.table.tick(item.at_ms)
            case _Stall():
                return self.table.stalled(item.by_ms, item.at_ms + item.by_ms)
            case _Thought(thought=thought):
                return self.table.thought(thought.chair, thought.heat, thought.step, item.intent, item.at_ms)
            case _Knock():
                return self._join(item)
            case _Heard(line=line):
                if line.chair is None or self.lines.get(line.chair) is not line:
                    return None
                return self.table.command(line.chair, item.command, item.at_ms)
            case _Lost(line=line):
                if line.chair is None or self.lines.get(line.chair) is not line:
                    return None
                log.info("table %s: chair %d lost its line%s", self.name, line.chair, " (slow)" * line.was_slow)
                del self.lines[line.chair]
                return self.table.disconnected(line.chair, item.at_ms)

    def _join(self, knock: _Knock) -> Output | None:
        if knock.line.is_lost:
            return None
        own = hash_token(knock.token or b"")
        is_new, crowded = not self.knows(own), self._crowded(knock)
        if knock.watches and (is_new or chair_of_hash(self.table.record, own) is None):
            answer = self.table.watch(knock.name, knock.token, crowded)
        else:
            answer = self.table.join(knock.name, knock.token, knock.at_ms, knock.line.held, crowded)
        if isinstance(answer, Rejected):
            knock.line.end(answer.close, answer.text)
            return answer.output
        if is_new and answer.chair not in ALL_CHAIRS:
            self._come_beside.take(knock.at_ms)
        self.arrive(knock.line, answer)
        return answer.output

    def _crowded(self, knock: _Knock) -> str:
        """Return why a newcomer gets no place beside the table now, or nothing. Each costs a write, and a view for
        everybody here."""
        if knock.at_ms < self._come_beside.next_ms():
            return "People come and go too fast beside this table; wait a moment."
        at = network_of(knock.line.address)
        here = sum(network_of(other.address) == at for place, other in self.lines.items() if place not in ALL_CHAIRS)
        if here >= BESIDE_SHARE:
            return f"Every chair is taken, and {here} people from your address watch already."
        return ""

    def arrive(self, line: Outbox, joined: Joined) -> None:
        """Give a line its chair, in place of an older line; its welcome goes out with the next delivery."""
        older = self.lines.get(joined.chair)
        if older and older is not line:
            older.end(Close.SEAT_TAKEN_OVER, "Your seat is now played elsewhere.")
        log.info("table %s: chair %d joined", self.name, joined.chair)
        line.chair, line.token, line.receiver = joined.chair, joined.token, self
        self.lines[joined.chair] = line
        self._arrived.append((line, joined))

    def _lead(self, moved: tuple[tuple[int, int], ...]) -> None:
        """Lead lines to where their people sit now; each gets a second welcome."""
        self._moved.append(moved)
        lines = {to: self.lines.pop(chair) for chair, to in moved if chair in self.lines}
        for to, line in lines.items():
            self.arrive(line, Joined(to, line.token, self.table.record.chairs[to].last_id, Output()))

    def forget_arrivals(self) -> None:
        """Nobody has arrived after all: what the table knew of them is undone."""
        for line, joined in self._arrived:
            if self.lines.get(joined.chair) is line:
                del self.lines[joined.chair]
                line.chair = None
        self._arrived.clear()

    # ---- disk first, then people

    async def _commit(self, outputs: Sequence[Output]) -> None:
        """Store what the outputs say and the table's record, then deliver. Raises StoreFault."""
        appends = self.to_store(outputs)
        if appends:
            await self._store.append(appends)
        self.deliver(outputs)

    def look_again(self) -> None:
        """Wake up: somebody who acted on the table from outside may have changed its next deadline."""
        self._inbox.wake()

    def to_store(self, outputs: Sequence[Output]) -> list[Append]:
        """Return what must be on the disk before the outputs are delivered."""
        record, kept = self.table.record, self._events_kept
        appends: list[Append] = []
        for output in outputs:
            if output.events:
                appends.append(Append(record, output.heat, kept, tuple(output.events), output.finished))
                kept = 0 if output.finished else kept + len(output.events)
        if record is not self._kept and not appends:
            appends.append(Append(record))
        return appends

    def deliver(self, outputs: Sequence[Output]) -> None:
        """Tell people what is on the disk now."""
        for output in outputs:
            if output.events:
                self._events_kept = 0 if output.finished else self._events_kept + len(output.events)
        self._kept = self.table.record
        self._deliver(outputs)
        if outputs:
            self.watch(any(output.finished or output.closing for output in outputs))

    def _deliver(self, outputs: Sequence[Output]) -> None:
        changed: set[int] = set()
        for line, joined in self._arrived:
            line.welcome(TO_CLIENT.pack(_welcome(joined, self.table.record)))
        self._arrived.clear()
        for output in outputs:
            for chair, message in output.messages:
                self._send(chair, message)
            for chair, code, text in output.closing:
                if chair in self.lines:
                    log.info("table %s: chair %d is closed: %s", self.name, chair, code.name)
                    self.lines.pop(chair).end(code, text)
            for thought in output.thoughts:
                task = asyncio.create_task(self._think(thought))
                self._thinking.add(task)
                task.add_done_callback(self._thinking.discard)
            changed |= set(output.changed)
        for chair in sorted(changed):
            self._send(chair)

    def _send(self, chair: int, message: ToChair | None = None) -> None:
        """Send a chair a message, or else its view; an error costs only this line, since what is on the disk stays."""
        line = self.lines.get(chair)
        if line is None:
            return
        try:
            if message is None:
                view = self.table.view if chair in ALL_CHAIRS else self.table.view_from
                line.show(TO_CLIENT.pack(view(chair, now_ms())))
            else:
                line.tell(message.frame if isinstance(message, Built) else TO_CLIENT.pack(message))
        except Exception as error:
            self._bug(error)
            line.end(1011, "Internal error; connect again to see the table.")

    async def _think(self, thought: Thought) -> None:
        try:
            intent = await asyncio.get_running_loop().run_in_executor(self._thinkers, thought.run)
        except Exception as error:
            # If a bot fails, the seat's clock answers for it.
            self._bug(error)
        else:
            self._inbox.put(_Thought(now_ms(), thought, intent))

    def _undo(self, items: Sequence[_Item], before: Checkpoint, text: str) -> None:
        """Go back to before the items and say why to those who asked; what bots thought is tried again."""
        self._not_before_ms = now_ms() + RETRY_MS
        for moved in reversed(self._moved):
            back = {chair: self.lines.pop(to) for chair, to in moved if to in self.lines}
            for chair, line in back.items():
                line.chair, self.lines[chair] = chair, line
        self._arrived.clear()
        for item in items:
            match item:
                case _Knock(line=line) if line.chair is not None:
                    if self.lines.get(line.chair) is line:
                        del self.lines[line.chair]
                    line.end(1011, text)
                case _Heard(line=line, command=command):
                    line.tell(TO_CLIENT.pack(Refused(id=command.id, code="disk", text=text, late_ms=None)))
                case _Stall():
                    self._inbox.put_quietly(item)
                case _Thought():
                    self._inbox.put_later(item, RETRY_MS)
        self.table.go_back(before, sorted(self.lines))

    def _bug(self, error: Exception) -> None:
        self._not_before_ms = now_ms() + RETRY_MS
        log.error("table %s: %s", self.name, describe_fault(error))


def _in_order(items: Iterable[_Item]) -> list[_Item]:
    """Return items by their moments; stalls with nothing between them become one."""
    ordered: list[_Item] = []
    for item in sorted(items, key=lambda item: item.at_ms):
        last = ordered[-1] if ordered else None
        if isinstance(item, _Stall) and isinstance(last, _Stall):
            ordered[-1] = _Stall(last.at_ms, last.by_ms + item.by_ms)
        else:
            ordered.append(item)
    return ordered


def _welcome(joined: Joined, record: TableRecord) -> Welcome:
    return Welcome(
        protocol=PROTOCOL,
        token=joined.token,
        chair=joined.chair if joined.chair in ALL_CHAIRS else NO_CHAIR,
        last_id=joined.last_id,
        card=record.card,
        card_title=record.card_title,
        card_digest=record.card_digest,
        table=record.id,
    )

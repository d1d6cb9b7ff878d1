"""Who sits at a table, who is connected, and commands that count once. Table and SharedClockTable build on it.

The base of every table that a keeper keeps, and all that a keeper knows of one. Synchronous: messages and times go
in, an Output comes out. The shell must store an Output before it sends anything that the Output caused; if it
cannot, it goes back to the checkpoint it took before.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable

from server.kept import KeptHeat
from server.records import TableRecord
from server.table.chairs import chair_of_token, free_chair, person_chair
from server.table.output import Joined, Output, Rejected
from server.table.retelling import NOTHING_OWED, AllOwed
from server.table.running import RunningHeat
from shared.rules.events import AnyEvent
from shared.rules.intents import Arrange, Lift, SeatIntent
from shared.rules.refusals import Refusal
from shared.rules.steps import StepName
from shared.wire.group_views import GroupView
from shared.wire.messages import NOTHING_HELD, Close, Command, Done, Held, Refused
from shared.wire.views import View

ALL_CHAIRS = (0, 1, 2, 3)
TOKEN_BYTES = 16
_REPLIES_KEPT = 64
Checkpoint = tuple[TableRecord, RunningHeat | None, tuple[KeptHeat, ...], AllOwed]


class Seating(ABC):
    """Four chairs. All moments are milliseconds of one monotonic clock; random_bytes(n) gives fresh random bytes."""

    def __init__(self, record: TableRecord, random_bytes: Callable[[int], bytes]) -> None:
        self._record = record
        self._random_bytes = random_bytes
        self._revisions = [0, 0, 0, 0]
        self._connected: set[int] = set()
        self._replies: tuple[dict[int, Done | Refused], ...] = ({}, {}, {}, {})

    # ---- what the shell asks

    @property
    def record(self) -> TableRecord:
        """Everything that must be stored besides the running heat's events and the finished heats."""
        return self._record

    def checkpoint(self) -> Checkpoint:
        """Return what to go back to if an Output could not be stored."""
        return self._record, None, (), NOTHING_OWED

    def go_back(self, checkpoint: Checkpoint, connected: Iterable[int]) -> None:
        """Undo everything since the checkpoint, but for the lines: these chairs are connected now."""
        self._record = checkpoint[0]
        self._connected = set(connected)
        for replies in self._replies:
            replies.clear()

    @abstractmethod
    def restore(self, events: tuple[AnyEvent, ...], finished: tuple[KeptHeat, ...], now_ms: int) -> Output:
        """Take over from disk what was going on; it is paused."""

    def join(self, name: str, token: bytes | None, now_ms: int, held: Held = NOTHING_HELD) -> Joined | Rejected:
        """Seat a client: on its own chair if it holds that chair's token, else on the first that is free. It is told
        the heats that it does not hold.

        A token that belongs to no chair becomes the new chair's: a client that chose it keeps its seat even if
        the welcome is lost on the way.
        """
        out = Output()
        chair = chair_of_token(self._record, token) if token else None
        is_new = chair is None
        if chair is None:
            chair = self._free_chair(token)
            if chair is None:
                return Rejected(Close.TABLE_FULL, "All four chairs of this table are taken.")
            token = token or self._random_bytes(TOKEN_BYTES)
            self._hand_on(chair)
            newcomer = person_chair(self._record, chair, name, token, self._first_heat())
            self._record = self._record.with_chair(chair, newcomer)
            self._replies[chair].clear()
        elif self._record.chairs[chair].stand_in or self._record.chairs[chair].left:
            self._change(chair, stand_in=False, left=False)
        if self._record.host is None:
            self._record = self._record.with_(host=chair)
        assert token is not None
        self._connected.add(chair)
        self._arrived(chair, is_new, held if held.table == self._record.id else NOTHING_HELD, now_ms, out)
        return Joined(chair, token, self._record.chairs[chair].last_id, self._told(out))

    def disconnected(self, chair: int) -> Output:
        """The line to a chair is cut; the person keeps the seat, and its clock runs on."""
        self._connected.discard(chair)
        return self._told(Output())

    def command(self, chair: int, command: Command, now_ms: int) -> Output:
        """Carry out a command that was read at now_ms; a repeated one is only answered again."""
        out = Output()
        known = self._replies[chair].get(command.id)
        if known or command.id <= self._record.chairs[chair].last_id:
            text = "This was done before; the table shows the result."
            reply = known or Refused(id=command.id, code="repeated", text=text, late_ms=None)
            out.messages.append((chair, reply))
            return out
        refusal = self._obey(chair, command, now_ms, out)
        answer: Done | Refused = Done(id=command.id)
        if refusal:
            answer = Refused(id=command.id, code=refusal.code, text=refusal.text, late_ms=refusal.late_ms)
        else:
            is_private = isinstance(command.intent, Lift | Arrange)
            self._told(out, (chair,) if is_private else ALL_CHAIRS)
        self._change(chair, last_id=command.id)
        replies = self._replies[chair]
        replies[command.id] = answer
        if len(replies) > _REPLIES_KEPT:
            del replies[min(replies)]
        out.messages.insert(0, (chair, answer))
        return out

    @abstractmethod
    def tick(self, now_ms: int) -> Output:
        """Do what time alone brings about."""

    @abstractmethod
    def thought(self, chair: int, heat: int, step: StepName, intent: SeatIntent, now_ms: int) -> Output:
        """Take a bot's decision."""

    @abstractmethod
    def stalled(self, by_ms: int, now_ms: int) -> Output:
        """The machine stood still for so long: give the time back to every running clock."""

    @abstractmethod
    def next_deadline_ms(self) -> int | None:
        """Return when tick has something to do, or None while nothing is timed."""

    @abstractmethod
    def view(self, chair: int, now_ms: int) -> View | GroupView:
        """Return all that a chair may see now."""

    # ---- where tables differ

    @abstractmethod
    def _obey(self, chair: int, command: Command, now_ms: int, out: Output) -> Refusal | None:
        """Do what a chair asks, or say why not."""

    @abstractmethod
    def _first_heat(self) -> int:
        """Return the first heat that somebody plays who comes now."""

    @abstractmethod
    def _arrived(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        """Somebody has sat down, for the first time or again, and holds these heats of this table."""

    def _free_chair(self, token: bytes | None) -> int | None:
        return free_chair(self._record)

    # ---- chairs

    def _say_goodbye(self, chair: int, out: Output) -> None:
        """Close the line of a person who has left; if it was the host, the first connected person becomes host."""
        out.closing.append((chair, Close.TABLE_CLOSED, "You have left the table."))
        self._connected.discard(chair)
        self._hand_on(chair)

    def _hand_on(self, chair: int) -> None:
        """If this chair's person was the host, make the first other connected person the host."""
        if self._record.host == chair:
            people = [other for other in ALL_CHAIRS if other != chair and self._record.chairs[other].is_present]
            self._record = self._record.with_(host=people[0] if people else None)

    def _change(self, chair: int, **changes: object) -> None:
        self._record = self._record.with_chair(chair, self._record.chairs[chair].model_copy(update=changes))

    def _told(self, out: Output, chairs: tuple[int, ...] = ALL_CHAIRS) -> Output:
        for chair in chairs:
            self._revisions[chair] += 1
        out.changed = chairs
        return out

    def _host_now(self) -> int | None:
        """The host, or while the host is disconnected the first connected person: a table never waits for a host."""
        host = self._record.host
        people = [chair for chair in sorted(self._connected) if self._record.chairs[chair].sitter == "person"]
        return host if host in self._connected or not people else people[0]

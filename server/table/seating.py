"""Who sits at a table, who is connected, and commands that count once. Table and SharedClockTable build on it.

The base of every table that a keeper keeps, and all that a keeper knows of one. Synchronous: messages and times go
in, an Output comes out. The shell must store an Output before it sends anything that the Output caused; if it
cannot, it goes back to the checkpoint it took before.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from server.kept import KeptHeat
from server.records import EMPTY, TableRecord, each, hash_token
from server.table.chairs import away_chair, chair_of_hash, chair_of_token, free_chair, named_chair, person_chair
from server.table.output import Joined, Output, Rejected
from server.table.retelling import NOTHING_OWED, AllOwed
from server.table.running import RunningHeat
from shared.rules.events import AnyEvent
from shared.rules.intents import Arrange, Lift, SeatIntent
from shared.rules.refusals import Refusal
from shared.rules.steps import StepName
from shared.wire.club_views import ClubView
from shared.wire.group_views import GroupView
from shared.wire.messages import NOTHING_HELD, Close, Command, Done, Held, Refused
from shared.wire.views import View

ALL_CHAIRS = (0, 1, 2, 3)
TOKEN_BYTES = 16
_REPLIES_KEPT = 64
_AWAY_KEPT = 64
ASKING_MS = 10_000
"""How long a machine that asks for somebody's seat is remembered; it asks again by itself, every two seconds."""
Checkpoint = tuple[TableRecord, RunningHeat | None, tuple[KeptHeat, ...], AllOwed]


PLAYED_ELSEWHERE = "You play here from another machine now."
BACK = "The seat of this name is played from its own machine again. Are you somebody else? Use another name."


@dataclass(frozen=True, slots=True)
class Asking:
    """A machine that asks for a chair by its person's name; the host has let it in, or has not yet. person is whose
    chair it was then: the word of the host counts for nobody else's."""

    token_hash: bytes
    person: str
    at_ms: int
    may: bool = False


class Seating(ABC):
    """Four chairs. All moments are milliseconds of one monotonic clock; random_bytes(n) gives fresh random bytes."""

    def __init__(self, record: TableRecord, random_bytes: Callable[[int], bytes]) -> None:
        self._record = record
        self._random_bytes = random_bytes
        self._revisions = [0, 0, 0, 0]
        self._connected: set[int] = set()
        self._host_lost_ms: int | None = None
        self._stood_in = False
        self._asking: dict[int, Asking] = {}
        self._replaced: dict[bytes, str] = {}
        self._have_asked: dict[bytes, None] = {}
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
        self._connected = {chair for chair in connected if chair in ALL_CHAIRS}
        for replies in self._replies:
            replies.clear()

    @abstractmethod
    def restore(self, events: tuple[AnyEvent, ...], finished: tuple[KeptHeat, ...], now_ms: int) -> Output:
        """Take over from disk what was going on; it is paused."""

    def join(
        self, name: str, token: bytes | None, now_ms: int, held: Held = NOTHING_HELD, crowded: str = ""
    ) -> Joined | Rejected:
        """Seat a client: on its own chair if it holds that chair's token, else on the first that is free, else beside
        the table, unless it is too crowded there for this client. It is told the heats that it does not hold.

        A token that belongs to no chair becomes the new chair's: a client that chose it keeps its seat even if
        the welcome is lost on the way.
        """
        out = Output()
        chair = chair_of_token(self._record, token) if token else None
        is_new = chair is None
        if chair is None:
            if answer := self._turned_away(name, token, now_ms):
                return answer
            chair = self._regained(token)
            is_new = chair is None
        if chair is None:
            chair = self._free_chair(hash_token(token or b""))
            if chair is None:
                return self.watch(name, token, crowded, waits=True)
            token = token or self._random_bytes(TOKEN_BYTES)
            self._take_chair(chair, name, hash_token(token))
        elif self._record.chairs[chair].stand_in or self._record.chairs[chair].left:
            self._comes_back(chair)
        assert token is not None
        self._sits(chair, is_new, held if held.table == self._record.id else NOTHING_HELD, now_ms, out)
        return Joined(chair, token, self._record.chairs[chair].last_id, self._told(out))

    def watch(self, name: str, token: bytes | None, crowded: str = "", waits: bool = False) -> Joined | Rejected:
        """Give a client a place beside the table, where there are such; waits: a free chair is theirs."""
        if waits:
            return Rejected(Close.TABLE_FULL, "Every chair of this table is taken for now.")
        return Rejected(Close.NO_CLUB, "There is nothing to watch here.")

    def knows(self, token_hash: bytes) -> bool:
        """Say whether the token with this hash belongs to somebody here."""
        return chair_of_hash(self._record, token_hash) is not None

    def disconnected(self, chair: int, now_ms: int) -> Output:
        """The line to a chair is cut; the person keeps the seat, and its clock runs on."""
        self._connected.discard(chair)
        if chair == self._record.host:
            self._host_lost_ms = now_ms
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
        chair = dict(out.moved).get(chair, chair)
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

    def view_from(self, place: int, now_ms: int) -> ClubView:
        """Return all that a place beside the table may see now."""
        raise NotImplementedError

    # ---- where tables differ

    def _comes_back(self, chair: int) -> None:
        """Somebody is back on their chair, where a bot played or nobody waited for them."""
        self._change(chair, stand_in=False, left=False)

    @abstractmethod
    def _obey(self, chair: int, command: Command, now_ms: int, out: Output) -> Refusal | None:
        """Do what a chair asks, or say why not."""

    @abstractmethod
    def _first_heat(self) -> int:
        """Return the first heat that somebody plays who comes now."""

    @abstractmethod
    def _arrived(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        """Somebody has sat down, for the first time or again, and holds these heats of this table."""

    def _free_chair(self, token_hash: bytes) -> int | None:
        return free_chair(self._record)

    # ---- who stays out, and who comes back from another machine

    def _turned_away(self, name: str, token: bytes | None, now_ms: int) -> Rejected | None:
        """Turn away who was sent away, and who asks for the seat of somebody else until the host lets them in."""
        token_hash = hash_token(token) if token else b""
        if token_hash in self._record.sent_away:
            return Rejected(Close.SENT_AWAY, "The host has sent you away for this evening.")
        if self._is_played_elsewhere(token_hash):
            return Rejected(Close.SEAT_TAKEN_OVER, PLAYED_ELSEWHERE)
        if self.is_back(token_hash, name):
            return Rejected(Close.SEAT_TAKEN_OVER, BACK)
        chair = away_chair(self._record, name, self._connected)
        if chair is None or not self._may_regain or not token:
            return None
        asking = self._asks(chair)
        if asking and asking.token_hash == token_hash and asking.may:
            return None
        is_same = asking is not None and asking.token_hash == token_hash
        if asking is None or is_same or asking.at_ms + ASKING_MS < now_ms:
            self._asking[chair] = Asking(token_hash, self._record.chairs[chair].person, now_ms)
        self._have_asked = dict(list({**self._have_asked, token_hash: None}.items())[-_AWAY_KEPT:])
        text = "Your seat is kept; the host is asked to let this machine in. Are you somebody else? Use another name."
        out = self._told(Output()) if not is_same else Output()
        return Rejected(Close.ASKED_HOST, text, out)

    @property
    def _may_regain(self) -> bool:
        """Whether a host is here who can let a machine in."""
        return self._record.host in self._connected

    def _regained(self, token: bytes | None) -> int | None:
        """Return the chair that the host has let this machine have; the old machine's token opens it no more."""
        token_hash = hash_token(token) if token else b""
        for chair in ALL_CHAIRS:
            asking = self._asks(chair)
            if asking and asking.may and asking.token_hash == token_hash:
                del self._asking[chair]
                old_hash = self._record.chairs[chair].token_hash
                self._change(chair, token_hash=token_hash)
                new = self._record.chairs[chair].person
                self.know_as(asking.person, new)
                self._replaced = dict(list({**self._replaced, old_hash: new}.items())[-_AWAY_KEPT:])
                self._replaced.pop(token_hash, None)
                return chair
        return None

    def is_back(self, token_hash: bytes, name: str) -> bool:
        """Say whether a machine has asked for the seat of somebody who is here from their own by now: it would come in
        as one more of that name, and nobody would know why."""
        return token_hash in self._have_asked and named_chair(self._record, name) in self._connected

    def know_as(self, old: str, new: str) -> None:
        """Know a person by another key: all that they played here stays theirs."""
        self._record = self._record.renamed(old, new)
        self._replaced = {one: new if who == old else who for one, who in self._replaced.items()}

    def replaced(self, token_hash: bytes) -> str | None:
        """Return the person whom a machine has lost to another one. A restarted host knows it no more."""
        return self._replaced.get(token_hash)

    def _is_played_elsewhere(self, token_hash: bytes) -> bool:
        """Whether a machine lost its person to another machine, whose line is up."""
        person = self.replaced(token_hash)
        chairs = (chair for chair in ALL_CHAIRS if self._record.chairs[chair].person == person)
        return person is not None and next(chairs, None) in self._connected

    def _asks(self, chair: int) -> Asking | None:
        """Return the machine that asks for a chair, while the line of its person is down."""
        asking = self._asking.get(chair)
        is_theirs = asking is not None and asking.person == self._record.chairs[chair].person
        return asking if is_theirs and chair not in self._connected else None

    def _is_asked_for(self, chair: int) -> bool:
        """Whether another machine asks for a chair and waits for the host's word."""
        asking = self._asks(chair)
        return asking is not None and not asking.may

    def _let_in(self, chair: int) -> Refusal | None:
        asking = self._asks(chair)
        if asking is None:
            return Refusal("not now", "No other machine asks for this chair.")
        self._asking[chair] = replace(asking, may=True)
        return None

    # ---- chairs

    def _take_chair(self, chair: int, name: str, token_hash: bytes) -> None:
        """Put a newcomer on a chair."""
        self._hand_on(chair)
        newcomer = person_chair(self._record, chair, name, token_hash, self._first_heat())
        self._record = self._record.with_chair(chair, newcomer)
        self._replies[chair].clear()

    def _sits(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        """The person of a chair has a line now."""
        if self._record.host is None:
            self._record = self._record.with_(host=chair)
        self._connected.add(chair)
        self._asking.pop(chair, None)
        if chair == self._record.host:
            self._host_lost_ms, self._stood_in = None, False
        self._arrived(chair, is_new, held, now_ms, out)

    def _sent_away(self, token_hash: bytes) -> None:
        """Somebody stays out for the evening."""
        away = (*self._record.sent_away, token_hash)
        self._record = self._record.with_(sent_away=away[-_AWAY_KEPT:])

    def _move(self, chair: int, to: int, out: Output) -> Refusal | None:
        """Let a person sit on another chair: at once if nobody sits there, or when both wish it."""
        record = self._record
        mine, other = record.chairs[chair], record.chairs[to]
        if to == chair or (other.sitter == "person" and other.wish != chair):
            self._change(chair, wish=None if to == chair else to)
            return None
        was_bot = other.sitter == "bot"
        there = EMPTY if other.sitter == "nobody" or was_bot else other.model_copy(update={"wish": None})
        self._record = record.with_chair(to, mine.model_copy(update={"wish": None})).with_chair(chair, there)
        ways = {chair: to, to: chair}
        if record.host in ways:
            self._record = self._record.with_(host=ways[record.host])
        people = [one for one in ways if record.chairs[one].sitter == "person"]
        out.moved = tuple((one, ways[one]) for one in people)
        self._connected = {ways.get(one, one) for one in self._connected}
        self._asking = {ways.get(one, one): asking for one, asking in self._asking.items()}
        self._replies = each(lambda one: self._replies[ways.get(one, one)])
        return None

    def _say_goodbye(self, chair: int, out: Output) -> None:
        """Close the line of a person who has left; if it was the host, another person becomes host."""
        out.closing.append((chair, Close.TABLE_CLOSED, "You have left the table."))
        self._connected.discard(chair)
        self._hand_on(chair)

    def _hand_on(self, chair: int) -> None:
        """If this chair's person was the host, make the first other connected person the host."""
        if self._record.host == chair:
            self._record = self._record.with_(host=min(self._connected - {chair}, default=None))

    def _change(self, chair: int, **changes: object) -> None:
        self._record = self._record.with_chair(chair, self._record.chairs[chair].model_copy(update=changes))

    def _told(self, out: Output, chairs: tuple[int, ...] = ALL_CHAIRS) -> Output:
        for chair in chairs:
            self._revisions[chair] += 1
        out.changed = chairs
        return out

    def _host_now(self) -> int | None:
        """The host, or once the host has been away for the time they set, the first connected person."""
        host = self._record.host
        people = [chair for chair in sorted(self._connected) if self._record.chairs[chair].sitter == "person"]
        return people[0] if self._host_is_away and people else host

    @property
    def _host_is_away(self) -> bool:
        return self._stood_in and self._record.host not in self._connected

    def _host_due_ms(self) -> int | None:
        """Return when somebody else may keep the table, while its host is away."""
        if self._host_lost_ms is None or self._stood_in or not self._connected - {self._record.host}:
            return None
        return self._host_lost_ms + self._record.settings.host_away_ms

    def _host_tick(self, now_ms: int) -> bool:
        """Let somebody else keep the table if its host has been away for long; say whether that is new."""
        due_ms = self._host_due_ms()
        self._stood_in = self._stood_in or (due_ms is not None and due_ms <= now_ms)
        return due_ms is not None and due_ms <= now_ms

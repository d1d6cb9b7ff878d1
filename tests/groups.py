"""A shared clock for real tiles with its shell reduced to lists: what would be stored and sent is kept, time jumps."""

from collections import defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from itertools import count
from pathlib import Path

from server.admission import Admission
from server.net.listener import Listener, open_listener
from server.records import TableRecord
from server.shared_clock import SharedClockTable
from server.store import RECORD, Store
from server.table.output import Joined, Output, Rejected
from shared.rules.intents import Intent, Ready, StepDone
from shared.rules.settings import Settings
from shared.wire.group_views import GroupView, PlaceView
from shared.wire.messages import Close, Command, Done, OwnTimes, Refused
from tests.server.players import CODE, counted_bytes

TWO_MINUTES = Settings(level_ms=120_000, heats=2)
READY = Ready()
NAMES = ("Anna", "Bo", "Cy", "Di")


def clock_record(settings: Settings = TWO_MINUTES, code: str = "marigold-otter-lemon-07") -> TableRecord:
    return TableRecord(id="c1", name="Anna's clock", code=code, settings=settings)


@asynccontextmanager
async def open_clock(path: Path | None = None) -> AsyncIterator[tuple[Listener, SharedClockTable]]:
    """A clock behind a real listener, with the word code of the server's tests, in memory or in a file."""
    store = Store.open(path)
    table = SharedClockTable(clock_record(code=CODE), counted_bytes(), lambda: "2030-01-01T20:00:00+00:00")
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(table)
        yield listener, table
    await store.close()


class Circle:
    """People around a real table. All inputs happen at now_ms, and only wait() moves it."""

    def __init__(self, people: int = 4, settings: Settings = TWO_MINUTES, now_ms: int = 5_000_000) -> None:
        self.now_ms = now_ms
        self.tokens: dict[int, bytes] = {}
        self.ids: defaultdict[int, int] = defaultdict(int)
        self.sent: defaultdict[int, list[object]] = defaultdict(list)
        self.closed: list[tuple[int, Close]] = []
        self._numbers = count(1)
        self.table = SharedClockTable(clock_record(settings), self._bytes, lambda: "2030-01-01T20:00:00+00:00")
        for name in NAMES[:people]:
            self.join(name)

    def _bytes(self, length: int) -> bytes:
        return next(self._numbers).to_bytes(length, "big")

    def take(self, out: Output) -> None:
        """Keep what an output says; the record goes through the store, as it would between any two inputs."""
        assert not out.events
        assert RECORD.unpack(RECORD.pack(self.table.record)) == self.table.record
        for chair, message in out.messages:
            self.sent[chair].append(message)
        self.closed += [(chair, code) for chair, code, _ in out.closing]

    def knock(self, name: str, token: bytes | None = None) -> Joined | Rejected:
        answer = self.table.join(name, token, self.now_ms)
        if isinstance(answer, Joined):
            self.tokens[answer.chair] = answer.token
            self.ids[answer.chair] = answer.last_id
            self.take(answer.output)
        return answer

    def join(self, name: str, token: bytes | None = None) -> int:
        answer = self.knock(name, token)
        assert isinstance(answer, Joined)
        return answer.chair

    def cut(self, chair: int) -> None:
        self.take(self.table.disconnected(chair, self.now_ms))

    def back(self, chair: int) -> None:
        """Come back on the seat that one has."""
        assert self.join("again", self.tokens[chair]) == chair

    def wait(self, seconds: float) -> None:
        self.now_ms += round(seconds * 1_000)

    def ask(self, chair: int, intent: Intent, heat: int | None = None) -> Done | Refused:
        self.ids[chair] += 1
        number = self.table.record.number if heat is None else heat
        out = self.table.command(chair, Command(id=self.ids[chair], heat=number, intent=intent), self.now_ms)
        self.take(out)
        answer = out.messages[0][1]
        assert isinstance(answer, Done | Refused)
        return answer

    def do(self, chair: int, *intents: Intent) -> None:
        for intent in intents:
            answer = self.ask(chair, intent)
            assert isinstance(answer, Done), answer

    def refused(self, chair: int, intent: Intent, heat: int | None = None) -> str:
        """Ask for what must be refused, and see that nothing changed."""
        before = [self.view(other).model_dump() for other in range(4)]
        answer = self.ask(chair, intent, heat)
        assert isinstance(answer, Refused), "this was done"
        assert [self.view(other).model_dump() for other in range(4)] == before
        return answer.code

    def ready(self, *chairs: int) -> None:
        for chair in chairs or range(4):
            if self.view(chair).phase in ("ready", "set-up"):
                self.do(chair, READY)

    def done(self, *chairs: int, says_no: bool = False) -> None:
        """These people (all, if none is named) are done with the running step."""
        for chair in chairs or range(4):
            step = self.view(chair).step
            assert step
            self.do(chair, StepDone(step=step, says_no=says_no))

    def play_heat(self, *chairs: int, seconds: float = 4) -> None:
        """Everybody takes so long for each step of the running heat."""
        while self.view().step:
            self.wait(seconds)
            self.done(*chairs)

    def restart(self, after_s: float = 3_600) -> None:
        """Kill the host's process and build the table again from what was stored; a machine's clock begins anew."""
        record = RECORD.unpack(RECORD.pack(self.table.record))
        self.table = SharedClockTable(record, self._bytes, lambda: "2030-01-01T21:00:00+00:00")
        self.now_ms = round(after_s * 1_000)
        self.take(self.table.restore((), (), self.now_ms))

    def view(self, chair: int = 0) -> GroupView:
        return self.table.view(chair, self.now_ms)

    def places(self) -> tuple[PlaceView, ...]:
        return self.view().places

    def stands(self) -> list[str]:
        return [place.stand for place in self.places()]

    def times(self, chair: int) -> list[OwnTimes]:
        """What a chair was told of its own times."""
        return [message for message in self.sent[chair] if isinstance(message, OwnTimes)]

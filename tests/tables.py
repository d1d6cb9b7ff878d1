"""A table with its shell reduced to lists: what would be stored and sent is kept, time jumps, bots think at once."""

import random
from collections import defaultdict
from collections.abc import Callable
from typing import Any

from client.models.wall import WallWatch
from server.records import TableRecord
from server.table import bots
from server.table.coaches import Think
from server.table.output import Built, Joined, Output, Rejected, ToChair
from server.table.table import Table
from shared.rules.events import AnyEvent
from shared.rules.heat import SavedHeat
from shared.rules.intents import Intent, Ready, SeatIntent
from shared.rules.refusals import RefusalCode
from shared.rules.settings import Settings
from shared.rules.tiles import Rack
from shared.rules.wall import Stream
from shared.wire.messages import TO_CLIENT, Close, Command, Done, HeatFile, OwnHeat, Refused
from shared.wire.views import HeatView, View

QUICK = Settings(level_ms=100_000, bot_pace="quick")
Choose = Callable[[HeatView, Stream], SeatIntent]
READY = Ready()


def opened(message: ToChair) -> Any:
    """Return a message, which may come as a frame that was built before."""
    return TO_CLIENT.unpack(message.frame) if isinstance(message, Built) else message


def framed(message: ToChair) -> bytes:
    """Return the frame of a message."""
    return message.frame if isinstance(message, Built) else TO_CLIENT.pack(message)


def never(card: str, rack: Rack) -> bool:
    """No rack is a finished hand."""
    return False


def slow(**settings: Any) -> Settings:
    """Bots that answer late, so that people can be watched alone."""
    return Settings(level_ms=100_000, bot_pace="slow", **settings)


class Evening:
    """One table and the people who come to it. All inputs happen at now_ms, and only wait() moves it."""

    def __init__(
        self,
        settings: Settings = QUICK,
        people: int = 1,
        seed: int = 1,
        think: Think = bots.choose,
        complete: Callable[[str, Rack], bool] = lambda card, rack: False,
        record: TableRecord | None = None,
    ) -> None:
        self.now_ms = 5_000_000
        self.bytes = random.Random(seed).randbytes
        self.people_dice = Stream(str(seed).encode(), "people")
        record = record or TableRecord(id="t1", name="Boathouse", code="tern-12", settings=settings)
        self.table = Table(record, self.bytes, lambda: "2026-05-01T19:30:00Z", complete, think)
        self.tokens: dict[int, bytes] = {}
        self.ids: dict[int, int] = defaultdict(int)
        self.events: dict[int, list[AnyEvent]] = defaultdict(list)
        self.finished: list[SavedHeat] = []
        self.sent: dict[int, list[Done | Refused | HeatFile | OwnHeat]] = defaultdict(list)
        self.closed: list[tuple[int, Close]] = []
        self.after: Callable[[], None] = lambda: None
        self.watches: dict[int, WallWatch] = {}
        self.silent: set[int] = set()
        """The chairs whose clients take no part in making walls."""
        for number in range(people):
            self.join(f"Person {number + 1}")

    def take(self, out: Output) -> Output:
        """Keep what an output says, and let its bots think."""
        self.events[out.heat] += out.events
        if out.finished:
            self.finished.append(out.finished)
        for chair, message in out.messages:
            self.sent[chair].append(opened(message))
        self.closed += [(chair, code) for chair, code, _ in out.closing]
        self.after()
        for thought in out.thoughts:
            self.take(self.table.thought(thought.chair, thought.heat, thought.step, thought.run(), self.now_ms))
        if self.table.record.round:
            self.make_wall()
        return out

    def watch(self, chair: int) -> WallWatch:
        """Return what the client of a chair sees of walls."""
        if chair not in self.watches:
            self.watches[chair] = WallWatch(random.Random(chair + 1).randbytes)
            self.watches[chair].connected(self.table.record.id)
        return self.watches[chair]

    def make_wall(self) -> None:
        """Let every client that is connected see its table and send its part in the wall."""
        for chair in range(4):
            if self.view(chair).chairs[chair].connected and chair not in self.silent:
                for intent in self.watch(chair).see(self.view(chair)).intents:
                    self.do(chair, intent)

    def knock(self, name: str, token: bytes | None = None) -> Joined | Rejected:
        """Let somebody come in."""
        answer = self.table.join(name, token, self.now_ms)
        if isinstance(answer, Joined):
            self.tokens[answer.chair] = answer.token
            self.ids[answer.chair] = answer.last_id
            self.take(answer.output)
        return answer

    def join(self, name: str, token: bytes | None = None) -> int:
        """Let somebody come in who can, and return their chair."""
        answer = self.knock(name, token)
        assert isinstance(answer, Joined)
        return answer.chair

    def ask(self, chair: int, intent: Intent, heat: int | None = None, id: int | None = None) -> Done | Refused:
        """Send a command of a chair and return its answer."""
        if id is None:
            self.ids[chair] += 1
        number = self.table.record.number if heat is None else heat
        command = Command(id=id or self.ids[chair], heat=number, intent=intent)
        out = self.take(self.table.command(chair, command, self.now_ms))
        to, answer = out.messages[0]
        assert to == chair
        assert isinstance(answer, Done | Refused)
        assert answer.id == command.id
        return answer

    def do(self, chair: int, intent: Intent) -> None:
        """Send a command that must be done."""
        answer = self.ask(chair, intent)
        assert isinstance(answer, Done), answer

    def refused(self, chair: int, intent: Intent) -> RefusalCode:
        """Send a command that must be refused, and check that the table is as it was."""
        before = self.views()
        answer = self.ask(chair, intent)
        assert isinstance(answer, Refused), "this was done"
        assert self.views() == before
        return answer.code

    def ready(self) -> None:
        """Let every person get ready."""
        for chair in self.people():
            if self.table.record.phase in ("seating", "between"):
                self.do(chair, Ready())

    def people(self) -> list[int]:
        """Return the chairs of people who play for themselves."""
        return [chair for chair in range(4) if self.table.record.chairs[chair].is_present]

    def view(self, chair: int = 0) -> View:
        """Return what a chair sees."""
        return self.table.view(chair, self.now_ms)

    def heat(self, chair: int = 0) -> HeatView:
        """Return what a chair sees of the running heat."""
        heat = self.view(chair).heat
        assert heat is not None
        return heat

    def views(self) -> list[View]:
        """Return what all four see."""
        return [self.view(chair) for chair in range(4)]

    def wait(self, ms: int) -> None:
        """Let time pass, doing on the way what is due."""
        end_ms = self.now_ms + ms
        while (due_ms := self.table.next_deadline_ms()) is not None and due_ms <= end_ms:
            self.now_ms = max(self.now_ms, due_ms)
            out = self.take(self.table.tick(self.now_ms))
            again_ms = self.table.next_deadline_ms()
            assert out.events or again_ms is None or again_ms > self.now_ms, "the table is never done with this moment"
        self.now_ms = end_ms

    def answer(self, chair: int) -> None:
        """Let a person answer the running step as a bot would."""
        self.do(chair, bots.choose(self.heat(chair), self.people_dice))

    def people_answer(self) -> None:
        """Let every person who is asked answer."""
        for chair in self.people():
            if self.view(chair).heat and self.heat(chair).owes:
                self.answer(chair)

    def go_to(self, step: str) -> None:
        """Play until a step runs in which the people have not answered."""
        while self.heat().step != step:
            self.people_answer()
            self.wait(1_000)

    def play_heat(self) -> SavedHeat:
        """Play the running heat, or the next one, to its end."""
        if self.table.record.phase != "heat":
            self.ready()
        count = len(self.finished)
        while len(self.finished) == count:
            self.people_answer()
            self.wait(1_000)
        return self.finished[-1]

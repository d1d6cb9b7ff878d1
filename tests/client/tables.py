"""A table in the same thread and in a time of its own: the real rules, no socket and no waiting."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from hashlib import sha256

from client.connection.link import Connected
from client.connection.opened import Opened
from client.tui.ports import Openers
from server.records import TableRecord
from server.table.output import Joined, Output
from server.table.table import Table
from shared.cards.owned import told_card
from shared.cards.play import shipped_text
from shared.rules.drills import Laid
from shared.rules.intents import Intent
from shared.rules.settings import Settings
from shared.wire.messages import PROTOCOL, Command, Welcome
from shared.wire.views import HeatView
from tests.client.lines import Inbox
from tests.tables import opened


class Time:
    """Milliseconds that pass only when told to."""

    def __init__(self) -> None:
        self.ms = 1_000

    def __call__(self) -> int:
        return self.ms


class TableLine(Inbox):
    """A line straight into a Table; commands are answered in order."""

    def __init__(
        self,
        settings: Settings,
        now_ms: Time,
        name: str = "Anna",
        table_name: str = "Boathouse",
        laid: tuple[Laid, ...] = (),
        card: str = "",
    ) -> None:
        super().__init__()
        numbers = iter(range(1_000_000))
        told = told_card(card or shipped_text())
        record = TableRecord(
            id="table",
            name=table_name,
            code="marigold-otter-lemon-07",
            settings=settings,
            card=told.text,
            card_title=told.title,
            card_digest=told.digest,
        )
        self.table = Table(
            record,
            lambda count: _bytes(next(numbers), count),
            lambda: "2026-01-01T00:00:00Z",
            laid=laid,
            own_card=card,
        )
        self.now_ms = now_ms
        joined = self.table.join(name, None, now_ms())
        assert isinstance(joined, Joined)
        self.chair = joined.chair
        welcome = Welcome(
            protocol=PROTOCOL,
            token=bytes(16),
            chair=self.chair,
            last_id=0,
            card=record.card,
            card_title=record.card_title,
            card_digest=record.card_digest,
        )
        self.inbox.put_nowait(Connected(welcome))
        self._take(joined.output)

    def ask(self, intent: Intent, heat: int) -> int:
        self.asked.append(intent)
        command = Command(id=len(self.asked), heat=heat, intent=intent)
        self._take(self.table.command(self.chair, command, self.now_ms()))
        return len(self.asked)

    def pass_time(self, by_ms: int) -> None:
        """Let time pass; whatever is due on the way happens when it is due."""
        end_ms = self.now_ms.ms + by_ms
        while (due_ms := self.table.next_deadline_ms()) is not None and due_ms <= end_ms:
            self.now_ms.ms = max(self.now_ms.ms, due_ms)
            self._take(self.table.tick(self.now_ms()))
        self.now_ms.ms = end_ms
        self._take(Output(changed=True))

    def let_others_play(self) -> None:
        """Let time pass until every bot has answered the running step, or it has closed."""
        before = self.heat()
        while (heat := self.heat()) and before and heat.step == before.step and self._others_owe(heat):
            self.pass_time(250)

    def heat(self) -> HeatView | None:
        """What this chair sees of the running heat."""
        return self.table.view(self.chair, self.now_ms()).heat

    def _others_owe(self, heat: HeatView) -> bool:
        return any(seat.owes and seat.chair != self.chair for seat in heat.seats)

    def _take(self, out: Output) -> None:
        for chair, message in out.messages:
            if chair == self.chair:
                self.inbox.put_nowait(opened(message))
        if out.changed or out.events:
            self.inbox.put_nowait(self.table.view(self.chair, self.now_ms()))
        for thought in out.thoughts:
            now_ms = self.now_ms()
            self._take(self.table.thought(thought.chair, thought.heat, thought.step, thought.run(), now_ms))


def openers_to(line: TableLine, addresses: tuple[str, ...] = ()) -> Openers:
    """Return openers that all lead to this line."""

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line, addresses)

    return Openers(
        solo=lambda settings, name, card: opening(),
        host=lambda settings, name, port, card: opening(),
        join=lambda address, name, code, card, watches: opening(),
    )


def _bytes(number: int, count: int) -> bytes:
    return (sha256(str(number).encode()).digest() * (count // 32 + 1))[:count]

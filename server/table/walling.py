"""A table whose wall everybody takes part in: it leads the round (shared.rules.wall_round) before each deal.

Builds on Seating, and Table on it. While a round runs the phase stays what it was, and nobody rearranges the table.
Nothing is shown of a secret before its attempt is burned or its heat is told.
"""

from abc import abstractmethod
from collections.abc import Callable, Iterable

from server.records import Chair, TableRecord
from server.table.output import Output
from server.table.seating import Checkpoint, Seating
from shared.rules.intents import WallHash, WallValue
from shared.rules.refusals import Refusal
from shared.rules.wall import commitment
from shared.rules.wall_round import MOST_SILENCES, RESTART_MS, SILENCE_MS, Round, WallKind
from shared.wire.views import WallView

BEING_MADE = Refusal("not now", "The wall is being made; this takes a moment.")


class WallTable(Seating):
    """Four chairs that make a wall together. Who is connected when the round begins takes part; bots never do."""

    def __init__(self, record: TableRecord, random_bytes: Callable[[int], bytes], is_laid: bool) -> None:
        super().__init__(record, random_bytes)
        self._is_laid = is_laid
        self._silent_at_ms = 0
        self._stage: tuple[int, int, bool] | None = None

    def go_back(self, checkpoint: Checkpoint, connected: Iterable[int]) -> None:
        """Undo everything since the checkpoint; the next attempt gets its whole time."""
        super().go_back(checkpoint, connected)
        self._stage = None

    @property
    def _kind(self) -> WallKind:
        """How the wall of the coming heat is made."""
        settings = self._record.settings
        if self._is_laid:
            return "laid"
        return "common" if settings.same_deal else "round" if settings.seed is None else "seeded"

    def _wall_view(self) -> WallView:
        record = self._record
        if record.head:
            return WallView(heat=record.head.number, kind=record.head.wall, attempts=record.head.attempts)
        return WallView(heat=record.number + 1, kind=self._kind, attempts=record.round.attempts if record.round else ())

    def _make_wall(self, now_ms: int, out: Output) -> None:
        """Begin the round of the coming heat; where no round is run, deal at once."""
        record = self._record
        if self._kind != "round":
            return self._deal(now_ms, out)
        chairs = [chair for chair in sorted(self._connected) if _takes_part(record.chairs[chair])]
        begun = Round.begun(record.id, record.number + 1, commitment(record.secret), chairs)
        self._record = record.with_(round=begun)
        return self._follow_round(now_ms, out)

    def _take_part(self, chair: int, intent: WallHash | WallValue, now_ms: int, out: Output) -> Refusal | None:
        """Take a chair's hash or value."""
        making = self._record.round
        if making is None:
            return Refusal("not now", "No wall is being made now.")
        if isinstance(intent, WallHash):
            answer = making.hashed(chair, intent.heat, intent.attempt, intent.hash)
        else:
            answer = making.opened(chair, intent.heat, intent.attempt, intent.value)
        if isinstance(answer, Refusal):
            return answer
        self._record = self._record.with_(round=answer)
        self._follow_round(now_ms, out)
        return None

    def _wall_due_ms(self) -> int | None:
        return self._silent_at_ms if self._record.round else None

    def _wall_tick(self, now_ms: int, out: Output) -> bool:
        """Burn an attempt in which somebody has been silent for too long; return whether one was."""
        making = self._record.round
        if making is None or now_ms < self._silent_at_ms:
            return False
        if not making.now.why:
            self._record = self._record.with_(round=making.burned("silent", making.now.awaited))
        self._follow_round(now_ms, out)
        return True

    def _wall_restored(self, now_ms: int, out: Output) -> None:
        """Go on with the stored round; people get a moment more to come back."""
        if self._record.round:
            self._follow_round(now_ms, out)
            self._silent_at_ms = now_ms + RESTART_MS

    def _gone_from_round(self, chair: int, by_host: bool, now_ms: int, out: Output) -> None:
        """Somebody has left their chair while the wall was being made, of their own will or moved by the desk."""
        making, record = self._record.round, self._record
        if making is None:
            return
        if chair in making.now.chairs and by_host:
            self._record = record.with_(round=making.burned("host"))
            self._silent_at_ms = now_ms  # the next tick goes on, when the desk has done all that it does
        elif chair in making.now.chairs:
            self._record = record.with_(round=making.burned("silent", (chair,)))
            self._follow_round(now_ms, out)

    def _drop_round(self) -> None:
        """No heat follows from this round; its secret is never used."""
        if self._record.round:
            self._record = self._record.with_(round=None)
            self._record = self._record.with_(secret=self._fresh_secret())

    def _follow_round(self, now_ms: int, out: Output) -> None:
        """Begin another attempt after a burned one; deal once every value is open; with everybody gone, stop."""
        while (making := self._record.round) and making.now.why:
            if not any(chair.sitter == "person" for chair in self._record.chairs):
                return self._drop_round()
            for chair in making.now.silent:
                self._change(chair, silences=self._record.chairs[chair].silences + 1)
            burned = self._record.secret
            self._record = self._record.with_(secret=self._fresh_secret())
            chairs = [chair for chair in making.now.chairs if _takes_part(self._record.chairs[chair])]
            again = making.again(burned, commitment(self._record.secret), chairs)
            self._record = self._record.with_(round=again)
        if making is None:
            return None
        if making.now.is_complete:
            self._deal(now_ms, out)
        elif self._stage != (making.heat, making.now.number, making.now.has_all_hashes):
            self._stage = making.heat, making.now.number, making.now.has_all_hashes
            self._silent_at_ms = now_ms + SILENCE_MS
        return None

    # ---- where tables differ

    @abstractmethod
    def _deal(self, now_ms: int, out: Output) -> None:
        """Deal the coming heat from the wall that has been made."""

    @abstractmethod
    def _fresh_secret(self) -> bytes:
        """Return the secret of the coming heat's wall."""


def _takes_part(seated: Chair) -> bool:
    return seated.sitter == "person" and seated.silences < MOST_SILENCES

"""Tables whose people watch the wall as their clients do, for tests; a cheat changes what the guest is shown."""

from collections.abc import Callable
from typing import Any

from server.table.output import Output
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.wall_round import Attempt
from shared.rules.wall_seen import Verdict, WallSeen
from shared.wire.views import View
from tests.tables import QUICK, Evening, never

Cheat = Callable[[View], View]
GUEST = 1


class Watched(Evening):
    """A table whose people all watch the wall as their clients do; cheat changes what the guest is shown."""

    def __init__(self, people: int = 2, cheat: Cheat = lambda view: view, **settings: Any) -> None:
        self.cheat = cheat
        self.lines: dict[int, list[str]] = {}
        super().__init__(QUICK.model_copy(update=settings), people=people)
        self.make_wall()

    def shown(self, chair: int) -> View:
        return self.cheat(self.view(chair)) if chair == GUEST else self.view(chair)

    def take(self, out: Output) -> Output:
        super().take(out)
        self.make_wall()
        return out

    def make_wall(self) -> None:
        for chair in range(4):
            view = self.shown(chair)
            if view.chairs[chair].connected and chair not in self.silent:
                part = self.watch(chair).see(view)
                self.lines.setdefault(chair, []).extend(part.lines)
                for intent in part.intents:
                    self.do(chair, intent)
                    self.watch(chair).done(intent)

    def seen(self, chair: int = GUEST, heat: int = 1) -> WallSeen:
        return self.watch(chair).seen["t1", heat]

    def told(self, chair: int = GUEST, heat: SavedHeat | None = None) -> Verdict:
        """Return what a client says of the last heat once it is told."""
        heat = heat or self.finished[-1]
        judged = self.watch(chair).judge(heat.number, HEAT.pack(heat), never)
        assert judged
        return judged.verdict


def attempt_of(view: View, at: int = -1) -> Attempt:
    return view.wall.attempts[at]


def with_attempts(view: View, *attempts: Attempt) -> View:
    return view.model_copy(update={"wall": view.wall.model_copy(update={"attempts": attempts})})


def four(values: tuple[bytes, ...], chair: int, value: bytes) -> tuple[bytes, ...]:
    return tuple(value if other == chair else before for other, before in enumerate(values))

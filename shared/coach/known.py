"""Answers of the coach, kept for whoever asks the same again: the hint on a pass, a look ahead at a heat that still
runs, and its review all look at the same positions.

Must never answer anything but what was asked: who asks names everything that the answer follows from.
"""

from collections.abc import Callable, Hashable
from typing import TypeVar, cast

from shared.coach.engine import Check, Engine
from shared.coach.passes import Position
from shared.coach.ranking import Effort, Ranking
from shared.rules.tiles import Rack, by_suit

T = TypeVar("T")
_MOST = 80
"""Two heats' worth; rankings are the largest of them, at most 7 MB together."""


class Known:
    """The last answers. Not for two threads at once."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self._made: dict[Hashable, object] = {}

    def once(self, asked: Hashable, make: Callable[[], T]) -> T:
        """Return the answer to a question; it is made only if nobody has asked it lately.

        Raises:
            Stopped: by make.
        """
        if asked not in self._made:
            made = make()
            while len(self._made) >= _MOST:
                del self._made[next(iter(self._made))]
            self._made[asked] = made
        return cast("T", self._made[asked])

    def rank(
        self,
        engine: Engine,
        position: Position,
        seed: int,
        effort: Effort,
        also: tuple[tuple[Rack, int], ...] = (),
        check: Check | None = None,
    ) -> Ranking:
        """Return what Engine.rank returns.

        Raises:
            Stopped: by check.
        """
        asked = "rank", engine, position, seed, effort, tuple((by_suit(tiles), blind) for tiles, blind in also)
        return self.once(asked, lambda: engine.rank(position, seed, effort, also, check))

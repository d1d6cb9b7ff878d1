"""Rankings that were made, kept for whoever asks the same again: the hint on a pass, a look ahead at a heat that still
runs, and its review all rank the same positions.

Must never answer anything but what was asked: same card, rack, seed, effort and passes to try.
"""

from dataclasses import replace

from shared.coach.engine import Check, Engine
from shared.coach.passes import Position
from shared.coach.ranking import Effort, Ranking
from shared.rules.tiles import Rack, by_suit

_MOST = 24
"""Two heats' worth, at most 7 MB."""
_Asked = tuple[Engine, Position, int, Effort, tuple[tuple[Rack, int], ...]]


class Known:
    """The last rankings. Not for two threads at once."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self._made: dict[_Asked, Ranking] = {}

    def rank(
        self,
        engine: Engine,
        position: Position,
        seed: int,
        effort: Effort,
        also: tuple[tuple[Rack, int], ...] = (),
        check: Check | None = None,
    ) -> Ranking:
        """Return what Engine.rank returns; made anew only if nobody has asked it lately.

        Raises:
            Stopped: by check.
        """
        sorted_so = replace(position, rack=by_suit(position.rack), passed=by_suit(position.passed))
        asked = engine, sorted_so, seed, effort, tuple((by_suit(tiles), blind) for tiles, blind in also)
        if asked not in self._made:
            made = engine.rank(position, seed, effort, also, check)
            while len(self._made) >= _MOST:
                del self._made[next(iter(self._made))]
            self._made[asked] = made
        return self._made[asked]

"""A rack that is played on after the Charleston: a thousand times at once, or once, draw by draw. Pure.

Must never hold what the coach did not say.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from shared.rules.tiles import Rack

if TYPE_CHECKING:
    from shared.coach.filling import Filled, Turn

Does = Literal["", "back", "stop", "again", "deal"]
"""What a key asks of the screen: go back, stop the coach, let it begin again, or deal one game."""


@dataclass(slots=True)
class FillModel:
    """What is shown.

    Attributes:
        rack: the rack after the last pass.
        filled: what came of many games so far; None before the first.
        running: whether the coach is at it.
        turns: one game; empty until one was dealt.
        drawn: how many of its draws are in sight.
        shows: the many games, or the one.
    """

    rack: Rack
    filled: "Filled | None" = None
    running: bool = False
    turns: "tuple[Turn, ...]" = ()
    drawn: int = 0
    shows: Literal["many", "one"] = "many"

    @property
    def is_over(self) -> bool:
        """Whether the one game has come to its end."""
        return bool(self.turns) and self.drawn == len(self.turns) - 1

    def deal(self, turns: "tuple[Turn, ...]") -> None:
        """Take in one game; its first draw is in sight at once."""
        self.turns, self.drawn, self.shows = turns, min(1, len(turns) - 1), "one"

    def press(self, key: str) -> Does:
        """Take a key."""
        match key:
            case "q" | "escape":
                return "back"
            case "x":
                return "stop" if self.running else "again"
            case "n":
                return "deal"
            case "space" | "right" if self.shows == "many" or not self.turns:
                if not self.turns:
                    return "deal"
                self.shows = "one"
            case "space" | "right":
                self.drawn = min(self.drawn + 1, len(self.turns) - 1)
            case "left":
                self.drawn = max(self.drawn - 1, 0)
            case "enter":
                self.shows = "many"
        return ""

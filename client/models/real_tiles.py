"""The clock for real tiles on one machine: what a key means there. Pure; moments and the wall time are arguments."""

from collections.abc import Callable
from dataclasses import dataclass

from client.models.session import Action
from shared.clock.real_clock import RealClock


@dataclass(slots=True)
class RealTilesModel:
    """The clock, and a sentence about what just happened. may_open says whether others can be let in."""

    clock: RealClock
    stamp: Callable[[], str]
    may_open: bool = False
    note: str = ""
    _asked: bool = False

    def press(self, key: str, now_ms: int) -> tuple[Action, ...]:
        """Take a key; what the program itself is to do comes back."""
        asked, self._asked, self.note = self._asked, False, ""
        clock, phase = self.clock, self.clock.face(now_ms).phase
        match key:
            case "space":
                self.clock = clock.done(now_ms)
            case "enter" | "n":
                self.clock = clock.begin(now_ms, self.stamp())
            case "0":
                self.clock = clock.decline(now_ms)
            case "u":
                self.clock = clock.back(now_ms)
                self.note = "Nothing to undo: earlier heats are already kept." if self.clock == clock else ""
            case "p":
                self.clock = clock.pause(now_ms)
            case "m" if self.may_open and phase == "ready":
                self.note = "Opening the clock ..."
                return ("together",)
            case "b":
                return ("bell",)
            case "t":
                return ("ask",)
            case "q" | "escape" if phase == "step" and not asked:
                self._asked, self.note = True, "A heat is running and would not be kept. Leave with q again."
            case "q" | "escape":
                return ("leave",)
        return ()

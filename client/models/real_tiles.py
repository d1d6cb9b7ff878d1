"""The clock for real tiles on one machine: what a key means there. Pure; moments and the wall time are arguments."""

from collections.abc import Callable
from dataclasses import dataclass

from client.models.real_racks import ClockedHeat
from client.models.session import Action
from shared.clock.real_clock import ClockLeft, RealClock, RealHeat, key_of, real_tiles_heat

MINE, TABLE = "yours alone", "the table's"
WHOSE = {"1": MINE, "4": TABLE}
"""Whose times the clock takes, by the key that says so."""


@dataclass(slots=True)
class RealTilesModel:
    """The clock, and a sentence about what just happened.

    may_open says whether others can be let in; whose is one of WHOSE, empty before anybody said it; set_id is unique to
    the set; left is a set that was cut off and can be gone on with.
    """

    clock: RealClock
    stamp: Callable[[], str]
    may_open: bool = False
    whose: str = ""
    set_id: str = ""
    note: str = ""
    left: ClockLeft | None = None
    _asked: bool = False

    def press(self, key: str, now_ms: int) -> tuple[Action, ...]:
        """Take a key; what the program itself is to do comes back."""
        asked, self._asked, self.note = self._asked, False, ""
        clock, phase = self.clock, self.clock.face(now_ms).phase
        match key:
            case "space":
                self.clock = clock.done(now_ms)
            case "1" | "4" if phase == "ready":
                self.whose = WHOSE[key]
                return ("whose",)
            case "g" if self.left and phase == "ready":
                self.clock, self.set_id, self.whose = self.left.resumed(now_ms), self.left.set_id, self.left.whose
                self.note, self.left = f"{self.left.words.capitalize()} as it was left: p lets the clock run.", None
                return ("go on",)
            case "enter" | "n" if not self.whose:
                self.note = "First say whose times these are: 1 for yours alone, 4 for the table's."
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
            case "t" if phase != "step":
                self.settle()
                return ("racks",)
            case "a" | "t":
                return ("ask",)
            case "r" if phase != "step" and self.clock.finished():
                self.settle()
                return ("review",)
            case "q" | "escape" if phase == "step" and not asked:
                self._asked, self.note = True, "A heat is running and would not be kept. Leave with q again."
            case "q" | "escape":
                return ("leave",)
        return ()

    def to_keep(self, now_ms: int) -> ClockLeft | None:
        """Return what is to be kept against a kill; nothing before the first heat."""
        if not self.clock.presses:
            return None
        return ClockLeft(clock=self.clock, set_id=self.set_id, whose=self.whose, at_ms=self.clock.at_ms(now_ms))

    def settle(self) -> None:
        """Make the heats that are over final: what is typed of them belongs to their times."""
        self.clock = self.clock.with_(kept=len(self.clock.finished()))

    def heats(self, now_ms: int) -> tuple[ClockedHeat, ...]:
        """Return the heats whose tiles can be typed: those that are over, and the coming one."""
        face, settings = self.clock.face(now_ms), self.clock.settings
        over = tuple(self._over(heat) for heat in self.clock.finished())
        if face.phase not in ("ready", "set-up"):
            return over
        return (*over, ClockedHeat(key_of(self._id(face.heat)), face.heat, face.east == 1, settings))

    def _over(self, heat: RealHeat) -> ClockedHeat:
        times = real_tiles_heat(self._id(heat.number), heat, self.clock.settings)
        return ClockedHeat(times.commitment, heat.number, heat.place == heat.east, self.clock.settings, times)

    def _id(self, number: int) -> str:
        return f"{self.set_id} {number}"

"""What the client knows of a shared clock for real tiles, and which key asks the table for what.

Pure: no socket, no screen and no clock; every moment is an argument in milliseconds of one monotonic clock. Nobody is
done before the table confirms it; until then it is "sending".
"""

from dataclasses import dataclass, field
from typing import ClassVar

from client.models.real_racks import ClockedHeat
from client.models.session import Meant, Session
from shared.clock.real_clock import key_of
from shared.names import clean_name
from shared.rules.intents import (
    GoWithout,
    NewSet,
    NotReady,
    Pause,
    Ready,
    Resume,
    SitAt,
    StepDone,
    TakeBack,
)
from shared.rules.pace import GRACE_MS
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.steps import STEPS
from shared.wire.group_views import GroupView, PlaceView

READY = Ready()
"""No wall is built here, so there is nothing to contribute."""
PLACES = (1, 2, 3, 4)
_WAITED_FOR = ("thinking", "done", "ready", "not ready")


@dataclass(slots=True)
class SharedClockModel(Session):
    """A shared clock as one person sees it. All fields are for reading; only the methods change them.

    own_times are one's own heats that are over, by what tells them apart.
    """

    WHAT: ClassVar[str] = "clock"

    view: GroupView | None = None
    own_times: dict[str, SeatHeat] = field(default_factory=dict)
    _revision: int = -1

    # ---- what is heard

    def hear(self, view: GroupView, received_ms: int, rtt_ms: int) -> None:
        """Take in a whole view; one that is older than the last is dropped."""
        if view.revision < self._revision:
            return
        if self.view and (self.view.step, self.view.phase) != (view.step, view.phase):
            self.note = ""
        self._revision, self.view = view.revision, view
        self.received_ms, self.rtt_ms, self.line = received_ms, rtt_ms, ""
        self.commands = self.commands.shown()

    def connected(self, card: str = "", title: str = "", digest: str = "") -> None:
        """The line is up, for the first time or again; a clock that was started anew counts its views anew."""
        self.line, self._revision = "", -1

    # ---- what is known

    @property
    def heat_number(self) -> int:
        """The number that commands carry."""
        return self.view.heat_number if self.view else 0

    @property
    def own(self) -> PlaceView:
        """One's own place."""
        assert self.view
        return self._at(self.view.you)

    @property
    def is_sending(self) -> bool:
        """Whether a command is on its way whose result the table has not shown yet."""
        return bool(self.commands.on_their_way)

    @property
    def in_heat(self) -> bool:
        """Whether a heat is running."""
        return self.view is not None and self.view.phase == "step"

    @property
    def has_others(self) -> bool:
        """Whether somebody else has a place."""
        view = self.view
        return view is not None and any(
            seat.stand != "free" for place, seat in enumerate(view.places, start=1) if place != view.you
        )

    @property
    def goes_on_later(self) -> bool:
        """Whether this machine keeps the clock, and its set has begun and is not over."""
        return self.keeps and self.view is not None and self.view.phase in ("step", "set-up")

    @property
    def asks(self) -> str:
        """What the running step asks: "vote" and "offer" can be declined."""
        return STEPS[self.view.step].ask if self.view and self.view.step else ""

    @property
    def clocked(self) -> tuple[ClockedHeat, ...]:
        """The heats of this set whose tiles can be typed: one's own that are over, and the coming one."""
        view = self.view
        if view is None:
            return ()
        comes = view.phase in ("ready", "set-up")
        begun = view.heat - comes
        heats = list[ClockedHeat]()
        for number in range(1, begun + comes + 1):
            key = key_of(f"{self.wall.table} {view.heat_number + 1 - begun} {number}")
            times = self.own_times.get(key)
            if times or number > begun:
                deals = times.seat == Seat.EAST if times else view.east == view.you
                heats.append(ClockedHeat(key, number, deals, view.settings, times))
        return tuple(heats)

    def left_ms(self, place: int, now_ms: int) -> int:
        """Return what a place (1 to 4) has left of the running step: below zero once it is late."""
        seat = self._at(place)
        return seat.left_ms - (self._gone_ms(now_ms) if seat.stand == "thinking" else 0)

    def is_late(self, place: int, now_ms: int) -> bool:
        """Say whether a place took longer than it had; who still thinks is late once the grace is over as well."""
        grace_ms = GRACE_MS if self._at(place).stand == "thinking" else 0
        return self.left_ms(place, now_ms) < -grace_ms

    def heat_ms(self, now_ms: int) -> int:
        """Return the time of the running or the last heat, the plan step not counted."""
        assert self.view
        runs = self.in_heat and self.view.step != "plan"
        return self.view.heat_ms + (self._gone_ms(now_ms) if runs else 0)

    def setup_ms(self, now_ms: int) -> int:
        """Return how long the pause before the next heat has been."""
        assert self.view
        return self.view.setup_ms + (self._gone_ms(now_ms) if self.view.phase == "set-up" else 0)

    def waiting_for(self) -> tuple[str, ...]:
        """Return the names of the others for whom everybody waits."""
        others = [place for place in PLACES if self.view and place != self.view.you]
        return tuple(self.name(place) for place in others if self._at(place).stand in ("thinking", "not ready"))

    def away(self) -> tuple[str, ...]:
        """Return the names of those who are waited for and whose line is down."""
        down = [place for place in PLACES if self.view and not self._at(place).connected]
        return tuple(self.name(place) for place in down if self._at(place).stand in _WAITED_FOR)

    def name(self, place: int) -> str:
        """Return the name at a place (1 to 4), cleaned, or nothing where nobody has a machine."""
        seat = self._at(place)
        return "" if seat.stand == "free" else clean_name(seat.name, "(no name)")

    def _at(self, place: int) -> PlaceView:
        assert self.view
        return self.view.places[place - 1]

    def _gone_ms(self, now_ms: int) -> int:
        """Return how much the table's clocks have gone on since the view was made."""
        assert self.view
        return 0 if self.view.paused else self.known_ms(now_ms) - self.received_ms + self.rtt_ms // 2

    # ---- what a key means

    def press(self, key: str) -> Meant:
        """Take a key of the screen and return what it asks for, if anything."""
        if key in ("q", "escape", "b"):
            return ("bell",) if key == "b" else ("leave",)
        if key in ("t", "r") and not self.in_heat:
            return ("racks",) if key == "t" else ("review",)
        self.note = ""
        view = self.view
        if view is None or self.is_sending:
            return ()
        if view.host:
            match key:
                case "p" if view.paused:
                    return (Resume(),)
                case "p" if view.phase in ("step", "set-up"):
                    return (Pause(),)
                case "w" if self.away():
                    return (GoWithout(),)
                case "enter" | "n" if view.phase == "over":
                    return (NewSet(),)
        if view.paused:
            return ()
        return self._in_step(view, key) if view.step else self._between(view, key)

    def _in_step(self, view: GroupView, key: str) -> Meant:
        assert view.step
        match key, self.own.stand:
            case "space", "thinking":
                return (StepDone(step=view.step),)
            case "0", "thinking" if self.asks in ("vote", "offer"):
                return (StepDone(step=view.step, says_no=True),)
            case "u", "done":
                return (TakeBack(step=view.step),)
        return ()

    def _between(self, view: GroupView, key: str) -> Meant:
        match key:
            case "enter" | "n" if view.phase in ("ready", "set-up"):
                return (NotReady() if self.own.stand == "ready" else READY,)
            case "1" | "2" | "3" | "4" if int(key) != view.you:
                return (SitAt(place=int(key)),)
        return ()

    def _what_leaving_does(self) -> str:
        return "the others go on without you, and it is not kept among your heats."

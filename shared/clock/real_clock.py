"""The shared clock for people with real tiles: the running step, the time each step took, the heats of a set.

Pure: every moment is an argument in milliseconds of one monotonic clock. The clock is a log of presses, and we compute
everything else from it: taking a press back removes it, and the time counts as if nobody had pressed. A pause stops
the time. Must never know a tile, and never time anybody out: a step that takes too long goes below zero.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field

from shared import versions
from shared.records import Record
from shared.rules.charleston import route
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.seats import seat_of
from shared.rules.settings import Settings
from shared.rules.state import State
from shared.rules.steps import SECOND, STEP_NAMES, STEPS, StepName

Phase = Literal["ready", "step", "set-up", "over"]


class RealStep(Record):
    """One step of a heat with real tiles: its own length, its budget with carried time, and the time it took."""

    step: StepName
    length_ms: int
    budget_ms: int
    spent_ms: int


class RealHeat(Record):
    """A heat with real tiles. east is the place (1 to 4, in order of play) that dealt; played_at is its stamp.

    setup_ms is the pause before it, None for the first heat. The times belong to the person at place; if one machine
    times the whole table, that is place 1.
    """

    played_at: str
    number: int
    east: int
    setup_ms: int | None
    steps: tuple[RealStep, ...]
    place: int = 1

    @property
    def total_ms(self) -> int:
        """The time of all steps together, without the plan step."""
        return sum(step.spent_ms for step in self.steps if step.step != "plan")


class Press(Record):
    """A press that moved the clock on: begin a heat, done with a step, or decline the question of a step.

    at_ms does not count pauses; stamp is the wall-clock time of a begin (RFC 3339).
    """

    what: Literal["begin", "done", "decline"]
    at_ms: int
    stamp: str = ""


@dataclass(frozen=True, slots=True)
class ClockFace:
    """Everything a screen shows. heat is the running or the coming heat; left_ms is below zero once a step is late.

    heat_ms is the time of the running or last heat without the plan step, heat_length_ms the sum of its steps' lengths.
    """

    phase: Phase
    paused: bool
    heat: int
    heats: int
    east: int
    step: StepName | None = None
    following: StepName | None = None
    left_ms: int = 0
    budget_ms: int = 0
    heat_ms: int = 0
    heat_length_ms: int = 0
    setup_ms: int = 0


@dataclass(frozen=True, slots=True)
class HeatSoFar:
    """A heat read from the presses: the pause before it, its finished steps, the running step and when it began."""

    began: Press
    setup_ms: int | None
    route: tuple[StepName, ...]
    steps: tuple[RealStep, ...]
    since_ms: int

    @property
    def step(self) -> StepName | None:
        return self.route[len(self.steps)] if len(self.steps) < len(self.route) else None


class RealClock(Record):
    """A set of heats with real tiles. kept is how many heats are final: no press of theirs can be taken back."""

    settings: Settings
    presses: tuple[Press, ...] = ()
    kept: int = 0
    paused_ms: int = 0
    stopped_at_ms: int | None = None

    # ---- presses; one that does not fit the moment changes nothing

    def begin(self, now_ms: int, stamp: str) -> "RealClock":
        """Begin the next heat; the heats before it are final from then on."""
        phase = self.face(now_ms).phase
        if phase not in ("ready", "set-up") or self.stopped_at_ms is not None:
            return self
        return self._with(Press(what="begin", at_ms=self.at_ms(now_ms), stamp=stamp)).with_(kept=len(self.finished()))

    def done(self, now_ms: int) -> "RealClock":
        """End the running step."""
        return self._with(Press(what="done", at_ms=self.at_ms(now_ms))) if self._runs(now_ms) else self

    def decline(self, now_ms: int) -> "RealClock":
        """Say no to the second Charleston or the courtesy: leave out its steps."""
        step = self.face(now_ms).step
        asks = step is not None and STEPS[step].ask in ("vote", "offer")
        return self._with(Press(what="decline", at_ms=self.at_ms(now_ms))) if asks and self._runs(now_ms) else self

    def back(self, now_ms: int) -> "RealClock":
        """Take the last press back, but none of a final heat."""
        if self.stopped_at_ms is not None or not self.presses:
            return self
        if self.face(now_ms).phase == "set-up" and len(self.finished()) <= self.kept:
            return self
        return self.with_(presses=self.presses[:-1])

    def pause(self, now_ms: int) -> "RealClock":
        """Stop the time, or let it run again."""
        if self.stopped_at_ms is not None:
            return self.with_(paused_ms=self.paused_ms + now_ms - self.stopped_at_ms, stopped_at_ms=None)
        return self.with_(stopped_at_ms=now_ms) if self.face(now_ms).phase in ("step", "set-up") else self

    # ---- computed from the presses

    def at_ms(self, now_ms: int) -> int:
        """Return the clock's own time, which does not count pauses."""
        return (now_ms if self.stopped_at_ms is None else self.stopped_at_ms) - self.paused_ms

    def last(self) -> HeatSoFar | None:
        """Return the heat that began last."""
        begins = self._begins()
        return self._heat(begins[-1], len(self.presses)) if begins else None

    def face(self, now_ms: int) -> ClockFace:
        """Return everything to show now."""
        begun, last = len(self._begins()), self.last()
        is_running = last is not None and last.step is not None
        phase: Phase = "step" if is_running else "over" if begun == self.settings.heats else "set-up"
        number = begun + (phase == "set-up")
        about = ClockFace(
            phase=phase if begun else "ready",
            paused=self.stopped_at_ms is not None,
            heat=number,
            heats=self.settings.heats,
            east=self._east(number),
        )
        if last is None:
            return about
        at_ms = self.at_ms(now_ms)
        timed = [step for step in last.steps if step.step != "plan"]
        about = replace(
            about,
            heat_ms=sum(step.spent_ms for step in timed),
            heat_length_ms=sum(self.settings.length_ms(step) for step in last.route if step != "plan"),
        )
        if last.step is None:
            return replace(about, setup_ms=at_ms - last.since_ms if phase == "set-up" else 0)
        budget_ms, spent_ms = self._budget_ms(last), at_ms - last.since_ms
        ahead = last.route[len(last.steps) + 1 :]
        return replace(
            about,
            step=last.step,
            following=ahead[0] if ahead else None,
            left_ms=budget_ms - spent_ms,
            budget_ms=budget_ms,
            heat_ms=about.heat_ms + (spent_ms if last.step != "plan" else 0),
        )

    def finished(self) -> tuple[RealHeat, ...]:
        """Return the heats that reached their end."""
        return tuple(
            RealHeat(
                played_at=heat.began.stamp,
                number=number,
                east=self._east(number),
                setup_ms=heat.setup_ms,
                steps=heat.steps,
            )
            for number, heat in enumerate(self._heats(), 1)
            if heat.step is None
        )

    def with_(self, **changes: object) -> "RealClock":
        """Return the clock with some fields changed."""
        return self.model_copy(update=changes)

    def _with(self, press: Press) -> "RealClock":
        return self.with_(presses=(*self.presses, press))

    def _runs(self, now_ms: int) -> bool:
        return self.stopped_at_ms is None and self.face(now_ms).phase == "step"

    def _east(self, number: int) -> int:
        """Return which place deals: one further right after each heat. By lot, place 1 is the one that was drawn."""
        first = 1 if self.settings.first_east == "lot" else int(self.settings.first_east)
        return (first - 1 + number - 1) % 4 + 1

    def _begins(self) -> list[int]:
        """Return where heats begin in the log."""
        return [number for number, press in enumerate(self.presses) if press.what == "begin"]

    def _heats(self) -> Iterator[HeatSoFar]:
        """Read the log: yield every heat that began, also an unfinished one."""
        for begin, end in pairwise((*self._begins(), len(self.presses))):
            yield self._heat(begin, end)

    def _heat(self, begin: int, end: int) -> HeatSoFar:
        """Read one heat; the press before its begin ended the previous heat."""
        began = self.presses[begin]
        setup_ms = began.at_ms - self.presses[begin - 1].at_ms if begin else None
        heat = HeatSoFar(began, setup_ms, route(State(self.settings)), (), began.at_ms)
        for press in self.presses[begin + 1 : end]:
            heat = self._stepped(heat, press)
        return heat

    def _stepped(self, heat: HeatSoFar, press: Press) -> HeatSoFar:
        assert heat.step is not None
        done = RealStep(
            step=heat.step,
            length_ms=self.settings.length_ms(heat.step),
            budget_ms=self._budget_ms(heat),
            spent_ms=press.at_ms - heat.since_ms,
        )
        left_out: tuple[StepName, ...] = ()
        if press.what == "decline":
            is_vote = STEPS[heat.step].ask == "vote"
            left_out = SECOND if is_vote else (STEP_NAMES[STEP_NAMES.index(heat.step) + 1],)
        ahead = tuple(step for step in heat.route if step not in left_out)
        return replace(heat, route=ahead, steps=(*heat.steps, done), since_ms=press.at_ms)

    def _budget_ms(self, heat: HeatSoFar) -> int:
        assert heat.step is not None
        return budget_ms(self.settings, heat.step, heat.steps[-1] if heat.steps else None)


class ClockLeft(Record):
    """A set whose clock was cut off: the clock, whose times it takes, and its own time (see at_ms) when it was kept."""

    format: Literal["racktempo clock"] = "racktempo clock"
    version: int = Field(versions.CLOCK_FILE, ge=1, le=versions.CLOCK_FILE)
    clock: RealClock
    set_id: Annotated[str, Field(max_length=64)]
    whose: Annotated[str, Field(max_length=64)]
    at_ms: int

    def resumed(self, now_ms: int) -> RealClock:
        """Return the clock as it stood, stopped; one whose set is over needs no stop."""
        there = self.clock.with_(paused_ms=now_ms - self.at_ms, stopped_at_ms=None)
        return there if there.face(now_ms).phase == "over" else there.with_(stopped_at_ms=now_ms)

    @property
    def words(self) -> str:
        """Where it stands: "heat 2 of 3"."""
        face = self.clock.with_(paused_ms=0, stopped_at_ms=None).face(self.at_ms)
        return f"heat {face.heat} of {face.heats}"


def budget_ms(settings: Settings, step: StepName, before: RealStep | None) -> int:
    """Return a step's budget: its own length and, if time is carried over, what the step before left."""
    own_ms = settings.length_ms(step)
    if not settings.carry_over or before is None or step == "plan":
        return own_ms
    return own_ms + max(0, before.budget_ms - before.spent_ms)


def key_of(heat_id: str) -> str:
    """Return what tells a heat with real tiles apart, also before it is played."""
    return f"real tiles {heat_id}"


def real_tiles_heat(heat_id: str, heat: RealHeat, settings: Settings) -> SeatHeat:
    """Return a heat with real tiles as a seat's heat: it has only times, and the seat of its place.

    heat_id must be unique.
    """
    return SeatHeat(
        commitment=key_of(heat_id),
        table="real tiles",
        number=heat.number,
        played_at=heat.played_at,
        settings=settings,
        seat=seat_of(heat.place, heat.east),
        names=("", "", "", ""),
        sitters=("person", "person", "person", "person"),
        card="",
        dealt=(),
        steps=tuple(
            SeatStep(
                step=step.step,
                length_ms=step.length_ms,
                budget_ms=step.budget_ms,
                spent_ms=step.spent_ms,
                by="person",
            )
            for step in heat.steps
        ),
        final=(),
    )

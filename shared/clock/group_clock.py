"""The clock for real tiles if each person has a machine: a step ends when everybody has said "done".

Pure: every moment is an argument in milliseconds of one monotonic clock. Steps, lengths, pauses and the dealer come
from the clock for one machine (real_clock). It moves on when everybody we are waiting for is done. Until then each
person's own clock runs, below zero if need be, and nobody loses anything by that. Must never know a tile, or who sits
where: chairs are numbers from 0, places 1 to 4 in order of play.
"""

from collections.abc import Callable, Sequence
from typing import TypeVar

from shared.clock.real_clock import HeatSoFar, RealClock, RealHeat, RealStep, budget_ms
from shared.records import Record
from shared.rules.pace import GRACE_MS
from shared.rules.refusals import Refusal
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName

T = TypeVar("T")
Four = tuple[T, T, T, T]


class Mark(Record):
    """A person is done with the running step. says_no: they answered its question with stop, or nobody gives."""

    step: RealStep
    says_no: bool = False


class GroupClock(Record):
    """A set of heats with real tiles, by chair. playing: who plays the running heat; lived: their finished steps.

    finished are the table's heats, heats each chair's own. A chair that we did not wait for at some step lacks that
    step, so the heat is not among its own.
    """

    clock: RealClock
    places: Four[int] = (1, 2, 3, 4)
    playing: Four[bool] = (False, False, False, False)
    marks: Four[Mark | None] = (None, None, None, None)
    lived: Four[tuple[RealStep, ...]] = ((), (), (), ())
    heats: Four[tuple[RealHeat, ...]] = ((), (), (), ())
    finished: tuple[RealHeat, ...] = ()

    # ---- actions

    def begin(self, playing: Sequence[bool], now_ms: int, stamp: str) -> "GroupClock":
        """Begin the next heat; playing says by chair who plays in it."""
        return self.with_(
            clock=self.clock.begin(self._no_earlier(now_ms), stamp),
            playing=_four(lambda chair: playing[chair]),
            marks=(None,) * 4,
            lived=((),) * 4,
        )

    def done(self, chair: int, step: StepName, says_no: bool, now_ms: int) -> "GroupClock | Refusal":
        """Mark a chair as done with a step; call settled afterwards to end the step if it can."""
        heat = self._open_to(chair, step)
        if isinstance(heat, Refusal):
            return heat
        if self.marks[chair]:
            return Refusal("already answered", f"You are done with {step} already.")
        if says_no and STEPS[step].ask not in ("vote", "offer"):
            return Refusal("out of turn", f"There is nothing to decline at {step}.")
        had_ms, spent_ms = self._times_ms(heat, chair, now_ms)
        # A press read within the grace is in time: people do not pay for network delay.
        spent_ms = had_ms if had_ms < spent_ms <= had_ms + GRACE_MS else spent_ms
        length_ms = self.clock.settings.length_ms(step)
        lived = RealStep(step=step, length_ms=length_ms, budget_ms=had_ms, spent_ms=spent_ms)
        return self._marked(chair, Mark(step=lived, says_no=says_no))

    def back(self, chair: int, step: StepName) -> "GroupClock | Refusal":
        """Take "done" back while others still think; the chair's time counts as if it had never stopped."""
        heat = self._open_to(chair, step)
        if isinstance(heat, Refusal):
            return heat
        if not self.marks[chair]:
            return Refusal("nothing to take back", f"You are not done with {step} yet.")
        return self._marked(chair, None)

    def settled(self, waited_for: Sequence[bool], now_ms: int) -> "GroupClock":
        """End the running step if somebody is done and everybody we wait for is.

        One no counts for the whole table, as one stop does by the rules.
        """
        heat = self.clock.last()
        thinks = any(self.playing[chair] and waited_for[chair] and not self.marks[chair] for chair in range(4))
        if heat is None or heat.step is None or self.is_paused or thinks or not any(self.marks):
            return self
        says_no = any(mark and mark.says_no for mark in self.marks)
        clock = (self.clock.decline if says_no else self.clock.done)(self._no_earlier(now_ms))
        lived = _four(lambda chair: (*self.lived[chair], *_step_of(self.marks[chair])))
        after = self.with_(clock=clock, marks=(None,) * 4, lived=lived)
        ended = clock.last()
        return after._ended() if ended and ended.step is None else after

    def pause(self, now_ms: int) -> "GroupClock":
        """Stop all clocks, or let them run again."""
        return self.with_(clock=self.clock.pause(now_ms))

    def moved(self, chair: int, place: int) -> "GroupClock | Refusal":
        """Put a chair at a place of the real table; the chair that had this place gets the other one."""
        if self.running:
            return Refusal("not now", "Places change between heats.")
        other = self.places.index(place)
        swapped = {chair: place, other: self.places[chair]}
        return self.with_(places=_four(lambda one: swapped.get(one, self.places[one])))

    def vacated(self, chair: int) -> "GroupClock":
        """Forget the person on a chair."""
        return self.with_(
            playing=_with(self.playing, chair, False),
            marks=_with(self.marks, chair, None),
            lived=_with(self.lived, chair, ()),
            heats=_with(self.heats, chair, ()),
        )

    def anew(self) -> "GroupClock":
        """Return the clock of a new set; everybody keeps their place."""
        return GroupClock(clock=RealClock(settings=self.settings), places=self.places)

    def forgiven(self, by_ms: int) -> "GroupClock":
        """Return the clock with by_ms given back: people do not pay for a stall of the machine."""
        clock = self.clock
        return self if self.is_paused else self.with_(clock=clock.with_(paused_ms=clock.paused_ms + by_ms))

    def restored(self, now_ms: int) -> "GroupClock":
        """Return the clock after a restart: paused at the moment of the last change."""
        clock, heat = self.clock, self.clock.last()
        if heat is None or clock.face(now_ms).phase == "over":
            return self
        spent_ms = max((mark.step.spent_ms for mark in self.marks if mark), default=0)
        last_ms = clock.at_ms(now_ms) if self.is_paused else heat.since_ms + spent_ms
        return self.with_(clock=clock.with_(paused_ms=now_ms - last_ms, stopped_at_ms=now_ms))

    # ---- questions

    @property
    def settings(self) -> Settings:
        """The settings of the set."""
        return self.clock.settings

    @property
    def is_paused(self) -> bool:
        """Whether all clocks are stopped."""
        return self.clock.stopped_at_ms is not None

    @property
    def running(self) -> HeatSoFar | None:
        """The running heat, if any."""
        heat = self.clock.last()
        return heat if heat and heat.step else None

    def times_ms(self, chair: int, now_ms: int) -> tuple[int, int]:
        """Return a chair's budget for the running step, and the time it has used so far."""
        heat, mark = self.running, self.marks[chair]
        if mark:
            return mark.step.budget_ms, mark.step.spent_ms
        return self._times_ms(heat, chair, now_ms) if heat and self.playing[chair] else (0, 0)

    def _times_ms(self, heat: HeatSoFar, chair: int, now_ms: int) -> tuple[int, int]:
        assert heat.step is not None
        lived, last = self.lived[chair], heat.steps[-1].step if heat.steps else None
        before = lived[-1] if lived and lived[-1].step == last else None
        return budget_ms(self.settings, heat.step, before), max(0, self.clock.at_ms(now_ms) - heat.since_ms)

    def _no_earlier(self, now_ms: int) -> int:
        """Return now_ms, but not less than the start of the step: a stall given back may reach further back."""
        heat = self.clock.last()
        return max(now_ms, heat.since_ms + self.clock.paused_ms) if heat else now_ms

    def _open_to(self, chair: int, step: StepName) -> HeatSoFar | Refusal:
        """Return the running heat, or why the chair may not act on this step now."""
        heat = self.running
        if heat is None or heat.step != step:
            where = f"the table is at {heat.step}" if heat else "no heat is running"
            return Refusal("out of turn", f"This was meant for {step}, but {where}.")
        if self.is_paused:
            return Refusal("paused", "The clock is paused; wait until the host goes on.")
        if not self.playing[chair]:
            return Refusal("out of turn", "This heat began without you; you play in the next one.")
        return heat

    def _marked(self, chair: int, mark: Mark | None) -> "GroupClock":
        return self.with_(marks=_with(self.marks, chair, mark))

    def _ended(self) -> "GroupClock":
        """Store the ended heat for everybody who took part in every step."""
        table = self.clock.finished()[-1]

        def heats(chair: int) -> tuple[RealHeat, ...]:
            is_whole = self.playing[chair] and len(self.lived[chair]) == len(table.steps)
            own = table.model_copy(update={"steps": self.lived[chair], "place": self.places[chair]})
            return (*self.heats[chair], own) if is_whole else self.heats[chair]

        return self.with_(heats=_four(heats), finished=(*self.finished, table))

    def with_(self, **changes: object) -> "GroupClock":
        """Return the clock with some fields changed."""
        return self.model_copy(update=changes)


def _step_of(mark: Mark | None) -> tuple[RealStep, ...]:
    return (mark.step,) if mark else ()


def _four(make: Callable[[int], T]) -> Four[T]:
    return (make(0), make(1), make(2), make(3))


def _with(values: Four[T], chair: int, value: T) -> Four[T]:
    return _four(lambda other: value if other == chair else values[other])

"""Decisions one after the other: a rack, a clock, an answer, what the coach says, then the next one.

Pure: no screen, no coach and no clock; every moment is an argument in milliseconds of one monotonic clock. Racks are
handed in one by one, and so is what the coach says, whenever it comes.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from client.models.rack import PLACES, HeldRack
from client.models.step_clock import StepClock
from client.models.table import Stage
from client.text import some
from shared.rules.decisions import Answer, Decision
from shared.rules.seats import Seat
from shared.rules.steps import STEPS
from shared.rules.tiles import Rack, by_suit, format_tiles

if TYPE_CHECKING:
    from shared.coach.decisions import Judgement

Phase = Literal["goal", "waiting", "deciding", "verdict", "over"]
"""What is in sight: what it is about; nothing yet, since a rack is being dealt; a rack and its clock; an answer with
what the coach says; what came of all of them."""
_OF_NUMBER = {"vote": ("0", "1"), "offer": ("0", "1", "2", "3")}


@dataclass(slots=True)
class Decided:
    """A decision that is behind: the answer, None if there was none in time, and what the coach says once it has."""

    decision: Decision
    answer: Answer | None
    spent_ms: int
    judgement: "Judgement | None" = None
    trouble: str = ""


@dataclass(slots=True)
class Decisions:
    """A round of decisions. All fields are for reading; only the methods change them.

    Attributes:
        title: what is practised.
        count: how many decisions there are.
        goal: what it is about, shown before the first rack; where there is none the first rack comes at once.
        rack: the rack in hand.
        blind: how many tiles go unseen.
        choice: the number chosen and not confirmed yet.
        note: a sentence about what just happened.
        done: what is behind.
    """

    title: str
    count: int
    goal: str = ""
    phase: Phase = "waiting"
    decision: Decision | None = None
    rack: HeldRack = HeldRack()
    blind: int = 0
    choice: int | None = None
    note: str = ""
    done: list[Decided] = field(default_factory=list)
    _dealt: list[Decision] = field(default_factory=list)
    _began_ms: int = 0
    _held_ms: int | None = None

    def __post_init__(self) -> None:
        """Begin with the goal, if there is one."""
        self.phase = "goal" if self.goal else "waiting"

    # ---- what comes in

    def deal(self, decision: Decision, now_ms: int) -> None:
        """Take in a decision; if it is waited for, its clock begins."""
        self._dealt.append(decision)
        if self.phase == "waiting":
            self._begin(now_ms)

    def ends(self, why: str) -> None:
        """No more decisions come; why not, in a sentence."""
        self.count, self.note = len(self.done) + (self.phase == "deciding") + len(self._dealt), why
        if self.phase in ("goal", "waiting"):
            self.phase = "over"

    def tick(self, now_ms: int) -> Decided | None:
        """Return the decision whose time has just run out, if it has."""
        if self.phase != "deciding" or self.face(now_ms).left_ms > 0 or self._held_ms is not None:
            return None
        return self._end(None, now_ms)

    def hold(self, now_ms: int) -> None:
        """Stop the clock while something else is in sight."""
        self._held_ms = now_ms if self._held_ms is None else self._held_ms

    def go_on(self, now_ms: int) -> None:
        """Let the clock run again."""
        if self._held_ms is not None:
            self._began_ms += now_ms - self._held_ms
            self._held_ms = None

    # ---- what is known

    @property
    def number(self) -> int:
        """The number of the decision in sight, from 1."""
        return len(self.done) + (self.phase in ("deciding", "waiting", "goal"))

    @property
    def last(self) -> Decided | None:
        """The decision that was made last."""
        return self.done[-1] if self.done else None

    @property
    def stage(self) -> Stage:
        """Where the rack in hand stands, in the words of a table."""
        return "deciding" if self.phase == "deciding" else "answered" if self.phase == "verdict" else "none"

    @property
    def fresh(self) -> frozenset[int]:
        """The places of the tiles that came in last."""
        return self.rack.marked(self.decision.came) if self.decision and self.phase == "deciding" else frozenset()

    @property
    def numbers(self) -> tuple[str, ...]:
        """The keys of the numbers that answer this decision."""
        if self.decision is None:
            return ()
        if self.decision.choices:
            return tuple(str(number + 1) for number in range(len(self.decision.choices)))
        return _OF_NUMBER.get(self.decision.ask, ())

    @property
    def wanted(self) -> int:
        """How many own tiles go, the blind ones taken off."""
        return max(self.decision.wants, default=0) - self.blind if self.decision else 0

    def face(self, now_ms: int) -> StepClock:
        """Return what the clock shows now."""
        length_ms = self.decision.length_ms if self.decision else 0
        gone_ms = (self._held_ms if self._held_ms is not None else now_ms) - self._began_ms
        left_ms = max(0, length_ms - gone_ms) if self.phase == "deciding" else 0
        return StepClock(left_ms, length_ms, 0, self.phase == "deciding" and self._held_ms is None)

    # ---- what a key means

    def press(self, key: str, now_ms: int) -> Decided | None:
        """Take a key; return the decision that it has ended, if it has."""
        self.note = ""
        if self.phase == "deciding":
            return self._decide(key, now_ms)
        if key in ("enter", "space") and self.phase in ("goal", "verdict"):
            self._next(now_ms)
        return None

    def _next(self, now_ms: int) -> None:
        if len(self.done) == self.count:
            self.phase = "over"
        elif self._dealt:
            self._begin(now_ms)
        else:
            self.phase = "waiting"

    def _begin(self, now_ms: int) -> None:
        self.decision = self._dealt.pop(0)
        self.rack = HeldRack().fitted(self.decision.rack)
        self.blind, self.choice, self.phase, self._began_ms = 0, None, "deciding", now_ms
        self._held_ms = None if self._held_ms is None else now_ms

    def _decide(self, key: str, now_ms: int) -> Decided | None:
        assert self.decision is not None
        if self.face(now_ms).left_ms <= 0:
            return None  # the next tick ends it
        if key in self.numbers:
            self.choice = int(key) - bool(self.decision.choices)
            return self._end(Answer(number=self.choice), now_ms) if self.decision.choices else None
        match key:
            case _ if key in PLACES:
                self._toggle(PLACES.index(key))
            case "space":
                self._toggle(self.rack.cursor)
            case "left" | "right":
                self.rack = self.rack.moved_cursor(1 if key == "right" else -1)
            case "s":
                self.rack = self.rack.sorted_by("rank" if self.rack.sort == "suit" else "suit")
            case "0" | "1" | "2" | "3" if self.decision.most_blind >= int(key):
                self.blind = int(key)
                self.rack = self.rack.dropped(self.wanted)
            case "u":
                self.rack, self.blind = self.rack.dropped(), 0
            case "enter":
                return self._confirm(now_ms)
        return None

    def _toggle(self, place: int) -> None:
        if self.decision is None or place >= len(self.rack.tiles) or self.numbers:
            return
        lifts = place not in self.rack.lifted
        if lifts and not self.rack.may_lift(place):
            self.note = joker_stays(self.decision)
        elif lifts and self.wanted == 1 and self.rack.lifted:
            self.rack = self.rack.dropped().toggled(place)
        elif lifts and len(self.rack.lifted) >= self.wanted:
            self.note = f"{self.wanted} are lifted already: drop one first, or all with u."
        else:
            self.rack = self.rack.toggled(place)

    def _confirm(self, now_ms: int) -> Decided | None:
        assert self.decision is not None
        if self.numbers:
            if self.choice is None:
                self.note = f"Choose with {self.numbers[0]} to {self.numbers[-1]} first."
                return None
            return self._end(Answer(number=self.choice), now_ms)
        missing = self.wanted - len(self.rack.lifted)
        if missing:
            self.note = f"Lift {missing} more."
            return None
        return self._end(Answer(self.rack.lifted_tiles(), self.blind), now_ms)

    def _end(self, answer: Answer | None, now_ms: int) -> Decided:
        assert self.decision is not None
        face = self.face(now_ms)
        self.done.append(Decided(self.decision, answer, face.budget_ms - face.left_ms))
        self.phase = "verdict"
        self.rack = replace(self.rack, lifted=())
        return self.done[-1]


def question(decision: Decision) -> str:
    """Return what a decision asks, in a sentence."""
    step = STEPS[decision.step] if decision.step else None
    match decision.ask:
        case "vote":
            return "Go on to a second Charleston, or stop here?"
        case "offer" if step and not step.direction:
            return "One more courtesy: how many tiles would you offer the player beside you?"
        case "offer":
            return "Courtesy: how many tiles would you offer the player across?"
        case "give":
            where = "across" if step and step.direction else "beside you"
            return f"Courtesy: {_tiles(decision.give)} for the player {where}."
        case "discard":
            return "The Charleston is over. Which tile do you discard first?"
        case "hand":
            return "The Charleston is over. Which hand do you play for?"
        case "family":
            return "Which section of the card does this rack's likeliest hand belong to?"
    assert step is not None
    assert step.direction is not None
    where = "across" if step.direction.word == "across" else f"on your {step.direction.word}"
    return f"{step.name.capitalize()}: three tiles for the player {where}."


def joker_stays(decision: Decision) -> str:
    """Return why a joker cannot be chosen."""
    return "The coach judges no joker as a discard." if decision.ask == "discard" else "A joker is never passed."


def known(decision: Decision, write: Callable[[Rack], str] = format_tiles) -> str:
    """Return what the player knows besides the rack; write says how tiles are written."""
    wind = Seat(decision.seat).word
    parts = [f"You are {wind}{', the dealer' if decision.seat == Seat.EAST else ''}."]
    if decision.face_down:
        parts.append(f"Face down: {some(decision.face_down, 'tile')}.")
    if decision.passed:
        parts.append(f"Passed before: {write(by_suit(decision.passed))}.")
    return " ".join(parts)


def answer_words(decision: Decision, answer: Answer) -> str:
    """Return an answer in a few words."""
    match decision.ask:
        case "vote":
            return "go on" if answer.number else "stop"
        case "offer":
            return f"offer {answer.number}"
        case "family" | "hand":
            return decision.choices[answer.number or 0]
    unseen = f"{answer.blind} blind" if answer.blind else ""
    return " + ".join(part for part in (format_tiles(by_suit(answer.tiles)), unseen) if part)


def _tiles(count: int) -> str:
    return "one tile" if count == 1 else f"{('no', 'one', 'two', 'three')[count]} tiles"

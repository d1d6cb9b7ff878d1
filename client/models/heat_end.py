"""The end of a heat in words: time, points and luck, the costliest decision, the target, the nearest hand. Pure.

It is made of what the table has confirmed: one's own record of the heat, everybody's seconds, and the coach's review
as far as it has come. Nothing in it comes from a rack that is still closed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from client.models.ran_out import time_ran_out
from client.target import Named, what_became
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.seats import Seat
from shared.rules.steps import STEPS, StepName

if TYPE_CHECKING:
    from shared.cards.picture import AgainstRack
    from shared.coach.ledger import Ledger
    from shared.coach.review import Review, StepReview, Verdict
    from shared.coach.words import Target

NOTHING_COSTLY = "No decision of yours cost anything that the coach can measure."
NOT_PLAYED = "Nobody answered for this seat: the clock and bots did. This heat counts nowhere."
NO_RECORD = "You have no record of your own of this heat, so only its times are shown."
NO_HINTS = "This table gives no hints: the coach says nothing about this heat."
LOOKING = "The coach is looking at this heat ..."


@dataclass(frozen=True, slots=True)
class LastHeats:
    """The median milliseconds of the last heats of the same length, the mean points lost in those that were reviewed
    (None if none was), and how many heats they are."""

    heats: int
    spent_ms: int
    lost: float | None = None


@dataclass(frozen=True, slots=True)
class Costly:
    """The decision that cost most: its step and cost as a heading, why in sentences, and the hand they speak of."""

    step: StepName
    heading: str
    why: str
    name: str = ""
    drawn: "AgainstRack | None" = None


@dataclass(frozen=True, slots=True)
class HeatEnd:
    """What stands on the screen when a heat is over; a part that is not known, or not allowed, is empty.

    Attributes:
        seat: which seat one had, with how many tiles.
        time: the time used against the level.
        before: the last heats beside it.
        points: the balance of points, from the deal to the end.
        costly: the costliest decision; where there is none, said tells why.
        target: what became of the named target.
        slowest: the step that took most time, by its number in the heat's steps; None if no step took any.
        said: what is missing and why, or that nothing cost anything.
    """

    seat: str
    time: str
    before: str = ""
    points: str = ""
    costly: Costly | None = None
    target: str = ""
    slowest: int | None = None
    said: str = ""


def heat_end(
    own: SeatHeat | None,
    review: "Review | None" = None,
    named: Sequence[Named] = (),
    last: LastHeats | None = None,
    missing: str = "",
    numbers: bool = False,
) -> HeatEnd:
    """Return the end of a heat as its player lived it.

    Args:
        own: the player's own record; None if there is none.
        review: the coach's review as far as it has come, None before it begins.
        named: the targets that were named.
        last: the player's last heats before this one, where they are known.
        missing: why there is no review, where there will be none, as a sentence.
        numbers: whether the coach's sentences are wanted with all their numbers.
    """
    if own is None:
        return HeatEnd("", "", said=NO_RECORD)
    seat = f"you were {Seat(own.seat).word}{', the dealer' if own.seat == Seat.EAST else ''}: {len(own.dealt)} tiles"
    known = HeatEnd(seat, _time(own), _before(last), slowest=_slowest(own.steps))
    if own.settings.hints == "none":
        return _with(known, NO_HINTS, _target(named, None))
    if not any(step.by == "person" for step in own.steps):
        return _with(known, NOT_PLAYED, _target(named, None))
    if review is None or review.ledger is None:
        return _with(known, missing or LOOKING, _target(named, None))
    costly = _costliest(review, numbers)
    return HeatEnd(
        known.seat,
        known.time,
        known.before,
        balance(review.ledger),
        costly,
        _target(named, review),
        known.slowest,
        "" if costly else NOTHING_COSTLY,
    )


def _with(known: HeatEnd, said: str, target: str) -> HeatEnd:
    return HeatEnd(known.seat, known.time, known.before, target=target, slowest=known.slowest, said=said)


def minutes(ms: float) -> str:
    """Return a time in whole seconds.

    >>> minutes(128_400)
    '2:08'
    """
    seconds = round(ms / 1_000)
    return f"{seconds // 60}:{seconds % 60:02}"


def balance(ledger: "Ledger") -> str:
    """Return a heat's balance of points in a line whose printed figures add up, luck taking what rounding leaves.

    Gifts are what counted against better passes and so made them cost less than they brought.
    """
    start, final, given = (round(points, 1) for points in (ledger.start, ledger.final, ledger.given))
    own, late = (
        round(sum(entry.loss for entry in ledger.entries if entry.by in by), 1) for by in (("person",), ("timeout", "bot"))
    )
    luck = final - start + own + late - given
    clock = f"   by the clock {_less(late)}" if late else ""
    gifts = f"   gifts {given:+.1f}" if given else ""
    return f"dealt {start:.1f} in 100   luck {luck:+.1f}   your passes {_less(own)}{clock}{gifts}   now {final:.1f}"


def _less(points: float) -> str:
    return f"-{points:.1f}" if points else "0.0"


def _time(own: SeatHeat) -> str:
    spent_ms = sum(step.spent_ms for step in own.steps if step.step != "plan")
    outs = sum(step.by == "timeout" for step in own.steps)
    level_ms = own.settings.total_ms()
    within = "in time" if not outs and spent_ms <= level_ms else f"out of time {_times(outs)}" if outs else "over"
    return f"{minutes(spent_ms)} of {minutes(level_ms)}, {within}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _before(last: LastHeats | None) -> str:
    if last is None or not last.heats:
        return ""
    which = "the heat before" if last.heats == 1 else f"your last {last.heats} heats"
    lost = "" if last.lost is None else f", lost {last.lost:.1f}"
    return f"{which}: {minutes(last.spent_ms)}{lost}"


def _slowest(steps: Sequence[SeatStep]) -> int | None:
    longest = max(range(len(steps)), key=lambda number: steps[number].spent_ms, default=None)
    return longest if longest is not None and steps[longest].spent_ms else None


def _target(named: Sequence[Named], review: "Review | None") -> str:
    became = what_became(named, review)
    return became.said if became else ""


def _costliest(review: "Review", numbers: bool) -> Costly | None:
    """Return the decision of one's own, or of the clock for one, that cost most; None if none cost anything for sure."""
    judged = ((step, step.verdict) for step in review.steps if step.verdict)
    sure = [(step, verdict) for step, verdict in judged if _counts(verdict)]
    if not sure:
        return None
    step, verdict = max(sure, key=lambda each: each[1].loss)
    lived, own, best = step.lived.step, verdict.own, verdict.ways[0]
    heading = f"{lived.step}, {own.verdict[:1].lower()}{own.verdict[1:-1]}"
    said = own.numbers if numbers else own.words
    why = " ".join(said) if said else verdict.said.partition(": ")[2]
    late = f"{time_ran_out(lived.given)} " if lived.by == "timeout" and not own.says else ""
    hand = _spoken_of(why, (*best.targets, *own.targets))
    return Costly(lived.step, heading, f"{late}{why}", hand.name if hand else "", hand.drawn if hand else None)


def _counts(verdict: "Verdict") -> bool:
    made = verdict.judged
    return made.by != "bot" and not made.forced and bool(verdict.own.place) and not verdict.too_close


def _spoken_of(why: str, targets: Iterable["Target"]) -> "Target | None":
    """Return the hand that the sentences name, else the likeliest after the best answer."""
    hands = list(targets)
    return next((hand for hand in hands if hand.name in why), hands[0] if hands else None)


def asks(step: SeatStep) -> bool:
    """Say whether a step took tiles, so that it can be dealt again."""
    return STEPS[step.step].ask in ("pass", "give")

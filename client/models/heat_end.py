"""The end of a heat in words: time, points and luck, the costliest decision, the target, the nearest hand. Pure.

It is made of what the table has confirmed: one's own record of the heat, everybody's seconds, and the coach's review
as far as it has come. Nothing in it comes from a rack that is still closed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from client.models.guided import UNTIMED_MS
from client.models.ran_out import time_ran_out
from client.target import Named, targets_in_words, what_became
from shared.rules.seat_heat import AnsweredBy, SeatHeat, SeatStep
from shared.rules.seats import Seat
from shared.rules.steps import StepName

if TYPE_CHECKING:
    from shared.cards.picture import AgainstRack
    from shared.coach.ledger import Ledger
    from shared.coach.review import Review, Verdict
    from shared.coach.words import Target

NOTHING_COSTLY = "No decision of yours cost anything that the coach can measure."
NOT_PLAYED = "You answered nothing in this heat: the clock or a bot did. Your own history leaves it out."
NO_RECORD = "No record of your own of this heat is here yet: these are its times."
NOT_THERE = "You did not play this heat: these are its times."
NO_RECORD_SHORT = "Your own record is not here yet: these are the times."
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
    """The decision that cost most, and by how many points; its step and cost as a heading, why in sentences, and the
    hand they speak of."""

    step: StepName
    lost: float
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
        plan: what the coach says of the plan.
        target: what became of the named target.
        slowest: the step that took most time, by its number in the heat's steps; None if no step took any.
        said: what is missing and why, or that nothing cost anything.
    """

    seat: str
    time: str
    before: str = ""
    points: str = ""
    costly: Costly | None = None
    plan: str = ""
    target: str = ""
    slowest: int | None = None
    said: str = ""


def east_won(who: str) -> str:
    """Return how a heat ended in which nothing was passed; who begins the sentence: "East was".

    >>> east_won("You were")
    'You were dealt a complete hand, which wins the heat. Nothing was passed.'
    """
    return f"{who} dealt a complete hand, which wins the heat. Nothing was passed."


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
    dealer = ", the dealer" if own.seat == Seat.EAST else ""
    end = HeatEnd(
        f"you were {Seat(own.seat).word}{dealer}: {len(own.dealt)} tiles",
        _time(own),
        _before(last),
        target=targets_in_words(named),
        slowest=_slowest(own.steps),
    )
    if own.east_won:
        return replace(end, time="", said=east_won("You were" if own.seat == Seat.EAST else "East was"))
    if own.settings.hints == "none":
        return replace(end, said=NO_HINTS)
    if not any(step.by == "person" for step in own.steps):
        return replace(end, said=NOT_PLAYED)
    if review is None or (review.ledger is None and (own.final or review.done < 1)):
        return replace(end, said=missing or LOOKING)
    became, costly = what_became(named, review), _costliest(review, numbers)
    return replace(
        end,
        points=balance(review.ledger) if review.ledger else "",
        costly=costly,
        plan=" ".join(review.end.judged) if review.end else "",
        target=became.said if became else "",
        said="" if costly else NOTHING_COSTLY,
    )


def set_end(this: LastHeats | None, before: LastHeats | None) -> tuple[str, ...]:
    """Return the player's set in a sentence, and the last sets of the same length beside it, as far as they are known.

    >>> set_end(LastHeats(3, 128_000, 6.2), None)
    ('This set: usually 2:08 a heat, 6.2 points lost on average.',)
    """
    if this is None:
        return ()
    own = f"This set: {_of_set(this)}."
    if not before:
        return (own,)
    which = "The heat before" if before.heats == 1 else f"Your last sets ({before.heats} heats)"
    return own, f"{which}: {_of_set(before)}."


def _of_set(heats: LastHeats) -> str:
    lost = "" if heats.lost is None else f", {heats.lost:.1f} points lost"
    if heats.heats == 1:
        return f"{minutes(heats.spent_ms)}{lost}"
    return f"usually {minutes(heats.spent_ms)} a heat{lost and f'{lost} on average'}"


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
    words: dict[AnsweredBy, str] = {
        "person": "your choices",
        "timeout": "by the clock",
        "bot": "by a bot",
        "other": "by somebody else",
    }
    lost = {who: round(sum(entry.loss for entry in ledger.entries if entry.by == who), 1) for who in words}
    luck = final - start + sum(lost.values()) - given
    parts = [f"{words[who]} {_less(points)}" for who, points in lost.items() if points or who == "person"]
    gifts = [f"gifts {given:+.1f}"] if given else []
    return "   ".join([f"dealt {start:.1f} in 100", f"luck {luck:+.1f}", *parts, *gifts, f"now {final:.1f}"])


def _less(points: float) -> str:
    return f"-{points:.1f}" if points else "0.0"


def _time(own: SeatHeat) -> str:
    spent_ms = sum(step.spent_ms for step in own.steps if step.step != "plan")
    outs = sum(step.by == "timeout" for step in own.steps)
    if any(step.length_ms >= UNTIMED_MS for step in own.steps):
        return f"{minutes(spent_ms)}, without a clock"
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
    """Return the number of the step that took longest; the plan has a clock of its own."""
    spent_ms = [0 if step.step == "plan" else step.spent_ms for step in steps]
    return spent_ms.index(max(spent_ms)) if any(spent_ms) else None


def _costliest(review: "Review", numbers: bool) -> Costly | None:
    """Return one's own decision, or the clock's for one, that cost most; None if none cost anything for sure."""
    judged = ((step, step.verdict) for step in review.steps if step.verdict)
    sure = [(step, verdict) for step, verdict in judged if _counts(verdict)]
    if not sure:
        return None
    step, verdict = max(sure, key=lambda each: each[1].loss)
    lived, own, best = step.lived.step, verdict.own, verdict.ways[0]
    heading = f"{lived.step}, {own.verdict.removeprefix('Cost ')[:-1]}"
    said = own.numbers if numbers else own.words
    why = " ".join(said) if said else verdict.said.partition(": ")[2]
    late = f"{time_ran_out(lived.given)} " if lived.by == "timeout" and not own.says else ""
    hand = _spoken_of(why, (*best.targets, *own.targets))
    return Costly(
        lived.step, verdict.loss, heading, f"{late}{why}", hand.name if hand else "", hand.drawn if hand else None
    )


def _counts(verdict: "Verdict") -> bool:
    made = verdict.judged
    return made.by in ("person", "timeout") and not made.forced and bool(verdict.own.place) and not verdict.too_close


def _spoken_of(why: str, targets: Iterable["Target"]) -> "Target | None":
    """Return the hand that the sentences name, else the likeliest after the best answer."""
    hands = list(targets)
    return next((hand for hand in hands if hand.name in why), hands[0] if hands else None)

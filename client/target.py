"""The target that a player names during a heat: a hand or a family of the card, or none; when, and what was said.

Naming is free and changes nothing at the table: it is kept beside one's own record of the heat and
sent to nobody. Pure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from shared.chances import in_hundred
from shared.records import Record
from shared.rules.steps import STEP_NAMES, StepName

if TYPE_CHECKING:
    from shared.coach.review import Review
    from shared.coach.standing import Standing

Hands = tuple["Standing", ...]
_WORDS = 120
_REACH, _LEVEL = 0.3, 0.8
"""The share of the best chance from which a target is within reach, and the one from which two are as likely."""


class Named(Record):
    """One naming: at which step, so many milliseconds of its clock after it began, and what; no words mean none.

    hand is the hand's id on the card, empty for a family; words are what the player saw.
    """

    step: StepName
    after_ms: Annotated[int, Field(ge=0)]
    hand: Annotated[str, Field(max_length=60)] = ""
    words: Annotated[str, Field(max_length=_WORDS)] = ""


@dataclass(frozen=True, slots=True)
class Targets:
    """The namings of one heat, oldest first."""

    named: tuple[Named, ...] = field(default_factory=tuple)

    @property
    def now(self) -> Named | None:
        """What is named now."""
        return self.named[-1] if self.named and self.named[-1].words else None

    def naming(self, step: StepName, after_ms: int, hand: str, hand_words: str, family: str) -> "Targets":
        """Return the targets after the key: the hand; if it is named already its family; if that is, none."""
        now = self.now
        if now is None or (now.hand != hand and (now.hand or now.words != family)):
            new = Named(step=step, after_ms=after_ms, hand=hand, words=hand_words[:_WORDS])
        elif now.hand:
            new = Named(step=step, after_ms=after_ms, words=family[:_WORDS])
        else:
            new = Named(step=step, after_ms=after_ms)
        return replace(self, named=(*self.named, new))


@dataclass(frozen=True, slots=True)
class Became:
    """What became of the targets of a heat, in one sentence.

    left_at is the step of the last change, None if the target was kept; rightly is what the coach's chances say of it,
    None if they do not decide or are not known.
    """

    said: str
    left_at: StepName | None = None
    rightly: bool | None = None


def what_became(named: Sequence[Named], review: "Review | None") -> Became | None:
    """Return what became of the targets; None if none was named. Without a whole review it says only which were named.

    A change is judged by the chances before the answer of its step, a target that was kept by those at the end. From a
    family to one of its hands, or back, is no change.
    """
    moves = _moves(named)
    if not moves:
        return None
    last = moves[-1]
    end = review.end.hands if review and review.end else ()
    if review is None or any(_chance(move, end) is None for move in moves if move.words):
        return Became(targets_in_words(named), last.step if moves[1:] else None)
    at = {step.lived.step.step: step.verdict.hands for step in review.steps if step.verdict}
    since = len(moves) - 1
    while since and _same_family(moves[since - 1], moves[since], end):
        since -= 1
    named_so = targets_in_words(moves[:since] or moves)[:-1]
    if not since:
        rightly, why = _kept(last, at, end)
        return Became(f"{named_so} and stayed with it{why}", None, rightly)
    change = moves[since]
    rightly, why = _left(moves[since - 1], change, at.get(change.step, end))
    goes = f"changed to {change.words} at {change.step}" if change.words else f"dropped it at {change.step}"
    return Became(f"{named_so} and {goes}{why}", change.step, rightly)


def _moves(named: Sequence[Named]) -> list[Named]:
    """Return the last naming of each step, without repeats; nothing named stands at the end only."""
    last = list({one.step: one for one in named}.values())
    told = [one for one in last if one.words or one is last[-1]]
    moves = [next(same) for _, same in groupby(told, key=lambda one: (one.hand, one.words))]
    return moves if any(one.words for one in moves) else []


def _chance(target: Named, hands: "Hands") -> float | None:
    """Return the chance of a hand, or of a family's likeliest hand; None if the card has no such thing."""
    called = (one.points for one in hands if (one.name if target.hand else one.family)[:_WORDS] == target.words)
    return max(called, default=None)


def _same_family(one: Named, other: Named, hands: "Hands") -> bool:
    """Say whether one target is a family and the other a hand of it."""
    hand, family = (one, other) if one.hand else (other, one)
    is_pair = bool(hand.hand) and not family.hand and bool(family.words)
    return is_pair and any((each.name, each.family) == (hand.words, family.words) for each in hands)


def _likeliest(hands: "Hands") -> "Standing":
    return max(hands, key=lambda one: one.points)


def _kept(target: Named, at: "Mapping[StepName, Hands]", end: "Hands") -> tuple[bool | None, str]:
    """Judge a target that was kept: by how it stands at the end, and from when on it was out of reach."""
    own, best = _chance(target, end) or 0.0, _likeliest(end)
    if own >= _LEVEL * best.points:
        return True, f": rightly, nothing is clearly likelier at the end ({in_hundred(own)})."
    if own >= _REACH * best.points:
        return None, f"; {best.name} is likelier at the end, {in_hundred(best.points)} against {in_hundred(own)}."
    since, hands = "", end
    for step in sorted(at, key=STEP_NAMES.index, reverse=True):
        if (_chance(target, at[step]) or 0.0) >= _REACH * _likeliest(at[step]).points:
            break
        since, hands = step, at[step]
    then, best = in_hundred(_chance(target, hands) or 0.0), _likeliest(hands)
    when = f"from {since} on" if since else "at the end"
    return False, f", too long: {when} {best.name} was far likelier, {in_hundred(best.points)} against {then}."


def _left(before: Named, after: Named, hands: "Hands") -> tuple[bool | None, str]:
    """Judge a change, or that a target was dropped, by the chances at that moment."""
    old, best = _chance(before, hands) or 0.0, _likeliest(hands)
    if not after.words:
        if old >= _REACH * best.points:
            return False, f", too early: it was within reach, {in_hundred(old)}."
        return True, f": rightly, {best.name} won {in_hundred(best.points)} by then, it {in_hundred(old)}."
    new = _chance(after, hands) or 0.0
    if old < _LEVEL * new:
        return True, f": rightly, that was likelier, {in_hundred(new)} against {in_hundred(old)}."
    if new < _LEVEL * old:
        return False, f", though {before.words} was likelier, {in_hundred(old)} against {in_hundred(new)}."
    return None, f", which was about as likely, {in_hundred(new)} against {in_hundred(old)}."


def targets_in_words(named: Sequence[Named]) -> str:
    """Return which targets stood, in one sentence: only the last naming of each step counts.

    >>> stairs = Named(step="first right", after_ms=1, words="Stairs")
    >>> targets_in_words((stairs, Named(step="second left", after_ms=2, words="Pairs")))
    'You named Stairs at first right, then Pairs at second left.'
    """
    last = list({one.step: one for one in named}.values())
    said = [f"{one.words or 'nothing'} at {one.step}" for one in last]
    if not any(one.words for one in last):
        return ""
    return f"You named {', then '.join(said)}."

"""What the coach says, in plain lines: of the last pass while a heat runs, of the costliest one after it. Pure."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.models.hint import Hint
from client.text import balance_words
from shared.cards.freedom import NUMBERS
from shared.cards.said import listed_tiles

if TYPE_CHECKING:
    from shared.coach.review import Review, StepReview, Way


def hint_lines(hint: Hint) -> list[str]:
    """Return the verdict on the last pass and the first reason, or why there is none."""
    if hint.compared is None:
        return [f"{hint.step.capitalize()}: {hint.trouble}"]
    own = hint.compared.own
    return [" ".join((f"{hint.step.capitalize()}: {_lowered(own.verdict)}", *own.words[:1]))]


def why_lines(hint: Hint | None, hints: bool, numbers: bool) -> list[str]:
    """Return everything that is said of the last pass; with numbers also points, chances and the leading passes."""
    if hint is None:
        return ["No pass has been made yet." if hints else "There are no hints while a heat runs."]
    if hint.compared is None:
        return [hint.trouble or "The coach is looking at your last pass."]
    return way_lines(hint.step, hint.compared.own, hint.compared.ways, numbers)


def heat_lines(review: "Review") -> list[str]:
    """Return what a heat cost, and its costliest decision with the reasons."""
    lost = sum(step.verdict.loss for step in review.steps if step.verdict)
    return [f"Points lost: {lost:.1f}.", *costliest_lines(review, numbers=False)]


def costliest_lines(review: "Review", numbers: bool) -> list[str]:
    """Return everything that is said of the costliest decision of a heat."""
    step = _costliest(review)
    if step is None or step.verdict is None:
        return ["No measurable mistake in this heat."]
    balance = [balance_words(review.ledger)] if numbers and review.ledger else []
    return [*way_lines(step.lived.step.step, step.verdict.own, step.verdict.ways, numbers), *balance]


def _costliest(review: "Review") -> "StepReview | None":
    own = [step for step in review.steps if step.verdict and step.verdict.is_own and not step.verdict.too_close]
    return max(own, key=lambda step: step.verdict.loss if step.verdict else 0.0, default=None)


def way_lines(step: str, own: "Way", ways: "Sequence[Way]", numbers: bool) -> list[str]:
    """Return the verdict on an answer with its reasons; with numbers also the leading answers and their points."""
    lines = [f"{step.capitalize()}: {_lowered(own.verdict)}", *(own.numbers if numbers else own.words)]
    return lines + ([_points(way, way == own) for way in ways] if numbers else [])


def _lowered(verdict: str) -> str:
    return verdict[:1].lower() + verdict[1:]


def _points(way: "Way", is_own: bool) -> str:
    blind = way.ranked.blind
    parts = [listed_tiles(way.ranked.tiles)] if way.ranked.tiles else []
    parts += [f"{NUMBERS[blind]} blind"] if blind else []
    what = way.says or " and ".join(parts) or "nothing"
    gift = "" if way.ranked.gift is None else f", gift {way.ranked.gift:.1f}"
    points = f"{way.ranked.points:.1f} points, give or take {way.ranked.se:.1f}{gift}"
    return f"{what[:1].upper()}{what[1:]}{', yours' if is_own else ''}: {points}."

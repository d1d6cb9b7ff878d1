"""A seat's heat as a whole: whether it can be reviewed, its review, and what the review comes to for a standing.

Screens, the command line and an evening's host all ask here, so that a person's own review of a heat and the standing
that it counts in are the same numbers.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from shared.cards import Card
from shared.cards.play import card_of, shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.engine import Effort
from shared.coach.lived import LivedHeat, lived
from shared.coach.review import REVIEW, Review, review, seed_of
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SeatHeat

NUMBERS = replace(REVIEW, gifts=False)
"""The work of a review without what is only shown in it; its losses and points are the same."""


class NoReview(ValueError):
    """There is nothing to look at; the message is one sentence for a person."""


@dataclass(frozen=True)
class ToReview:
    """A seat's heat that can be reviewed: as it was lived, and the text of its card."""

    heat: SeatHeat
    lived: LivedHeat
    card: str


def to_review(heat: SeatHeat) -> ToReview:
    """Return what a review of a heat needs; a heat of a table without a card is looked at by the practice card.

    Raises:
        NoReview: it cannot be reviewed.
    """
    judged, card = lived(heat), heat.card or shipped_text()
    if isinstance(judged, str):
        raise NoReview(judged)
    if not isinstance(card_of(card), Card):
        raise NoReview("The card that this heat was played by cannot be read.")
    return ToReview(heat, judged, card)


def review_heat(asked: ToReview, effort: Effort = REVIEW) -> Iterator[Review]:
    """Yield the review of a heat: at once with the times, then with one step more each, at last whole."""
    coach = coach_of(asked.card)
    assert isinstance(coach, Coach)
    yield from review(coach, asked.lived, seed_of(asked.heat), effort)


def comes_to(review: Review) -> Reviewed:
    """Return what a whole review comes to: what a person's own unforced passes lost, and the points at the end."""
    assert review.ledger is not None
    own = [
        step.verdict.loss for step in review.steps if step.verdict and step.verdict.is_own and step.lived.step.is_pass
    ]
    return Reviewed(loss=sum(own, 0.0), unforced=len(own), points=review.ledger.final)


def reviewed(heat: SeatHeat, effort: Effort = NUMBERS) -> Reviewed:
    """Review a heat for a standing.

    Raises:
        NoReview: it cannot be reviewed.
    """
    *_, whole = review_heat(to_review(heat), effort)
    return comes_to(whole)

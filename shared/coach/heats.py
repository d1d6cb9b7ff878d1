"""The review of a seat's whole heat: whether there can be one, the review itself, and its totals for the standings.

Screens, the command line and an evening's host must all use this module, so that a person's own review and the
standings show the same numbers.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from shared.cards import Card
from shared.cards.owned import another_card, copy_wanted, is_copy
from shared.cards.play import card_of, shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.known import Known
from shared.coach.lived import LivedHeat, lived
from shared.coach.ranking import THINK, Effort
from shared.coach.review import Review, review, seed_of
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SeatHeat


class NoReview(ValueError):
    """This heat cannot be reviewed; the message is one sentence for the player."""


@dataclass(frozen=True)
class ToReview:
    """The input of a review: the seat's heat step by step, and the text of its card."""

    heat: SeatHeat
    lived: LivedHeat
    card: str


def to_review(heat: SeatHeat, card: str = "", partly: bool = False) -> ToReview:
    """Return what a review of a heat needs; a heat without a card is reviewed with the practice card.

    Where the heat does not hold its card's text, card is a copy of it. With partly, a heat without a final rack is
    reviewed as far as it goes.

    Raises:
        NoReview: it cannot be reviewed.
    """
    judged = lived(heat, partly=partly)
    if isinstance(judged, str):
        raise NoReview(judged)
    if heat.card or not heat.card_digest:
        card = heat.card or shipped_text()
    elif not is_copy(card, heat.card_digest):
        raise NoReview(another_card(heat.card_title) if card else copy_wanted(heat.card_title))
    if not isinstance(card_of(card), Card):
        raise NoReview("The card of this heat cannot be read.")
    return ToReview(heat, judged, card)


def review_heat(asked: ToReview, effort: Effort = THINK, known: Known | None = None) -> Iterator[Review]:
    """Yield the growing review of a heat: first the times alone, then one more step each, at last everything.

    known are rankings that were made before, if any are kept.
    """
    coach = coach_of(asked.card)
    assert isinstance(coach, Coach)
    yield from review(coach, asked.lived, seed_of(asked.heat), effort, known=known)


def comes_to(review: Review) -> Reviewed:
    """Return the totals of a finished review: the loss of a person's own unforced passes, and the final points."""
    assert review.ledger is not None
    own = [
        step.verdict.loss for step in review.steps if step.verdict and step.verdict.is_own and step.lived.step.is_pass
    ]
    return Reviewed(loss=sum(own, 0.0), unforced=len(own), points=review.ledger.final)


def reviewed(heat: SeatHeat, effort: Effort = THINK, card: str = "") -> Reviewed:
    """Review a heat for a standing; card is a copy of its card, where the heat does not hold it.

    Raises:
        NoReview: it cannot be reviewed.
    """
    *_, whole = review_heat(to_review(heat, card), effort)
    return comes_to(whole)

"""What a review comes to for a standing: a person's own unforced passes, and the points at the end."""

import pytest

from shared.coach.heats import NoReview, comes_to, review_heat, reviewed, to_review
from shared.coach.ranking import Effort
from shared.rules.events import By
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from tests.shared.coach.lives import TEXT, TINY, random_life

QUICK = Effort(((6, 8),))


def life(seed: int, card: str = TINY, by: dict[str, By] | None = None) -> SeatHeat:
    """A seat's heat in which a person decided every step, but for those that are named."""
    heat = random_life(seed).model_copy(update={"card": card})
    steps = tuple(step.model_copy(update={"by": (by or {}).get(step.step, "person")}) for step in heat.steps)
    return heat.model_copy(update={"steps": steps})


@pytest.mark.parametrize("seed", range(6))
def test_loss_is_that_of_the_passes_alone_and_points_are_the_end_of_the_ledger(seed: int) -> None:
    heat = life(seed)
    *_, whole = review_heat(to_review(heat), QUICK)
    assert whole.ledger
    entries = [entry for entry in whole.ledger.entries if entry.step not in ("go on", "courtesy offer")]
    found = comes_to(whole)
    assert found.unforced == sum(not entry.forced for entry in entries)
    assert found.loss == sum(entry.loss for entry in entries if not entry.forced)
    assert found.points == whole.ledger.final


def test_what_the_clock_or_a_bot_decided_is_nobodys_loss() -> None:
    own = reviewed(life(3), QUICK)
    others: dict[str, By] = {"first right": "timeout", "first across": "bot"}
    left = reviewed(life(3, by=others), QUICK)
    assert left.unforced == own.unforced - 2
    assert left.points == own.points
    none = reviewed(life(3, by=dict.fromkeys((step.step for step in life(3).steps), "bot")), QUICK)
    assert (none.loss, none.unforced) == (0.0, 0)


def test_leaving_out_what_is_only_shown_changes_no_number() -> None:
    heat = life(5, TEXT)
    *_, shown = review_heat(to_review(heat))
    assert reviewed(heat) == comes_to(shown)
    assert reviewed(heat).unforced > 0


def test_what_cannot_be_reviewed_says_why() -> None:
    with pytest.raises(NoReview, match="real tiles"):
        reviewed(life(1).model_copy(update={"dealt": (), "steps": (), "final": (), "settings": Settings()}))
    with pytest.raises(NoReview, match="card"):
        reviewed(life(1, "no card"))

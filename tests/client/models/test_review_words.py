"""What a review says of a step that was no pass of tiles."""

from types import SimpleNamespace

import pytest

from client.models.review import went_words
from shared.rules.seat_heat import SeatStep
from shared.rules.seats import Way


@pytest.mark.parametrize(
    ("to", "words"),
    [(None, "You offered 2."), ("left", "You offered 2 to your left."), ("right", "You offered 2 to your right.")],
)
def test_an_offer_names_the_side_that_it_was_made_to(to: Way | None, words: str) -> None:
    step = SeatStep(step="side offer", length_ms=1, budget_ms=1, spent_ms=0, by="person", offer=2, to=to)
    assert went_words(SimpleNamespace(lived=SimpleNamespace(step=step))) == words  # type: ignore[arg-type]

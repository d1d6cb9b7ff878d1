"""What the coach expects of the others on the shipped cards is kept in a file that says what play finds."""

import numpy as np
import pytest

from shared.cards import Card
from shared.cards.shipped import first_evening_card, practice_card
from shared.coach.distance import Patterns
from shared.coach.others import _known, fingerprint, found_by_play


@pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=["practice", "first evening"])
def test_the_file_says_what_play_finds(card: Card) -> None:
    patterns = Patterns.of_card(card)
    kept, found = _known()[fingerprint(patterns)], found_by_play(patterns)
    np.testing.assert_allclose(kept.flow, found.flow, atol=1e-6)
    np.testing.assert_allclose(kept.draws, found.draws, atol=2)

"""A duel tells what it is asked: nothing between equals, much between unequal ones."""

import numpy as np

from tests.bench.first_release.release import card, engine
from tests.bench.game.deals import of_strength
from tests.bench.game.duels import duel
from tests.bench.game.hands import hands_of

HANDS = hands_of(card())


def test_equals_have_the_same_games_to_the_last_tile() -> None:
    glance = of_strength(engine(), "coach, at a glance")
    same = duel(engine(), HANDS, (glance, glance), "softened", 2, 2, (1, 2))
    assert same == {"wins": [0.0, 0.0], "points": [0.0, 0.0]}


def test_a_coached_seat_has_more_than_one_that_passes_any_tiles() -> None:
    choosers = of_strength(engine(), "coach, at a glance"), of_strength(engine(), "any tiles")
    more = duel(engine(), HANDS, choosers, "softened", 5, 1, (3,))
    assert len(more["wins"]) == len(more["points"]) == 5
    assert np.mean(more["points"]) > 8

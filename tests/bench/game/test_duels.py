"""A duel tells what it is asked: nothing between equals, much between unequal ones."""

import numpy as np

from tests.bench.first_release.release import card, engine
from tests.bench.game.deals import of_strength
from tests.bench.game.duels import duel
from tests.bench.game.hands import hands_of

HANDS = hands_of(card())
VALUES = [hand.value for hand in card().hands]


def test_equals_have_the_same_games_to_the_last_tile() -> None:
    glance = of_strength(engine(), "coach, at a glance")
    same = duel(engine(), HANDS, VALUES, {"one": glance, "other": glance}, "softened", 2, 2, (1, 2))
    assert same["wins"]["one"] == same["wins"]["other"]
    assert same["values"]["one"] == same["values"]["other"]
    assert same["points"]["one"] == same["points"]["other"]
    assert len(same["points"]["one"]) == 2


def test_a_coached_seat_has_more_than_one_that_passes_any_tiles() -> None:
    choosers = {name: of_strength(engine(), name) for name in ("coach, at a glance", "any tiles")}
    found = duel(engine(), HANDS, VALUES, choosers, "softened", 5, 1, (3,))
    glance, any_tiles = (np.array(found["points"][name]) for name in choosers)
    assert len(found["wins"]["any tiles"]) == len(glance) == 5
    assert (glance - any_tiles).mean() > 8

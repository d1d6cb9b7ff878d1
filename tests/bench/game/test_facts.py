"""What is told of games is what was played: invented results with known answers."""

import numpy as np

from tests.bench.first_release.release import card
from tests.bench.game import facts
from tests.bench.game.deals import Deals
from tests.bench.game.hands import hands_of
from tests.bench.game.play import Games

DEALS, ENDINGS = 6000, 16


def invented(rng: np.random.Generator) -> tuple[Games, np.ndarray]:
    """Games that are won by chances that follow from the racks' values alone: twenty and the value less the others'."""
    points = rng.uniform(10, 40, (DEALS, 4))
    chances = 0.25 + 0.008 * (points - (points.sum(axis=1, keepdims=True) - points) / 3)
    winner = (rng.random((DEALS * ENDINGS, 1)) > np.repeat(chances, ENDINGS, axis=0).cumsum(axis=1)).sum(axis=1)
    zeros = np.zeros(len(winner), dtype=np.int32)
    seats = np.zeros((len(winner), 4), dtype=np.int32)
    return Games(winner.astype(np.int32), zeros + 1, zeros, zeros + 60, zeros + 2, seats + 15, seats, seats), points


def test_the_weights_and_the_correlation_are_those_that_the_games_were_made_with() -> None:
    games, points = invented(np.random.Generator(np.random.PCG64(1)))
    said = facts.foretold(games, points, "value")
    weights = [float(word) for word in said[0].split() if word.strip("+-").replace(".", "").isdigit()]
    for weight, true, near in zip(weights, (25.0, 0.8, -0.8 / 3), (1.0, 0.03, 0.01), strict=True):
        assert abs(weight - true) < near
    alone, with_others = (float(line.split(": ")[1].split(" ")[0]) for line in said[2:])
    assert abs(with_others - 1) < 0.03
    assert abs(alone - (3 / 4) ** 0.5) < 0.03


def test_shares_and_counts_are_told() -> None:
    games, _ = invented(np.random.Generator(np.random.PCG64(2)))
    said = facts.lines(hands_of(card()), games)
    assert f"games: {DEALS * ENDINGS}" in said
    assert "somebody finished: 100.0% +- 0.0" in said
    assert "discards: 60.0 on average, 10-50-90%: 60 60 60" in said
    assert "jokers in the finished hand: 2.00" in said


def test_a_part_keeps_games_and_deals_to_the_last_digit() -> None:
    games, points = invented(np.random.Generator(np.random.PCG64(3)))
    racks = np.random.Generator(np.random.PCG64(4)).integers(0, 9, (DEALS, 4, 36), dtype=np.uint8)
    part = facts.as_part(games, Deals(racks, racks[::-1]), points)
    again, values = facts.of_parts([part, part])
    assert again.winner.tolist() == games.winner.tolist() * 2
    assert values[:DEALS].tolist() == points.round(3).tolist()
    deals = facts.deals_of([part, part])
    assert np.array_equal(deals.racks[DEALS:], racks)
    assert np.array_equal(deals.passed[:DEALS], racks[::-1])

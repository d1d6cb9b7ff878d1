"""What the coach expects of three others: what they pass, and how long a hand lasts against them."""

import numpy as np
import pytest

from shared.cards import Card, read_card
from shared.coach.engine import Engine
from shared.coach.others import Others, least_missed, softened_greedy
from shared.coach.passes import Position
from shared.coach.targets import SET
from shared.rules.tiles import INDEX, KINDS
from shared.rules.typed_tiles import typed
from tests.shared.coach.lives import CARDS
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import CARD, ENGINE


@pytest.fixture(scope="module", params=["synthetic", "practice_1.toml", "first_evening_1.toml"])
def expected(request: pytest.FixtureRequest) -> Others:
    if request.param == "synthetic":
        return ENGINE.others
    card = read_card((CARDS / request.param).read_bytes())
    assert isinstance(card, Card)
    return Engine.of_card(card).others


def test_every_kind_may_come_and_the_mean_of_a_pass_is_one(expected: Others) -> None:
    assert expected.flow.shape == (6, 35)
    assert expected.flow.min() > 0
    assert expected.flow.mean(axis=1) == pytest.approx(np.ones(6))


def test_the_three_suits_flow_alike(expected: Others) -> None:
    bams, craks, dots = (expected.flow[:, [INDEX[f"{rank}{suit}"] for rank in range(1, 10)]] for suit in "bcd")  # type: ignore[index]
    assert (bams == craks).all()
    assert (bams == dots).all()


def test_the_draws_before_a_hand_ends_are_a_distribution(expected: Others) -> None:
    for draws in expected.draws:
        assert min(draws) >= 0
        assert sum(draws) == pytest.approx(1_000_000, abs=len(draws))
        assert draws[0] == 0, "nobody has finished before the first draw"
        assert len(draws) == 27


def test_hands_after_one_charleston_last_longer_than_after_two(expected: Others) -> None:
    one, both = (np.cumsum(draws) / sum(draws) for draws in expected.draws)
    assert (one[:-1] <= both[:-1] + 1e-9).all(), "at any draw more hands still go on"
    mean_one, mean_both = (sum(own * each for own, each in enumerate(draws)) for draws in expected.draws)
    assert mean_one > mean_both


def test_an_aim_is_chosen_by_how_many_passes_there_are() -> None:
    rack = typed("1b 1b 2b 3b 3b 5c 6c 7c 9d N E F F J")
    one, both = Position(rack, (), 0, made=2), Position(rack, (), 0, made=5)
    assert (one.passes, both.passes) == (3, 6)
    assert ENGINE.aim_at(one).play.draws == ENGINE.others.draws[0]
    assert ENGINE.aim_at(both).play.draws == ENGINE.others.draws[1]
    assert ENGINE.as_it_is(one) > ENGINE.as_it_is(both)


def test_both_sorts_of_seats_pass_three_tiles_that_they_hold_and_no_joker() -> None:
    dealt = racks(71, 12, 13)
    dealt[:, INDEX["J"]] = 0
    for gives in (softened_greedy(CARD, dealt, (1,)), least_missed(CARD, dealt, SET - dealt, 9)):
        assert (gives.sum(axis=1) == 3).all()
        assert (gives <= dealt).all()
        assert (gives[:, INDEX["J"]] == 0).all()
    assert gives.shape == (12, len(KINDS))

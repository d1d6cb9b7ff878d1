"""Futures are fair draws from what a seat has not seen, and the same on every machine."""

import numpy as np
import pytest

from shared.coach.aims import counted_tiles, drawn_passes, finishing, winning
from shared.coach.chance import QUICK, Play, chances, odds_for, outlook_of
from shared.coach.distance import JOKER_INDEX, counts_of
from shared.coach.engine import Engine
from shared.coach.futures import Prospects, orders, several_passes, tally
from shared.coach.others import least_missed
from shared.coach.passes import legal_passes, position_at
from shared.coach.ranking import Effort
from shared.coach.targets import SET
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import CARD

CHI_SQUARE_34_DEGREES_1_IN_1000 = 65.25
"""Upper critical value, computed with scipy.stats.chi2.ppf(0.999, 34)."""
RECORDED_ORDERS = [[5, 6, 3, 2, 1, 0, 4, 7], [7, 6, 1, 5, 2, 0, 4, 3]]
RECORDED_RANKING = [("5c 9d N", 34.230636), ("6c 9d N", 34.208875), ("7c 9d N", 34.217288), ("5c 7c 9d", 34.248632)]


def test_every_unseen_natural_comes_equally_often_and_no_joker_ever() -> None:
    rack = racks(51, 1)[0]
    unseen = SET - rack
    three = several_passes(unseen, 3, 4000, (1,), np.ones((3, JOKER_INDEX)))
    assert three.shape == (4000, 9)
    for comes in (three[:, :3], three[:, 3:6], three[:, 6:]):
        counts = np.bincount(comes.ravel(), minlength=36)
        assert counts[JOKER_INDEX] == 0
        expected = 12000.0 * unseen[:JOKER_INDEX] / unseen[:JOKER_INDEX].sum()
        chi_square = ((counts[:JOKER_INDEX] - expected) ** 2 / expected).sum()
        assert chi_square < CHI_SQUARE_34_DEGREES_1_IN_1000


def test_no_future_brings_more_of_a_kind_than_is_unseen() -> None:
    unseen = counts_of(typed("N N E W 1b J J"))
    for passes in (1, 2):
        assert (tally(several_passes(unseen, 3 - passes, 200, (2,), np.ones((passes, JOKER_INDEX)))) <= unseen).all()
        assert (tally(several_passes(unseen, 5 // passes, 200, (2,), np.ones((passes, JOKER_INDEX)))) <= unseen).all()


def test_a_kind_that_others_pass_twice_as_readily_comes_first_twice_as_often() -> None:
    unseen = counts_of(typed("N E"))
    weights = np.ones((2, JOKER_INDEX))
    weights[0, 27] = 2.0
    comes = several_passes(unseen, 1, 6000, (3,), weights)
    assert abs((comes[:, 0] == 27).mean() - 2 / 3) < 4 * (2 / 9 / 6000) ** 0.5
    assert (comes[:, 0] != comes[:, 1]).all(), "what has come cannot come again"


def test_the_bits_are_those_of_pcg64_and_never_change() -> None:
    """Recorded once from numpy's documented, fixed PCG64 stream: a change here changes every ranking."""
    assert orders(8, 2, (1, 2)).tolist() == RECORDED_ORDERS


def test_a_ranking_is_the_same_on_every_machine() -> None:
    """Recorded once; the last digits may differ between processors, the order and a millionth may not."""
    rack = typed("1b 1b 2b 3b 3b 5c 6c 7c 9d N E F F J")
    passes = Engine(CARD).rank(position_at("second left", rack, typed("W")), 7, Effort(((12, 16),))).passes
    assert [" ".join(ranked.tiles) for ranked in passes[:4]] == [tiles for tiles, _ in RECORDED_RANKING]
    assert [ranked.points for ranked in passes[:4]] == pytest.approx([p for _, p in RECORDED_RANKING], abs=1e-5)


def test_what_is_left_after_a_pass_is_what_the_rack_without_it_would_have() -> None:
    """Also for tiles that come, and for a joker that goes."""
    rack = racks(52, 1)[0]
    rack[JOKER_INDEX] = 1
    unseen = SET - rack
    prospects = Prospects.of(CARD, rack[None], unseen[None], Play.alone(30), 9, keep=30, close=30)
    passes = legal_passes(rack, 3)[::40].astype(np.int8)
    joker = -np.eye(1, 36, JOKER_INDEX, dtype=np.int8)
    changes = np.concatenate([-passes, joker, passes[:1]])
    coming = odds_for(CARD, outlook_of(unseen, Play.alone(30), 9), QUICK)
    for change, found in zip(changes, prospects.changed(changes)[:, 0], strict=True):
        after = (rack + change).astype(np.uint8)
        each = np.tile(after, (30, 1))
        np.testing.assert_allclose(found, chances(CARD, prospects.near[0], each, unseen, coming), atol=1e-6)


def test_the_quick_policy_gives_three_passable_tiles_that_the_rack_holds() -> None:
    for rack in racks(53, 20):
        gives = least_missed(CARD, rack[None], (SET - rack)[None], 9)[0]
        assert gives.sum() == 3
        assert (gives <= rack).all()
        assert gives[JOKER_INDEX] == 0


def test_several_targets_are_worth_more_than_the_best_and_never_more_than_certainty() -> None:
    chances_of_racks = np.array([[0.2, 0.0, 0.0], [0.2, 0.2, 0.1], [1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    for aim in (finishing(30), winning((0, 1, 1))):
        for later in range(8):
            stage = aim.stages[min(later, len(aim.stages) - 1)]
            one, several, sure, nothing = aim.worth(chances_of_racks, later)
            if (stage.shift, stage.slope) == (0.0, 1.0):
                assert one == pytest.approx(0.2)
            assert several == pytest.approx(one) if np.isinf(stage.power) else several > one
            assert sure == pytest.approx(1)
            assert sure <= 1
            assert nothing == pytest.approx(0)
            together = aim.in_all(chances_of_racks)
            assert together[0] == pytest.approx(0.2)
            assert 1 >= together[1] >= together[0]


def test_only_the_best_target_counts_for_finishing_it_alone() -> None:
    worth = finishing(30).worth(np.array([[0.2, 0.2, 0.1], [0.2, 0.0, 0.0]]), 0)
    assert worth == pytest.approx(0.2)


def test_a_better_target_is_worth_more_at_every_stage() -> None:
    rising = np.linspace(0.01, 0.99, 30)[:, None] * np.array([[1.0, 0.5]])
    for aim in (finishing(30), winning((0, 1, 1))):
        for later in range(8):
            assert (np.diff(aim.worth(rising, later)) > 0).all()


def test_the_more_passes_are_to_come_the_more_tiles_count_and_never_more_than_come() -> None:
    every = range(9)
    assert [counted_tiles(later) for later in every] == sorted(counted_tiles(later) for later in every)
    assert all(counted_tiles(later) <= 3 * later for later in every)
    assert [drawn_passes(later) for later in every] == sorted(drawn_passes(later) for later in every)
    assert all(drawn_passes(later) <= later for later in every)
    assert all(counted_tiles(later, drawn_passes(later)) <= 3 * (later - drawn_passes(later)) for later in every)

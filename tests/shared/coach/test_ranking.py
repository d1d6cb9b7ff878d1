"""A ranking goes in rounds: the best of each are tried in more futures, and what counts of a gift counts there."""

from dataclasses import replace

import numpy as np
import pytest

from shared.coach.distance import counts_of
from shared.coach.engine import Stopped
from shared.coach.ledger import Judged, balance
from shared.coach.passes import Position, position_at, tiles_of
from shared.coach.ranking import HINT, READING, THINK, Effort, RankedPass, means, order_of
from shared.rules.steps import PASSES
from shared.rules.tiles import Rack
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE

RACK = typed("1b 1b 2b 3b 3b 5c 6c 7c 9d N E F F J")
ROUNDS = Effort(((30, 8), (12, 24), (5, 48)))


def test_who_drops_out_never_comes_before_who_stayed() -> None:
    for step in ("first right", "first across", "last right"):
        ranking = ENGINE.rank(position_at(step, RACK, ()), 1, ROUNDS)
        met = np.isfinite(ranking.outcomes).sum(axis=1)
        assert (met[:5] == 48).all()
        assert sorted(met.tolist()) == [8] * 18 + [24] * 7 + [48] * 5
        net = [ranked.net for ranked in ranking.passes]
        assert net[:5] == sorted(net[:5], reverse=True)
        assert net[5:30] == sorted(net[5:30], reverse=True)
        assert max(net[5:]) <= min(net[:5])
        assert [ranked.evaluated for ranked in ranking.passes[:31]] == [True] * 30 + [False]


def test_a_pass_asked_for_meets_every_future() -> None:
    position = position_at("first right", RACK, ())
    last = [ranked.tiles for ranked in ENGINE.rank(position, 1, ROUNDS).passes[-2:]]
    ranking = ENGINE.rank(position, 1, ROUNDS, also=tuple((tiles, 0) for tiles in last))
    for tiles in last:
        assert np.isfinite(ranking.outcomes[ranking.place(tiles)]).all()
        assert ranking.gap(ranking.place(tiles)).points >= 0
    assert np.isfinite(ranking.outcomes).all(axis=1).sum() == 7


def test_the_passes_of_the_last_round_are_compared_in_the_same_futures() -> None:
    ranking = ENGINE.rank(position_at("first across", RACK, ()), 1, ROUNDS)
    for place in range(5):
        assert ranking.passes[place].points == pytest.approx(ranking.outcomes[place].mean(), abs=1e-6)
        assert ranking.gap(place).points == ranking.best.net - ranking.passes[place].net
    assert ranking.gap(3).se <= ranking.passes[3].se + ranking.best.se


def test_the_same_seed_gives_the_same_answer_whether_asked_for_progress_or_not() -> None:
    position = position_at("first left", RACK, typed("W W S"))
    shares: list[float] = []
    first, again = ENGINE.rank(position, 3, ROUNDS, check=shares.append), ENGINE.rank(position, 3, ROUNDS)
    assert first.passes == again.passes
    assert np.array_equal(first.outcomes, again.outcomes, equal_nan=True)
    assert shares == sorted(shares)
    assert len(shares) >= 3
    assert shares[-1] == pytest.approx(1)
    assert ENGINE.rank(position, 4, ROUNDS).passes != first.passes


@pytest.mark.parametrize("after", [0.0, 0.4, 0.7])
def test_it_stops_in_every_round(after: float) -> None:
    def check(share: float) -> None:
        if share > after:
            raise Stopped

    with pytest.raises(Stopped):
        ENGINE.rank(position_at("first left", RACK, ()), 1, ROUNDS, check=check)


def test_a_gift_counts_to_the_neighbours_and_not_across_or_at_the_courtesy() -> None:
    for step in (*PASSES, "courtesy offer", "courtesy give"):
        passes = ENGINE.rank(position_at(step, RACK, ()), 1, ROUNDS).passes[:30]
        gifts = [ranked.gift for ranked in passes]
        assert None not in gifts
        assert max(gift or 0 for gift in gifts) > 0
        counts = step in ("first right", "first left", "second left", "last right")
        for ranked in passes:
            assert ranked.given == pytest.approx(0.1 * (ranked.gift or 0) if counts else 0, abs=1e-5)
            assert ranked.net == ranked.points - ranked.given


def test_only_a_reading_has_the_gift_of_every_pass() -> None:
    position = position_at("first right", RACK, ())
    seen = ENGINE.rank(position, 1, replace(ROUNDS, gifts=True)).passes
    assert None not in [ranked.gift for ranked in seen]
    assert {ranked.gift for ranked in ENGINE.rank(position, 1, ROUNDS).passes[30:]} == {None}
    assert (HINT.gifts, THINK.gifts, READING.gifts) == (False, False, True)


def test_of_two_equal_passes_the_smaller_gift_comes_first() -> None:
    outcomes, given = np.full((2, 4), 20.0), np.array([0.5, 0.25])
    points, _ = means(outcomes, given)
    assert points == [20.0, 20.0]
    assert order_of(outcomes, np.array(points) - given).tolist() == [1, 0]


def test_one_that_dropped_out_is_measured_against_the_best_in_the_futures_that_it_met() -> None:
    gone = np.nan
    outcomes = np.array([[10.0, 14.0, 30.0, 34.0], [11.0, 12.0, 29.0, 30.0], [9.0, 11.0, gone, gone]])
    points, _ = means(outcomes, np.zeros(3))
    assert points == [22.0, 20.5, 20.0]
    lucky = np.array([[10.0, 14.0, 30.0, 34.0], [11.0, 12.0, 29.0, 30.0], [12.0, 14.0, gone, gone]])
    points, _ = means(lucky, np.zeros(3))
    assert points[2] == 20.5, "it may not pass one that stayed"
    assert order_of(lucky, np.array(points)).tolist() == [0, 1, 2]


def test_the_ledger_is_exact_when_gifts_decide() -> None:
    """A seat that ranks by points alone loses what the gifts come to, and the ledger says so to the last bit."""
    decided = 0
    for seed, rack in enumerate(racks(81, 8)):
        dice = np.random.Generator(np.random.PCG64(seed))
        made, passed, held = [], (), rack
        for number, step in enumerate(PASSES):
            position = Position(tiles_of(held), passed, 5 - number, made=number)
            ranking = ENGINE.rank(position, 1, ROUNDS)
            chosen: RankedPass = max(ranking.passes[:5], key=lambda ranked: ranked.points)
            decided += chosen != ranking.best
            place = ranking.place(chosen.tiles)
            made.append(Judged(step, "person", False, ranking.best, chosen, ranking.gap(place).se))
            pool = [tile for tile in tiles_of(position.unseen()) if tile != "J"]
            came: Rack = tuple(pool[index] for index in dice.choice(len(pool), 3, replace=False))
            held, passed = held - counts_of(chosen.tiles) + counts_of(came), (*passed, *chosen.tiles)
        book = balance(made, ENGINE.as_it_is(Position(tiles_of(held), passed, 0, (), made=6)))
        assert book.start + book.luck + book.given - book.loss == book.final
        assert all(entry.loss >= 0 for entry in book.entries)
        assert all(entry.chosen.points - entry.best.points == entry.given - entry.loss for entry in book.entries)
        assert book.given >= book.loss
    assert decided > 0

"""Every legal pass is ranked, from what the seat knows, the same way each time."""

import tracemalloc
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations
from math import comb

import numpy as np
import pytest

from shared.cards import Card, read_card
from shared.coach.aims import counted_tiles, finishing
from shared.coach.chance import Play, finish_chance
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away, counts_of
from shared.coach.engine import Engine, Stopped
from shared.coach.estimate import Estimate
from shared.coach.futures import orders, tally
from shared.coach.others import Others
from shared.coach.passes import PASS, Choices, Position, legal_passes, position_at, tiles_of
from shared.coach.ranking import HINT, Effort, Ranking
from shared.coach.targets import SET, committed
from shared.rules.tiles import INDEX, KINDS, Rack, full_set
from shared.rules.typed_tiles import typed
from tests.shared.coach.lives import CARDS
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE, make, pattern

RACK = typed("1b 1b 2b 3b 3b 5c 6c 7c 9d N E F F J")
QUICK = Effort(((12, 16),))


def plain(ranking: Ranking) -> list[tuple[Rack, int, float]]:
    return [(ranked.tiles, ranked.blind, ranked.points) for ranked in ranking.passes]


def test_every_legal_pass_is_ranked_once_and_none_holds_a_joker() -> None:
    ranking = ENGINE.rank(position_at("first right", RACK, ()), 1, QUICK)
    free = [tile for tile in RACK if tile != "J"]
    expected = {tuple(sorted(chosen)) for chosen in combinations(free, 3)}
    found = [tuple(sorted(ranked.tiles)) for ranked in ranking.passes]
    assert len(found) == len(set(found))
    assert set(found) == expected


def test_fourteen_different_tiles_have_364_passes() -> None:
    different = typed("1b 2b 3b 4b 5b 6b 7b 8b 9b 1c 2c 3c 4c 5c")
    assert len(legal_passes(counts_of(different), 3)) == comb(14, 3) == 364


def test_eight_jokers_leave_passes_to_choose_from() -> None:
    ranking = ENGINE.rank(position_at("first right", typed("J J J J J J J J 1b 2b 3b N F"), ()), 1, QUICK)
    assert len(ranking.passes) == comb(5, 3)


def test_the_best_comes_first_and_what_was_only_screened_comes_last() -> None:
    passes = ENGINE.rank(position_at("first across", RACK, ()), 1, QUICK).passes
    points = [ranked.points for ranked in passes]
    assert points == sorted(points, reverse=True)
    assert [ranked.evaluated for ranked in passes] == [True] * 12 + [False] * (len(passes) - 12)
    assert all(0 <= ranked.points <= 100 for ranked in passes)


def test_blind_passes_are_ranked_where_they_are_allowed() -> None:
    for step in ("first left", "last right"):
        blind = Counter(r.blind for r in ENGINE.rank(position_at(step, RACK, ()), 1, QUICK).passes)
        assert set(blind) == {0, 1, 2, 3}
        assert blind[3] == 1
    for position in (position_at("first right", RACK, ()), position_at("first left", RACK, (), blind=False)):
        assert {ranked.blind for ranked in ENGINE.rank(position, 1, QUICK).passes} == {0}


def test_a_courtesy_gives_none_to_three_and_nothing_goes_blind() -> None:
    passes = ENGINE.rank(position_at("courtesy give", RACK, ()), 1, QUICK).passes
    assert {len(ranked.tiles) for ranked in passes} == {0, 1, 2, 3}
    assert {ranked.blind for ranked in passes} == {0}


def test_a_step_at_which_nothing_is_given_has_no_position() -> None:
    with pytest.raises(ValueError, match="go on"):
        position_at("go on", RACK, ())


def test_passes_still_to_come_are_counted_by_step() -> None:
    steps = ("first right", "first across", "first left", "second left", "second across", "last right")
    assert [position_at(step, RACK, ()).later for step in steps] == [5, 4, 3, 2, 1, 0]


def test_one_position_and_one_seed_give_one_ranking_whatever_the_order_of_the_rack() -> None:
    here = position_at("second left", RACK, typed("N E W"))
    there = position_at("second left", RACK[::-1], typed("W N E"))
    assert plain(ENGINE.rank(here, 5, QUICK)) == plain(ENGINE.rank(there, 5, QUICK))
    assert plain(ENGINE.rank(here, 5, QUICK)) != plain(ENGINE.rank(here, 6, QUICK))


def test_a_tile_that_was_passed_is_seen_and_one_that_came_back_counts_once() -> None:
    position = Position(typed("N N N N 1b"), typed("N 1b"), 0)
    unseen = position.unseen()
    assert unseen[counts_of(("N",)).argmax()] == 0
    assert unseen[0] == 2


def small_world() -> tuple[Engine, Position]:
    """A seat that has seen nearly everything: what may come can be written out."""
    hands = [
        [("N", 2), ("E", 3), ("W", 3), ("S", 3), ("R", 3)],
        [("N", 2), ("E", 4), ("W", 4), ("G", 4)],
        [("1b", 2), ("2b", 4), ("3b", 4), ("4b", 4)],
    ]
    patterns = Patterns.of_variants([pattern(hand, groups) for hand, groups in enumerate(hands)])
    engine = Engine(patterns, finishing(3))
    rack = typed("N E E W W S S R R G 1b 2b J")
    unseen = typed("N N E W S R G G 3b 4b J J")
    passed = tuple((Counter(full_set()) - Counter(rack) - Counter(unseen)).elements())
    return engine, Position(rack, passed, 0, looks=3)


def test_points_are_the_mean_over_every_three_tiles_that_can_come() -> None:
    """Each by its chance to come, kinds that others pass readily before kinds that they keep."""
    engine, position = small_world()
    unseen, rack = position.unseen(), position.counts()
    naturals = [tile for tile in tiles_of(unseen) if tile != "J"]
    weight = {tile: float(engine.others.flow[position.number, INDEX[tile]]) for tile in naturals}
    ranking = engine.rank(position, 3, Effort(((None, 600),)))
    for ranked in (*ranking.passes[:2], ranking.passes[-1]):
        mean = total = 0.0
        for came in permutations(naturals, 3):
            left, chance = sum(weight[tile] for tile in naturals), 1.0
            for tile in came:
                chance *= weight[tile] / left
                left -= weight[tile]
            mean += chance * best_exactly(engine, position, rack - counts_of(ranked.tiles), counts_of(came))
            total += chance
        assert total == pytest.approx(1)
        assert abs(ranked.points - mean) <= 4 * ranked.se + 0.01


def best_exactly(engine: Engine, position: Position, kept: Counts, came: Counts) -> float:
    patterns, left = engine.patterns, position.unseen() - came
    return 100 * max(
        float(_finish(tuple(patterns.pairs[v]), tuple(patterns.groups[v]), tuple(kept + came), tuple(left)))
        for v in range(len(patterns))
    )


@cache
def _finish(pairs: tuple[int, ...], groups: tuple[int, ...], rack: tuple[int, ...], unseen: tuple[int, ...]) -> float:
    as_counts = [np.array(counts, dtype=np.uint8) for counts in (pairs, groups, rack, unseen)]
    return float(finish_chance(*as_counts, Play.alone(3), 0))


def first_practice_card() -> Card:
    """The practice card of earlier heats, where most hands want flowers."""
    card = read_card((CARDS / "practice_1.toml").read_bytes())
    assert isinstance(card, Card)
    return card


def test_flowers_come_by_passes_more_seldom_than_what_nobody_wants() -> None:
    """The tendency of the other seats by such a card, found from the card alone."""
    flow = Engine.of_card(first_practice_card()).others.flow
    assert (flow[:, INDEX["F"]] < 0.3).all()
    assert (flow[:, INDEX["1b"]] > 1).all()
    assert (flow[:, INDEX["1b"]] == flow[:, INDEX["1c"]]).all()
    assert (flow[:, INDEX["1b"]] == flow[:, INDEX["1d"]]).all()
    assert flow.min() > 0
    assert flow.mean(axis=1) == pytest.approx(np.ones(6))


def test_what_nobody_wants_comes_by_the_first_pass_most_readily() -> None:
    """What is passed there goes round, and what goes round is less one-sided every time."""
    flow = Engine.of_card(first_practice_card()).others.flow
    assert (flow[0, INDEX["1b"]] > flow[2:, INDEX["1b"]]).all()
    assert (flow[0, INDEX["F"]] < flow[2:, INDEX["F"]]).all()


def hindsight(
    patterns: Patterns, rack: Counts, unseen: Counts, looks: int, passed: int, futures: int, seed: int
) -> Estimate:
    """Return the share of futures in which some hand of the card is complete, were every tile that comes kept.

    No way of playing does better: the target is chosen after everything has come.
    """
    pool = np.repeat(np.arange(len(KINDS)), unseen)
    shuffled = pool[orders(len(pool), futures, (seed, passed, 2))]
    after = shuffled[:, looks:]
    # Stable: the tiles that are not jokers keep their shuffled order, so the first of them are what the passes bring.
    naturals = np.argsort(after == JOKER_INDEX, axis=1, kind="stable")[:, :passed]
    came = tally(np.take_along_axis(after, naturals, axis=1))
    came[:, JOKER_INDEX] = 0
    racks = rack + tally(shuffled[:, :looks]) + came
    return Estimate.of((away(patterns, racks) == 0).any(axis=1).astype(np.float64))


def test_the_three_estimators_stand_in_order_on_100_racks() -> None:
    """One target held to the end, the best pass with the target still open, and every tile kept with hindsight.

    For all three every unseen tile comes as readily as another.
    """
    engine = Engine(ENGINE.patterns, finishing(30))
    engine.__dict__["others"] = Others(np.ones((6, JOKER_INDEX)), ENGINE.others.draws)
    below_open = below_hindsight = 0
    gaps = []
    for number, rack in enumerate(racks(21, 100)):
        unseen, later = SET - rack, number % 3
        coming = PASS + counted_tiles(later)
        held = 100 * committed(engine.patterns, rack[None], unseen[None], Play.alone(30), coming)[0]
        best = engine.rank(Position(tiles_of(rack), (), later), number, HINT).best
        seen = hindsight(engine.patterns, rack, unseen, 30, PASS * (later + 1), 300, number)
        below_open += held <= best.points + 4 * best.se + 0.01
        below_hindsight += best.points <= seen.points + 4 * (best.se**2 + seen.se**2) ** 0.5 + 0.01
        gaps.append((best.points - held, seen.points - best.points))
    assert (below_open, below_hindsight) == (100, 100)
    assert np.mean(gaps, axis=0).min() > 0


def test_no_tile_is_worth_less_than_nothing_and_an_idle_one_is_worth_nothing() -> None:
    engine, position = small_world()
    worths = engine.worths(position, 1, futures=64)
    assert set(worths) == set(position.rack)
    assert all(worth.points >= -1e-4 for worth in worths.values())
    assert max(worths, key=lambda tile: worths[tile].points) != "2b"
    assert worths["J"].points > worths["1b"].points


def test_tiles_that_fit_together_are_a_greater_gift() -> None:
    engine, position = small_world()
    tiles = np.array([counts_of(typed(text)) for text in ("E E W", "1b 5c 9d")])
    together, apart = engine.gifts(position, tiles, 1)
    assert together > apart >= 0


def test_the_gap_to_the_best_comes_with_its_own_error() -> None:
    ranking = ENGINE.rank(position_at("last right", RACK, ()), 1, QUICK)
    assert ranking.gap(0).points == 0
    fifth = ranking.gap(5)
    assert fifth.points == ranking.best.net - ranking.passes[5].net
    assert fifth.se < ranking.passes[5].se + ranking.best.se
    with pytest.raises(ValueError, match="not evaluated"):
        ranking.gap(12)


def test_a_pass_asked_for_is_evaluated_wherever_the_screen_puts_it() -> None:
    position = position_at("first right", RACK, ())
    worst = ENGINE.rank(position, 1, QUICK).passes[-1].tiles
    ranking = ENGINE.rank(position, 1, QUICK, also=((worst, 0),))
    place = ranking.place(worst)
    assert ranking.passes[place].evaluated
    with pytest.raises(ValueError, match="no legal pass"):
        ENGINE.rank(position, 1, QUICK, also=((("J", "N", "E"), 0),))


def test_a_long_ranking_tells_how_far_it_is_and_can_be_stopped() -> None:
    shares: list[float] = []
    ENGINE.rank(position_at("first left", RACK, ()), 1, Effort(((None, 4),)), check=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1

    def stop(share: float) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        ENGINE.rank(position_at("first left", RACK, ()), 1, QUICK, check=stop)


def test_the_engine_of_3000_variants_stays_under_150_megabytes() -> None:
    variants = make(hands=150, variants=3000, seed=3)
    assert len(variants) > 2900
    tracemalloc.start()
    engine = Engine(Patterns.of_variants(variants))
    engine.rank(position_at("first right", RACK, ()), 1, HINT)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 150e6


def test_choices_know_their_place() -> None:
    choices = Choices.of(position_at("first left", RACK, ()))
    row = choices.find(typed("N E"), 1)
    assert tiles_of(choices.tiles[row]) == ("N", "E")
    assert (choices.changes(np.array([row])) == -choices.tiles[[row]].astype(int)).all()


def test_in_a_courtesy_what_one_passed_oneself_comes_back_more_often() -> None:
    """Of equally many unseen tiles, those come more readily whose like the seat has passed: they are in the racks."""
    passed = typed("4c 4c 9d")
    here = position_at("courtesy offer", RACK, passed)
    assert here.courtesy
    comes = tally(ENGINE._comes(here, 4000, 1)).sum(axis=0, dtype=float)
    usual = tally(ENGINE._comes(replace(here, courtesy=False), 4000, 1)).sum(axis=0, dtype=float)
    went = counts_of(passed) > 0
    assert (comes[went] > 1.5 * usual[went]).all()
    assert comes.sum() == usual.sum() == 12_000

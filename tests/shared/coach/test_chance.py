"""The finish chance is the share of all draws that complete a pattern."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from shared.coach.aims import finishing
from shared.coach.chance import FINE, QUICK, Play, Precision, chances, finish_chance, odds_for, outlook_of
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away_one, counts_of
from shared.coach.targets import SET, committed, finish_alone, nearest, read_hands, target_chances
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import CARD, pattern


def exact(patterns: Patterns, variant: int, rack: Counts, unseen: Counts, looks: int, passed: int) -> Fraction:
    play = Play.alone(looks)
    return finish_chance(patterns.pairs[variant], patterns.groups[variant], rack, unseen, play, passed)


def by_every_draw(patterns: Patterns, rack: Counts, unseen: str, looks: int, passed: int) -> Fraction:
    """Deal the looks and then the passed tiles in every possible way and count the complete ones."""
    tiles = typed(unseen)
    complete = total = 0
    for looked in combinations(range(len(tiles)), looks):
        rest = [i for i in range(len(tiles)) if i not in looked and tiles[i] != "J"]
        for came in combinations(rest, passed):
            # Every way to look leaves its own number of ways to pass; each look must weigh the same.
            held = rack + counts_of(tiles[i] for i in (*looked, *came))
            ways = Fraction(1, len(list(combinations(rest, passed))))
            complete += ways * int(away_one(patterns, held)[0] == 0)
        total += 1
    return Fraction(complete) / total


@pytest.mark.parametrize(
    ("groups", "rack"),
    [
        ([("N", 2), ("E", 3), ("F", 9)], "N E E F F F F F F F F J"),
        ([("N", 2), ("N", 3), ("E", 1), ("F", 8)], "N F F F F F F F F J"),
        ([("W", 1), ("E", 4), ("N", 9)], "E N N N N J J J J J"),
    ],
)
@pytest.mark.parametrize(("looks", "passed"), [(0, 0), (3, 0), (4, 2), (0, 3), (5, 1)])
def test_small_cases_agree_with_every_possible_draw(
    groups: list[tuple[str, int]], rack: str, looks: int, passed: int
) -> None:
    patterns = Patterns.of_variants([pattern(0, groups)])
    held = counts_of(typed(rack))
    unseen = "N N E E W J J 1b 2b"
    expected = by_every_draw(patterns, held, unseen, looks, passed)
    assert exact(patterns, 0, held, counts_of(typed(unseen)), looks, passed) == expected


@pytest.mark.parametrize(("precision", "error"), [(FINE, 1e-12), (QUICK, 2e-5)])
@pytest.mark.parametrize(("looks", "passed"), [(30, 0), (30, 9), (30, 18), (0, 3), (12, 6), (99, 18)])
def test_the_floats_are_the_integers(precision: Precision, error: float, looks: int, passed: int) -> None:
    for rack in racks(looks + passed, 4):
        unseen = SET - rack
        near = nearest(CARD, rack[None], 12)[0]
        coming = odds_for(CARD, outlook_of(unseen, Play.alone(looks), passed), precision)
        found = chances(CARD, near, np.tile(rack, (12, 1)), unseen, coming)
        expected = [float(exact(CARD, variant, rack, unseen, looks, passed)) for variant in near]
        np.testing.assert_allclose(found, expected, rtol=0, atol=error)


def test_simulated_draws_agree_within_four_standard_errors_on_50_racks() -> None:
    dice = np.random.Generator(np.random.PCG64(11))
    looks, passed, trials = 30, 6, 3000
    for rack in racks(12, 50):
        unseen = SET - rack
        variant = int(nearest(CARD, rack[None], 1)[0, 0])
        pairs, groups = CARD.pairs[variant].astype(int), CARD.groups[variant].astype(int)
        jokers = dice.hypergeometric(unseen[JOKER_INDEX], unseen[:JOKER_INDEX].sum(), looks, trials)
        complete = 0
        for more in np.unique(jokers):
            times = int((jokers == more).sum())
            drawn = dice.multivariate_hypergeometric(unseen[:JOKER_INDEX].astype(int), looks - more + passed, times)
            full = np.concatenate([drawn, np.full((times, 1), more)], axis=1) + rack
            short = np.maximum(pairs - full, 0)[:, :JOKER_INDEX].sum(axis=1)
            over = np.maximum(full - pairs, 0)
            group_short = np.maximum(groups - over, 0)[:, :JOKER_INDEX].sum(axis=1)
            complete += int(((short == 0) & (group_short <= full[:, JOKER_INDEX])).sum())
        chance = float(exact(CARD, variant, rack, unseen, looks, passed))
        error = (chance * (1 - chance) / trials) ** 0.5
        assert abs(complete / trials - chance) <= 4 * error + 1e-12


def test_more_looks_and_more_passes_never_hurt() -> None:
    for rack in racks(13, 5):
        unseen = SET - rack
        variant = int(nearest(CARD, rack[None], 1)[0, 0])
        by_looks = [exact(CARD, variant, rack, unseen, looks, 0) for looks in range(0, 60, 6)]
        by_passes = [exact(CARD, variant, rack, unseen, 12, passed) for passed in range(0, 19, 3)]
        assert by_looks == sorted(by_looks)
        assert by_passes == sorted(by_passes)
        assert all(0 <= chance <= 1 for chance in by_looks + by_passes)


def test_floats_stay_between_nothing_and_certainty() -> None:
    every = np.arange(len(CARD))
    for rack in racks(14, 5):
        for looks in (0, 30, 120):
            coming = odds_for(CARD, outlook_of(SET - rack, Play.alone(looks), 0), QUICK)
            found = chances(CARD, every, np.tile(rack, (len(every), 1)), SET - rack, coming)
            assert found.min() >= 0
            assert found.max() <= 1


def test_a_complete_rack_is_certain_and_a_pair_that_is_gone_is_hopeless() -> None:
    groups = [("N", 2), ("E", 4), ("W", 4), ("S", 4)]
    patterns = Patterns.of_variants([pattern(0, groups)])
    complete = counts_of(typed("N N E E E E W W W W S S J J"))
    assert exact(patterns, 0, complete, SET - complete, 0, 0) == 1
    lonely = counts_of(typed("N E E E E W W W W S S J J F"))
    gone = SET - lonely
    gone[27] = 0
    assert exact(patterns, 0, lonely, gone, 60, 18) == 0


def test_the_nearest_patterns_hold_the_likeliest_one_as_a_rule() -> None:
    """Against all variants of the card: at most four of 60 racks miss it, and then by little."""
    missed = []
    for rack in racks(15, 60):
        every = np.arange(len(CARD))
        coming = odds_for(CARD, outlook_of(SET - rack, Play.alone(30), 9), QUICK)
        best = chances(CARD, every, np.tile(rack, (len(every), 1)), SET - rack, coming).max()
        missed.append(best - committed(CARD, rack[None], (SET - rack)[None], Play.alone(30), 9)[0])
    assert sum(lost > 1e-6 for lost in missed) <= 4
    assert float(np.mean(missed)) < 0.001


def test_racks_with_different_jokers_are_measured_together_as_one_by_one() -> None:
    dealt = racks(16, 20)
    together = target_chances(CARD, dealt, SET - dealt, Play.alone(30), 3)[1]
    for row, rack in zip(together, dealt, strict=True):
        alone = target_chances(CARD, rack[None], (SET - rack)[None], Play.alone(30), 3)[1][0]
        np.testing.assert_allclose(row, alone, rtol=0, atol=1e-6)


def test_every_hand_is_read_by_its_likeliest_variant() -> None:
    rack = racks(17, 1)[0]
    readings = read_hands(CARD, rack, SET - rack, finishing(30), 0, 0)
    alone = finish_alone(CARD, rack, SET - rack, 30, 0)
    assert [reading.hand for reading in readings] == list(range(len(CARD.first)))
    distances = away_one(CARD, rack)
    for reading in readings[::12]:
        variants = np.flatnonzero(CARD.hand == reading.hand)
        assert reading.away == distances[variants].min()
        every = [float(exact(CARD, variant, rack, SET - rack, 30, 0)) for variant in variants]
        assert reading.win == pytest.approx(max(every), abs=5e-5)
        assert alone[reading.hand] == pytest.approx(max(every), abs=1e-11)
        assert every[reading.variant - variants[0]] == pytest.approx(max(every), abs=5e-5)

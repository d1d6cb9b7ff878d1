"""The clock that follows the player, as rules about single sets; long runs are in tests/outside/test_staircases.py."""

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.measures.pacing import (
    FOLLOWING,
    LONGEST_MS,
    SHORTEST_MS,
    Staircase,
    Trial,
    in_words,
    judged,
    next_length,
    rule_in_words,
)
from shared.measures.stats import share

YES, NO = True, False
TRIALS = st.lists(st.builds(Trial, st.just(20_000), st.booleans(), st.booleans()), min_size=1, max_size=12)


@given(st.floats(0.05, 0.95), st.floats(0.01, 0.5))
def test_the_ratio_of_the_steps_is_kaernbachs(target: float, down: float) -> None:
    """Kaernbach 1991: step up / step down = p / (1 - p)."""
    rule = Staircase.weighted(target, down)
    assert rule.up / rule.down == pytest.approx(target / (1 - target))
    assert rule.settles_at == pytest.approx(target)


@pytest.mark.parametrize(
    ("results", "steps_down", "steps_up"),
    [
        ((YES,), 0, 0),
        ((YES, YES), 1, 0),
        ((YES, YES, YES), 1, 0),
        ((YES, YES, YES, YES), 2, 0),
        ((YES, NO, YES), 0, 1),
        ((NO, NO, YES, YES), 1, 2),
    ],
)
def test_two_down_one_up_is_levitts_rule(results: tuple[bool, ...], steps_down: int, steps_up: int) -> None:
    """Levitt 1971: down after two good results since the last move, up after every other."""
    moved = Staircase(0.1, 0.3, run=2).after(20, results)
    assert log(moved / 20) == pytest.approx(0.3 * steps_up - 0.1 * steps_down)


@given(TRIALS)
def test_a_set_moves_a_step_by_its_good_passes_down_and_its_others_up(trials: list[Trial]) -> None:
    offer = next_length("first left", [trials])
    assert offer
    good = sum(trial.in_time and trial.near for trial in trials)
    moved = log(20_000) - good * FOLLOWING.down + (len(trials) - good) * FOLLOWING.up
    if SHORTEST_MS < offer.next_ms < LONGEST_MS:
        assert log(offer.next_ms) == pytest.approx(moved, abs=50 / offer.next_ms + 1e-9)
    assert (offer.passes, offer.good) == (len(trials), good)


@given(st.lists(TRIALS, max_size=4), TRIALS)
def test_only_the_last_set_with_a_pass_moves_the_clock(earlier: list[list[Trial]], last: list[Trial]) -> None:
    alone, after_others = next_length("first left", [last]), next_length("first left", [*earlier, last, []])
    assert alone
    assert after_others
    assert alone.next_ms == after_others.next_ms


@given(st.integers(SHORTEST_MS, LONGEST_MS), st.lists(st.booleans(), min_size=1, max_size=40))
def test_an_offer_never_leaves_its_bounds(length_ms: int, results: list[bool]) -> None:
    offer = next_length("first right", [[Trial(length_ms, good, True) for good in results]])
    assert offer
    assert SHORTEST_MS <= offer.next_ms <= LONGEST_MS


def test_the_offer_starts_from_the_length_that_was_played_not_from_the_one_that_was_offered() -> None:
    good = [Trial(25_000, True, True)]
    chosen = [Trial(40_000, True, True)]
    offer = next_length("first right", [good, chosen])
    assert offer
    assert (offer.played_ms, offer.next_ms) == (40_000, 38_000)


def test_a_pass_is_in_time_only_within_the_steps_own_length_and_by_the_persons_hand() -> None:
    assert judged(20_000, 20_000, "person", 0).in_time
    assert not judged(20_000, 20_001, "person", 0).in_time
    assert not judged(20_000, 15_000, "timeout", 0).in_time


def test_half_a_point_is_still_near_the_best() -> None:
    assert judged(20_000, 1, "person", 0.5).near
    assert not judged(20_000, 1, "person", 0.51).near


def test_nothing_played_means_nothing_offered() -> None:
    assert next_length("first right", []) is None
    assert next_length("first right", [[], []]) is None


def test_a_player_whose_passes_in_time_are_rarely_near_the_best_is_told_that_time_is_not_what_is_missing() -> None:
    """8 of 20: scipy's Wilson interval for it ends at 61%, below the 80% aimed at."""
    weak = [Trial(20_000, True, number % 5 < 2) for number in range(20)]
    offer = next_length("first right", [weak])
    assert offer
    assert offer.near_when_in_time == share(8, 20)
    assert not offer.time_is_missing
    assert in_words(offer).endswith("Of the passes in time only 40% were near the best: more time is not enough.")


def test_the_rule_says_its_own_numbers() -> None:
    assert "5% shorter" in rule_in_words()
    assert "22% longer" in rule_in_words()
    assert "80% of the passes" in rule_in_words()

"""The next clock: from the seconds that were used, towards the level, and never against its own numbers."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.measures.pacing import (
    FEWEST,
    LATEST,
    NEAR_POINTS,
    SHORTEST_MS,
    Trial,
    in_words,
    judged,
    next_length,
    rule_in_words,
    three_in_four,
)

TRIALS = st.lists(st.builds(Trial, st.integers(100, 90_000), st.booleans(), st.booleans()), max_size=60)
LEVELS = st.integers(1_000, 120_000)


def good(*seconds: float) -> list[Trial]:
    return [Trial(round(second * 1_000), True, True) for second in seconds]


@given(st.lists(st.integers(0, 600_000), min_size=1, max_size=80))
def test_three_in_four_is_numpys_percentile_of_the_inverted_distribution(spent_ms: list[int]) -> None:
    assert three_in_four(spent_ms) == np.percentile(spent_ms, 75, method="inverted_cdf")


@given(TRIALS, LEVELS)
def test_an_offer_is_never_longer_than_what_was_ever_used_and_lies_between_ones_own_time_and_the_level(
    passes: list[Trial], level_ms: int
) -> None:
    offer = next_length("first right", passes, 43_000, level_ms)
    if offer is None:
        assert sum(trial.good for trial in passes) < FEWEST
        return
    assert offer.next_ms <= max(SHORTEST_MS, max(trial.spent_ms for trial in passes))
    low, high = sorted((offer.within_ms, level_ms))
    assert offer.next_ms <= max(SHORTEST_MS, high)
    assert offer.next_ms >= min(low, offer.longest_ms) - 100


def test_who_used_four_seconds_is_not_offered_the_levels_forty() -> None:
    offer = next_length("first right", good(3.1, 3.6, 4.0, 3.9), 43_000, 43_200)
    assert offer
    assert offer.next_ms == 4_000


def test_a_slow_player_is_led_a_quarter_of_the_way_down_to_the_level() -> None:
    offer = next_length("first right", good(40, 40, 40, 40), 60_000, 20_000)
    assert offer
    assert offer.next_ms == 35_000


def test_only_good_answers_count_but_the_longest_is_of_all_passes() -> None:
    bad = [Trial(80_000, False, True), Trial(70_000, True, False)]
    offer = next_length("first right", [*bad, *good(10, 10, 10, 10)], 43_000, 43_200)
    assert offer
    assert (offer.within_ms, offer.good, offer.passes, offer.longest_ms) == (10_000, 4, 6, 80_000)
    assert offer.next_ms == 18_300


def test_a_player_who_became_quick_is_measured_by_the_latest_answers() -> None:
    offer = next_length("first left", good(*[30.0] * 40, *[8.0] * LATEST), 30_000, 20_000)
    assert offer
    assert (offer.counted, offer.within_ms) == (LATEST, 8_000)


def test_nothing_played_or_too_few_good_answers_mean_nothing_offered() -> None:
    assert next_length("first right", [], 43_000, 43_200) is None
    assert next_length("first right", good(*[5.0] * (FEWEST - 1)), 43_000, 43_200) is None
    assert next_length("first right", [Trial(1_000, True, False)] * 50, 43_000, 43_200) is None


def test_a_pass_is_in_time_only_within_the_steps_own_length_and_by_the_persons_hand() -> None:
    assert judged(20_000, 20_000, "person", 0).in_time
    assert not judged(20_000, 20_001, "person", 0).in_time
    assert not judged(20_000, 15_000, "timeout", 0).in_time


def test_half_a_point_is_still_near_the_best() -> None:
    assert judged(20_000, 1, "person", NEAR_POINTS).near
    assert not judged(20_000, 1, "person", 0.51).near


def test_the_rule_is_one_sentence() -> None:
    assert rule_in_words().count(".") == 1
    assert "three in four" in rule_in_words()


@given(TRIALS, LEVELS)
def test_each_share_that_is_printed_names_its_count_and_agrees_with_the_passes(passes: list[Trial], level: int) -> None:
    offer = next_length("first right", passes, 43_000, level)
    if offer is None:
        return
    told = [int(figure) for figure in re.findall(r"(\d+) of (?:these |the latest )?(\d+)", in_words(offer))[0]]
    assert told == [sum(trial.good for trial in passes), len(passes)]
    ((within, of),) = re.findall(r"(\d+) of (?:these|the latest) (\d+)", in_words(offer))
    latest = [trial.spent_ms for trial in passes if trial.good][-LATEST:]
    assert int(of) == len(latest)
    assert sum(spent_ms <= offer.within_ms for spent_ms in latest) >= int(within)
    assert int(within) == pytest.approx(0.75 * int(of), abs=0.76)

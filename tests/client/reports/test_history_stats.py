"""What a history says, by heats whose answers are counted by hand."""

from dataclasses import replace
from random import Random

import pytest
from scipy.stats import binomtest, theilslopes

from client.reports.history import counts
from client.reports.history_stats import HistoryReport, history_report, in_order, sets_of
from client.storage.history_db import HistoryEntry, Read, StepLoss
from shared.rules.seat_heat import SeatStep
from shared.rules.settings import Settings
from tests.client.heats import SEVEN, entry, heat, step


def report(*entries: HistoryEntry) -> HistoryReport:
    return history_report(Read(entries))


def played(number: int, seconds: float = 10.0, points: float | None = None, first: int = 1) -> HistoryEntry:
    losses = {} if points is None else {"first right": points, "first across": points}
    steps = (step("first right", seconds), step("first across", seconds))
    return entry(heat(number, steps), losses, first=first)


def test_no_heats_have_nothing_to_say() -> None:
    empty = report()
    assert (empty.heats, empty.overall, empty.levels, empty.next_clock, empty.last_set) == (0, None, (), (), None)


def test_a_heat_is_inside_its_level_without_a_timeout_and_within_its_steps_together() -> None:
    # 25 of 20 seconds, with carried time, made up for at the next step.
    inside = [step("first right", 25, budget_s=30), step("first across", 15)]
    over = [step("first right", 25, budget_s=30), step("first across", 15.001)]
    timed_out = [step("first right", 20, by="timeout"), step("first across", 1)]
    found = report(entry(heat(1, inside)), entry(heat(2, over)), entry(heat(3, timed_out))).overall
    assert found
    assert (found.inside.value, found.inside.count) == (pytest.approx(1 / 3), 3)
    expected = binomtest(1, 3).proportion_ci(0.95, method="wilson")
    assert found.inside.interval
    assert (found.inside.interval.low, found.inside.interval.high) == pytest.approx((expected.low, expected.high))


def test_the_plan_step_has_a_clock_of_its_own() -> None:
    found = report(entry(heat(1, [step("first right", 20), step("plan", 30, length_s=29)]))).overall
    assert found
    assert found.inside.value == 1
    assert found.heat_seconds.value == 20


def test_medians_are_by_step_and_by_level() -> None:
    fast, slow = Settings(level_ms=120_000), Settings(level_ms=240_000)
    found = report(
        *(entry(heat(n, [step("first right", n), step("first left", 2 * n)], settings=fast)) for n in (1, 2, 6)),
        *(entry(heat(n, [step("first right", n)], settings=slow)) for n in (7, 8)),
    )
    assert found.overall
    assert [(times.step, times.seconds.value) for times in found.overall.steps] == [
        ("first right", 6),
        ("first left", 4),
    ]
    assert [(level.level_ms, level.heats, level.steps[0].seconds.value) for level in found.levels] == [
        (240_000, 2, 7.5),
        (120_000, 3, 2),
    ]


def test_the_median_of_a_step_has_an_interval_from_six_heats_on() -> None:
    five, six = (report(*(played(n, seconds=n) for n in range(1, count + 1))).overall for count in (5, 6))
    assert five
    assert six
    assert five.steps[0].seconds.interval is None
    assert six.steps[0].seconds.interval


def test_loss_is_counted_for_each_unforced_pass_and_apart_for_the_others() -> None:
    steps = [step("first right"), step("first across", by="timeout"), step("first left"), step("go on")]
    losses = [
        StepLoss(step="first right", points=3, error=0.1, luck=0),
        StepLoss(step="first across", points=10, error=0.1, luck=0),
        StepLoss(step="first left", points=7, error=0.1, luck=0, forced=True),
        StepLoss(step="go on", points=50, error=0.1, luck=0),
    ]
    found = report(entry(heat(1, steps), losses)).overall
    assert found
    assert found.loss
    assert found.forced_loss
    assert (found.loss.value, found.loss.count) == (3, 1)
    assert (found.forced_loss.value, found.forced_loss.count) == (8.5, 2)


def test_drills_and_heats_in_which_a_bot_answered_are_counted_apart_and_in_nothing_else() -> None:
    drill = entry(heat(2), {"first right": 9.0}, source="drill")
    helped = entry(heat(3, [step("first right"), step("first across", by="bot")]), {"first right": 9.0})
    found, alone = report(played(1, points=1.0), drill, helped), report(played(1, points=1.0))
    assert (found.heats, found.drills, found.with_a_bot) == (1, 1, 1)
    assert replace(found, drills=0, with_a_bot=0) == alone


def test_there_is_no_trend_from_fewer_than_twenty_heats() -> None:
    few, enough = (report(*(played(n, 30 - n, n / 10) for n in range(1, count + 1))).overall for count in (19, 20))
    assert few
    assert enough
    assert (few.speed_trend.heats, few.speed_trend.slope, few.loss_trend.slope) == (19, None, None)
    assert enough.speed_trend.slope
    assert enough.loss_trend.slope
    assert enough.speed_trend.slope.value == pytest.approx(-1)
    assert enough.loss_trend.slope.value == pytest.approx(0.1)


def test_the_trend_is_scipys_theil_sen_slope_of_the_seconds_a_pass() -> None:
    dice = Random(4)
    seconds = [dice.uniform(5, 20) for _ in range(30)]
    found = report(*(played(n, s) for n, s in enumerate(seconds))).overall
    assert found
    assert found.speed_trend.slope
    assert found.speed_trend.slope.interval
    expected = theilslopes([round(s * 1000) / 1000 for s in seconds])
    assert found.speed_trend.slope.value == pytest.approx(expected.slope)
    assert found.speed_trend.slope.interval.low == pytest.approx(expected.low_slope)
    assert found.speed_trend.slope.interval.high == pytest.approx(expected.high_slope)


def test_speed_stands_beside_loss_for_each_unforced_pass() -> None:
    found = report(played(1, 12, points=0.5), played(2, 8, points=2.0), played(3, 9))
    assert found.speed_and_loss == ((12, 0.5), (12, 0.5), (8, 2.0), (8, 2.0))
    assert found.loss_by_speed.heats == 2
    assert found.loss_by_speed.slope is None


def test_what_costs_most_comes_first_with_its_count_and_its_share_of_all_that_was_lost() -> None:
    def lost(number: int, points: float, *kinds: str, forced: bool = False) -> HistoryEntry:
        loss = StepLoss(step="first right", points=points, error=0.1, luck=0, kinds=kinds, forced=forced)
        return entry(heat(number), [loss])

    found = report(
        lost(1, 2, "breaking a pair"),
        lost(2, 4, "breaking a pair", "late change of target"),
        lost(3, 2),
        lost(4, 90, "breaking a pair", forced=True),
    )
    assert [(cost.kind, cost.loss.count, cost.loss.value, cost.total) for cost in found.costs] == [
        ("breaking a pair", 2, 3, 6),
        ("late change of target", 1, 4, 4),
    ]
    assert [cost.share_of_all for cost in found.costs] == [6 / 8, 4 / 8]


def test_what_an_earlier_version_called_otherwise_counts_with_what_it_is_called_today() -> None:
    then, now = "a late change of target", "a late change of hand"
    each = [
        entry(heat(number), [StepLoss(step="first right", points=points, error=0.1, luck=0, kinds=kinds)])
        for number, points, kinds in ((1, 2.0, (then,)), (2, 4.0, (now,)), (3, 1.0, (then, now)))
    ]
    assert [(cost.kind, cost.loss.count, cost.total) for cost in report(*each).costs] == [(now, 3, 7)]


# ---- sets


def numbers(entries: list[HistoryEntry]) -> list[list[int]]:
    return [[kept.heat.number for kept in one] for one in sets_of(in_order(entries))]


def test_a_set_is_what_followed_its_first_heat_at_one_table() -> None:
    assert numbers([played(1), played(2), played(3), played(4, first=4), played(5, first=4)]) == [[1, 2, 3], [4, 5]]


def test_a_set_ends_where_numbers_begin_again_or_half_a_day_has_passed() -> None:
    evening = [entry(heat(n, played_at=f"2031-03-01T2{n}:00:00Z")) for n in (1, 2)]
    alone_again = entry(heat(1, played_at="2031-03-01T22:30:00Z"))
    next_day = entry(heat(2, played_at="2031-03-02T20:00:00Z"))
    assert numbers([*evening, alone_again, next_day]) == [[1, 2], [1], [2]]


def test_heats_are_told_in_the_order_of_play_not_of_adding() -> None:
    """A heat of which a client hears only after rejoining is added late. Offsets are read: 20:00+01:00 is 19:00Z."""
    late = entry(heat(1, played_at="2031-03-01T20:00:00+01:00"))
    early = entry(heat(2, played_at="2031-03-01T19:30:00Z"))
    assert [kept.heat.number for kept in in_order([early, late])] == [1, 2]


def test_a_time_that_cannot_be_read_leaves_a_heat_where_it_was_added() -> None:
    odd = entry(heat(7, played_at="yesterday"))
    assert [kept.heat.number for kept in in_order([odd, played(1), odd, played(2)])] == [7, 1, 7, 2]


def test_last_fastest_and_least_loss_sets_are_found_among_whole_sets() -> None:
    def whole(first: int, seconds: float, points: float, heats: int = 3) -> list[HistoryEntry]:
        return [played(first + n, seconds, points, first) for n in range(heats)]

    found = report(*whole(1, 15, 0.2), *whole(4, 9, 3.0), *whole(7, 5, 0.1, heats=2))
    assert found.last_set
    assert found.fastest_set
    assert found.least_loss_set
    assert (found.last_set.heats, found.last_set.of, found.last_set.pass_seconds) == (2, 3, 5)
    assert found.fastest_set.pass_seconds == 9
    assert found.least_loss_set.loss == pytest.approx(0.2)


def test_a_set_that_left_its_level_is_not_the_fastest() -> None:
    hasty = [entry(heat(n, [step("first right", 1, by="timeout")])) for n in (1, 2, 3)]
    found = report(*hasty, *(played(n, 15, first=4) for n in (4, 5, 6)))
    assert found.fastest_set
    assert found.fastest_set.pass_seconds == 15


def test_a_set_with_a_heat_nobody_reviewed_has_no_loss() -> None:
    found = report(played(1, points=0.1), played(2, points=0.1), played(3))
    assert found.last_set
    assert found.last_set.loss is None
    assert found.least_loss_set is None


# ---- the clock


def test_the_clock_follows_the_good_answers_of_reviewed_heats_step_by_step() -> None:
    def one(number: int, right: SeatStep, across: SeatStep) -> HistoryEntry:
        return entry(heat(number, (right, across)), {"first right": 0.5, "first across": 0.6})

    quick, late = step("first right", 4), step("first right", 20.5, budget_s=30)
    far = step("first across", 5)
    found = report(*(one(n, quick if n < 4 else late, far) for n in range(1, 5)))
    (right,) = found.next_clock
    assert (right.step, right.good, right.passes, right.within_ms) == ("first right", 3, 4, 4_000)
    level_ms = Settings().length_ms("first right")
    assert right.level_ms == level_ms
    assert right.next_ms == (4_000 + (level_ms - 4_000) // 4) // 100 * 100


def test_without_a_review_no_clock_is_offered() -> None:
    assert report(played(1), played(2), played(3)).next_clock == ()


def test_heats_that_were_not_reviewed_leave_the_clock_as_it_was() -> None:
    reviewed = [played(n, points=0.0) for n in (1, 2, 3)]
    later = [played(n, first=4) for n in (4, 5, 6)]
    assert report(*reviewed, *later).next_clock == report(*reviewed).next_clock != ()


def test_a_forced_pass_is_no_basis_of_the_clock() -> None:
    forced = [
        entry(heat(n, [step("first right", 9)]), [StepLoss(step="first right", points=0, error=0, luck=0, forced=True)])
        for n in range(1, 6)
    ]
    assert report(*forced).next_clock == ()


def test_a_heat_in_which_nobody_answered_counts_nowhere_and_is_told_apart() -> None:
    empty = entry(heat(9, [step("first right", 20, by="timeout")] * 2), {"first right": 0.0})
    found, without = report(played(1, points=0.0), empty), report(played(1, points=0.0))
    assert (found.heats, found.not_played, found.with_a_bot) == (1, 1, 0)
    assert (found.overall, found.last_set, found.next_clock) == (without.overall, without.last_set, without.next_clock)
    assert counts(found).startswith("1 heat, not counting 1 not played")


def test_every_kind_of_pass_step_can_be_offered_a_clock() -> None:
    steps = [step(name) for name in SEVEN]
    found = report(*(entry(heat(number, steps), dict.fromkeys(SEVEN, 0.0)) for number in (1, 2, 3)))
    assert [offer.step for offer in found.next_clock] == list(SEVEN)

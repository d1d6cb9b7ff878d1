"""A clock as a value: what it charges, what it leaves, and when it is over."""

from hypothesis import given
from hypothesis import strategies as st

from shared.rules.pace import GRACE_MS, Clock, expired

MS = st.integers(0, 10**9)
MOMENTS = st.lists(MS, min_size=1, max_size=8).map(sorted)


@given(MS, MS, MOMENTS)
def test_what_is_spent_and_what_is_left_are_always_the_budget(budget_ms: int, start_ms: int, later: list[int]) -> None:
    clock = Clock(budget_ms).started(start_ms)
    spent = [clock.spent(start_ms + ms) for ms in later]
    assert spent == sorted(spent)
    assert spent == [min(ms, budget_ms) for ms in later], "never more than the budget is charged"
    assert all(clock.spent(ms) + clock.left(ms) == budget_ms for ms in later)


@given(MS, MS, MS)
def test_a_moment_before_the_start_costs_nothing(budget_ms: int, start_ms: int, before_ms: int) -> None:
    assert Clock(budget_ms).started(start_ms + before_ms).spent(start_ms) == 0


@given(MS, MS)
def test_an_answer_is_late_only_after_deadline_and_grace(budget_ms: int, start_ms: int) -> None:
    clock = Clock(budget_ms).started(start_ms)
    deadline_ms = clock.deadline_ms()
    assert deadline_ms == start_ms + budget_ms
    assert GRACE_MS == 250
    assert [expired(clock, deadline_ms + GRACE_MS + ms) for ms in (-1, 0, 1)] == [False, False, True]


@given(MS, st.lists(st.tuples(MS, MS), max_size=6))
def test_only_the_time_between_a_start_and_a_stop_is_charged(budget_ms: int, turns: list[tuple[int, int]]) -> None:
    clock, now_ms, run_ms = Clock(budget_ms), 0, 0
    for idle_ms, busy_ms in turns:
        now_ms += idle_ms
        clock = clock.started(now_ms)
        now_ms += busy_ms
        clock = clock.stopped(now_ms)
        run_ms += busy_ms
        assert clock.deadline_ms() is None
        assert not expired(clock, now_ms + 10**12)
        assert clock.spent(now_ms + 10**12) == min(run_ms, budget_ms)
    assert clock.started(now_ms).deadline_ms() == now_ms + max(0, budget_ms - run_ms)
    assert clock.carried_ms == 0


@given(MS, MS, MS, MS)
def test_a_forgiven_stall_moves_the_deadline_by_exactly_its_length(
    budget_ms: int, start_ms: int, stall_ms: int, after_ms: int
) -> None:
    clock = Clock(budget_ms).started(start_ms)
    forgiven = clock.forgiven(stall_ms)
    assert forgiven.deadline_ms() == start_ms + budget_ms + stall_ms
    assert forgiven.spent(start_ms + stall_ms + after_ms) == clock.spent(start_ms + after_ms)
    assert Clock(budget_ms).forgiven(stall_ms) == Clock(budget_ms)


@given(MS, MS, MS)
def test_more_time_is_added_to_what_is_left(budget_ms: int, used_ms: int, more_ms: int) -> None:
    clock = Clock(budget_ms).started(0)
    assert clock.extended(more_ms).left(0) == clock.left(0) + more_ms
    stopped = clock.stopped(used_ms)
    assert stopped.extended(more_ms).left(used_ms) == stopped.left(used_ms) + more_ms

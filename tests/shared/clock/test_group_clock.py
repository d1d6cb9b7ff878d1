"""The clock of several machines: everybody is done for themselves, late is late, and the step waits for all."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.clock.group_clock import GroupClock
from shared.clock.real_clock import RealClock
from shared.codec import Codec
from shared.rules.pace import GRACE_MS
from shared.rules.refusals import Refusal
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName

STAMP = "2030-01-01T20:00:00Z"
# Shares of 120 s in percent: 24 14 14 5 12 11 12 3 5, so 28.8 16.8 16.8 6 14.4 13.2 14.4 3.6 6 seconds.
TWO_MINUTES = Settings(level_ms=120_000, heats=3)
ALL = (True, True, True, True)
TWO = (True, True, False, False)
CODEC: Codec[GroupClock] = Codec(GroupClock, 1024 * 1024)


def a_clock(settings: Settings = TWO_MINUTES, playing: tuple[bool, ...] = ALL, at_ms: int = 0) -> GroupClock:
    """A clock whose first heat begins at a moment."""
    return GroupClock(clock=RealClock(settings=settings)).begin(playing, at_ms, STAMP)


def step_of(clock: GroupClock) -> StepName:
    assert clock.running
    assert clock.running.step
    return clock.running.step


def done(
    clock: GroupClock, chair: int, now_ms: int, says_no: bool = False, waited: tuple[bool, ...] = ALL
) -> GroupClock:
    """Somebody is done, and the step ends if it can."""
    after = clock.done(chair, step_of(clock), says_no, now_ms)
    assert isinstance(after, GroupClock), after
    return after.settled(waited, now_ms)


def all_done(clock: GroupClock, now_ms: int, chairs: tuple[int, ...] = (0, 1, 2, 3)) -> GroupClock:
    for chair in chairs:
        clock = done(clock, chair, now_ms)
    return clock


def code(answer: GroupClock | Refusal) -> str:
    return answer.code if isinstance(answer, Refusal) else "done"


@st.composite
def reached(draw: st.DrawFn) -> tuple[GroupClock, int]:
    """A clock after anything that people may do, in any order, and the moment of the last thing."""
    settings = Settings(
        level_ms=120_000,
        heats=draw(st.integers(1, 3)),
        carry_over=draw(st.booleans()),
        second=draw(st.sampled_from(("offered", "always", "never"))),
        courtesy=draw(st.booleans()),
        plan=draw(st.booleans()),
    )
    clock, now_ms = GroupClock(clock=RealClock(settings=settings)), draw(st.integers(0, 10**9))
    here = draw(st.tuples(*[st.booleans()] * 4).filter(any))
    acts = st.tuples(
        st.sampled_from((*["done"] * 8, "no", "back", "begin", "begin", "pause", "pause", "away", "stall")),
        st.integers(0, 3),
        st.integers(0, 40_000),
    )
    for what, chair, wait_ms in draw(st.lists(acts, max_size=80)):
        now_ms += wait_ms
        clock, here = acted(clock, here, what, chair, now_ms)
    return clock, now_ms


def acted(
    clock: GroupClock, here: tuple[bool, ...], what: str, chair: int, now_ms: int
) -> tuple[GroupClock, tuple[bool, ...]]:
    heat = clock.running
    match what:
        case "begin" if not heat and not clock.is_paused and clock.clock.face(now_ms).phase != "over" and any(here):
            clock = clock.begin(here, now_ms, STAMP)
        case "done" | "no" if heat and heat.step:
            says_no = what == "no" and STEPS[heat.step].ask in ("vote", "offer")
            after = clock.done(chair, heat.step, says_no, now_ms)
            clock = after.settled(here, now_ms) if isinstance(after, GroupClock) else clock
        case "back" if heat and heat.step:
            after = clock.back(chair, heat.step)
            clock = after if isinstance(after, GroupClock) else clock
        case "pause":
            clock = clock.pause(now_ms).settled(here, now_ms)
        case "away":
            here = tuple(not stays if other == chair else stays for other, stays in enumerate(here))
            clock = clock.settled(here, now_ms)
        case "stall":
            clock = clock.forgiven(min(500, now_ms))
    return clock, here


# ---- properties


@given(reached())
def test_a_clock_goes_through_the_store_unchanged(state: tuple[GroupClock, int]) -> None:
    clock, _ = state
    assert CODEC.unpack(CODEC.pack(clock)) == clock


@given(reached(), st.integers(0, 3), st.integers(0, 60_000), st.integers(0, 60_000))
def test_a_done_that_is_taken_back_leaves_no_trace(
    state: tuple[GroupClock, int], chair: int, wait_ms: int, later_ms: int
) -> None:
    clock, now_ms = state
    if not clock.running:
        return
    step = step_of(clock)
    marked = clock.done(chair, step, False, now_ms + wait_ms)
    if isinstance(marked, GroupClock):
        assert marked.back(chair, step) == clock
        assert clock.times_ms(chair, now_ms + wait_ms + later_ms) == (
            marked.times_ms(chair, now_ms)[0],
            clock.times_ms(chair, now_ms)[1] + (0 if clock.is_paused else wait_ms + later_ms),
        )


@given(reached(), st.integers(0, 60_000), st.integers(0, 3_600_000))
def test_no_time_passes_while_the_clock_is_paused_and_nobody_is_done_meanwhile(
    state: tuple[GroupClock, int], wait_ms: int, pause_ms: int
) -> None:
    clock, now_ms = state
    if clock.is_paused or not clock.running:
        return
    stopped = clock.pause(now_ms + wait_ms)
    later_ms = now_ms + wait_ms + pause_ms
    for chair in range(4):
        assert stopped.times_ms(chair, later_ms) == clock.times_ms(chair, now_ms + wait_ms)
        assert code(stopped.done(chair, step_of(clock), False, later_ms)) == "paused"
        assert code(stopped.back(chair, step_of(clock))) == "paused"
    assert stopped.settled(ALL, later_ms) == stopped
    again = stopped.pause(later_ms)
    assert [again.times_ms(chair, later_ms + 5) for chair in range(4)] == [
        clock.times_ms(chair, now_ms + wait_ms + 5) for chair in range(4)
    ]


@given(reached(), st.integers(0, 60_000), st.integers(0, 10**9))
def test_after_a_restart_the_clock_stands_at_the_last_thing_that_was_known(
    state: tuple[GroupClock, int], wait_ms: int, later_ms: int
) -> None:
    clock, now_ms = state
    back = clock.restored(later_ms)
    assert back.restored(later_ms + wait_ms).clock.face(later_ms + wait_ms) == back.clock.face(later_ms)
    assert (back.marks, back.lived, back.heats, back.running) == (clock.marks, clock.lived, clock.heats, clock.running)
    if clock.clock.face(now_ms).phase in ("step", "set-up"):
        assert back.is_paused
        for chair in range(4):
            assert back.times_ms(chair, later_ms + wait_ms)[1] <= clock.times_ms(chair, now_ms)[1]


@given(reached())
def test_the_steps_that_somebody_lived_are_the_tables_each_at_most_once(state: tuple[GroupClock, int]) -> None:
    clock, _ = state
    heat = clock.clock.last()
    for lived in clock.lived if heat else ():
        assert heat
        steps = [step.step for step in lived]
        assert steps == [step.step for step in heat.steps if step.step in steps]


@given(reached())
def test_own_heats_hold_every_step_of_the_table_and_nobody_took_longer_than_it(
    state: tuple[GroupClock, int],
) -> None:
    clock, _ = state
    assert clock.finished == clock.clock.finished()
    table = {heat.number: heat for heat in clock.finished}
    for heats in clock.heats:
        for own in heats:
            whole = table[own.number]
            assert [step.step for step in own.steps] == [step.step for step in whole.steps]
            for mine, ours in zip(own.steps, whole.steps, strict=True):
                assert mine.length_ms == ours.length_ms
                assert mine.spent_ms >= 0
                assert mine.spent_ms <= ours.spent_ms


@given(reached())
def test_a_step_runs_only_while_somebody_still_thinks(state: tuple[GroupClock, int]) -> None:
    clock, _ = state
    if clock.running and not clock.is_paused:
        assert not all(clock.marks[chair] for chair in range(4) if clock.playing[chair])


# ---- examples


def test_the_step_moves_on_when_the_last_is_done_and_each_has_a_time_and_a_rest_of_their_own() -> None:
    clock = done(done(done(a_clock(), 0, 10_000), 1, 12_000), 2, 20_000)
    assert step_of(clock) == "first right"
    assert [clock.times_ms(chair, 25_000) for chair in range(4)] == [
        (28_800, 10_000),
        (28_800, 12_000),
        (28_800, 20_000),
        (28_800, 25_000),
    ]
    clock = done(clock, 3, 26_000)
    assert step_of(clock) == "first across"
    # 16.8 s, and what each had left of 28.8; everybody's next clock begins when the last was done.
    assert [clock.times_ms(chair, 27_000) for chair in range(4)] == [
        (35_600, 1_000),
        (33_600, 1_000),
        (25_600, 1_000),
        (19_600, 1_000),
    ]


def test_time_that_is_not_carried_over_is_lost() -> None:
    clock = all_done(a_clock(Settings(level_ms=120_000, carry_over=False)), 5_000)
    assert clock.times_ms(0, 5_000) == (16_800, 0)


def test_whoever_is_late_goes_on_below_zero_and_the_others_wait() -> None:
    clock = all_done(a_clock(), 20_000, (0, 1, 2))
    had_ms, spent_ms = clock.times_ms(3, 40_000)
    assert had_ms - spent_ms == -11_200
    assert step_of(clock) == "first right"
    clock = done(clock, 3, 41_000)
    assert clock.lived[3][0].spent_ms == 41_000
    assert clock.times_ms(3, 41_000) == (16_800, 0), "what was late takes nothing from the next step"
    assert clock.times_ms(0, 41_000) == (25_600, 0)


@pytest.mark.parametrize(
    ("at_ms", "spent_ms"),
    [(28_799, 28_799), (28_800 + GRACE_MS, 28_800), (28_801 + GRACE_MS, 28_801 + GRACE_MS)],
)
def test_a_press_that_was_read_within_the_grace_is_in_time(at_ms: int, spent_ms: int) -> None:
    assert done(a_clock(), 0, at_ms).times_ms(0, at_ms) == (28_800, spent_ms)


def test_a_stop_of_one_leaves_the_second_charleston_out_and_can_be_taken_back_before_all_are_done() -> None:
    clock = a_clock()
    for at_ms in (1_000, 2_000, 3_000):
        clock = all_done(clock, at_ms)
    stopping = done(clock, 2, 4_000, says_no=True)
    taken_back = stopping.back(2, "go on")
    assert isinstance(taken_back, GroupClock)
    assert step_of(all_done(taken_back, 5_000)) == "second left"
    stopped = all_done(stopping, 5_000, (0, 1, 3))
    assert step_of(stopped) == "courtesy offer"
    ended = done(all_done(stopped, 6_000, (0, 1, 2)), 3, 6_500, says_no=True)
    assert ended.running is None
    assert [step.step for step in ended.heats[0][0].steps] == [
        "first right",
        "first across",
        "first left",
        "go on",
        "courtesy offer",
    ]


def test_only_a_question_can_be_declined_and_only_what_runs_be_done_once() -> None:
    clock = done(a_clock(playing=TWO), 0, 1_000)
    assert code(clock.done(1, "first right", True, 2_000)) == "out of turn"
    assert code(clock.done(1, "first across", False, 2_000)) == "out of turn"
    assert code(clock.done(0, "first right", False, 2_000)) == "already answered"
    assert code(clock.done(2, "first right", False, 2_000)) == "out of turn"
    assert code(clock.back(1, "first right")) == "nothing to take back"
    over = all_done(clock, 2_000, (1,))
    assert code(over.back(0, "first right")) == "out of turn", "the step has closed"


def test_whoever_is_not_waited_for_lacks_the_step_and_the_heat_is_not_theirs() -> None:
    here = (True, True, True, False)
    clock = all_done(a_clock(), 5_000, (0, 1, 2))
    assert step_of(clock) == "first right"
    clock = clock.settled(here, 9_000)
    assert step_of(clock) == "first across"
    clock = all_done(clock, 20_000)  # the fourth is back, with a clock of the step's own length
    assert clock.lived[3][0].budget_ms == 16_800
    clock = all_done(clock, 24_000, (0, 1, 2)).settled(here, 25_000)
    assert clock.times_ms(3, 25_000) == (6_000, 0), "what was left two steps ago is not carried over"
    while clock.running:
        clock = all_done(clock, 30_000)
    assert [len(heats) for heats in clock.heats] == [1, 1, 1, 0]
    assert clock.finished[0].steps[0].spent_ms == 9_000


def test_a_step_at_which_nobody_is_waited_for_does_not_end_by_itself() -> None:
    clock = a_clock()
    assert clock.settled((False,) * 4, 90_000) == clock


def test_people_change_places_between_heats_and_whoever_sat_there_takes_the_other() -> None:
    clock = GroupClock(clock=RealClock(settings=TWO_MINUTES))
    moved = clock.moved(0, 3)
    assert isinstance(moved, GroupClock)
    assert moved.places == (3, 2, 1, 4)
    begun = moved.begin(ALL, 0, STAMP)
    assert code(begun.moved(0, 1)) == "not now"
    while begun.running:
        begun = all_done(begun, 1_000)
    assert [heats[0].place for heats in begun.heats] == [3, 2, 1, 4]
    assert begun.heats[0][0].east == 1


def test_a_new_set_keeps_the_places_and_forgets_the_times() -> None:
    clock = a_clock(Settings(level_ms=120_000, heats=1))
    while clock.running:
        clock = all_done(clock, 1_000)
    assert clock.clock.face(2_000).phase == "over"
    anew = clock.with_(places=(2, 1, 3, 4)).anew()
    assert (anew.places, anew.heats, anew.clock.face(2_000).phase) == ((2, 1, 3, 4), ((),) * 4, "ready")


def test_a_stall_that_reaches_behind_the_beginning_of_a_step_makes_no_time_negative() -> None:
    clock = all_done(a_clock(), 10_000).forgiven(5_000)
    assert clock.times_ms(0, 10_500)[1] == 0
    late = all_done(clock, 10_600)
    assert late.lived[0][1].spent_ms == 0
    assert late.times_ms(0, 16_000)[1] == 1_000


def test_a_pause_within_the_time_that_a_stall_gave_back_costs_nobody_any_of_it() -> None:
    clock = all_done(a_clock(), 10_000).forgiven(5_000)
    again = clock.pause(11_000).pause(60_000)
    assert clock.times_ms(0, 16_000)[1] == 1_000
    assert again.times_ms(0, 60_000)[1] == 0
    assert again.times_ms(0, 65_000)[1] == 1_000


PLAIN: tuple[tuple[str, Callable[[GroupClock], object]], ...] = (
    ("the heat's clock", lambda clock: clock.clock.face(50_000).heat_ms),
    ("its length", lambda clock: clock.clock.face(50_000).heat_length_ms),
    ("the dealer", lambda clock: clock.clock.face(50_000).east),
)


@pytest.mark.parametrize(("what", "of"), PLAIN)
def test_what_the_table_does_is_what_one_machine_would_show(what: str, of: Callable[[GroupClock], object]) -> None:
    one = RealClock(settings=TWO_MINUTES).begin(0, STAMP).done(10_000).done(30_000)
    group = all_done(all_done(a_clock(), 10_000), 30_000)
    assert of(group) == of(GroupClock(clock=one)), what

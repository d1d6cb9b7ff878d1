"""The clock for real tiles: presses make steps, steps make heats, and taking a press back leaves no trace."""

from collections.abc import Callable
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from shared.clock.real_clock import RealClock
from shared.rules.settings import Settings

STAMP = "2030-01-01T20:00:00Z"
TWO_MINUTES = Settings(level_ms=120_000, heats=3)

PRESSES: dict[str, Callable[[RealClock, int], RealClock]] = {
    "begin": lambda clock, now_ms: clock.begin(now_ms, STAMP),
    "done": RealClock.done,
    "decline": RealClock.decline,
    "back": RealClock.back,
    "pause": RealClock.pause,
}
OFTEN = (*["done"] * 6, *["begin"] * 2, "decline", "back", "pause", "pause")


@st.composite
def settings(draw: st.DrawFn) -> Settings:
    return Settings(
        level_ms=120_000,
        heats=draw(st.integers(1, 4)),
        carry_over=draw(st.booleans()),
        second=draw(st.sampled_from(("offered", "always", "never"))),
        courtesy=draw(st.booleans()),
        plan=draw(st.booleans()),
    )


@st.composite
def clocks(draw: st.DrawFn) -> tuple[RealClock, int]:
    """A clock after any presses, and the moment of the last one."""
    clock, now_ms = RealClock(settings=draw(settings())), draw(st.integers(0, 10**9))
    for name, wait_ms in draw(st.lists(st.tuples(st.sampled_from(OFTEN), st.integers(0, 60_000)), max_size=60)):
        now_ms += wait_ms
        clock = PRESSES[name](clock, now_ms)
    return clock, now_ms


def played(clock: RealClock, *presses: tuple[str, int]) -> RealClock:
    for name, at_s in presses:
        clock = PRESSES[name](clock, at_s * 1000)
    return clock


def heat_of(clock: RealClock, from_s: int, seconds: int = 10) -> RealClock:
    """A whole heat, every step of the same length."""
    return played(clock, ("begin", from_s), *(("done", from_s + seconds * (step + 1)) for step in range(9)))


@given(clocks(), st.integers(0, 60_000), st.integers(0, 60_000))
def test_taking_back_a_step_that_was_done_leaves_no_trace(
    reached: tuple[RealClock, int], wait_ms: int, later_ms: int
) -> None:
    clock, now_ms = reached
    after = clock.done(now_ms + wait_ms)
    if after != clock:
        assert after.back(now_ms + wait_ms + later_ms) == clock


@given(clocks(), st.integers(0, 60_000), st.integers(0, 3_600_000))
def test_no_time_passes_while_the_clock_is_paused(reached: tuple[RealClock, int], wait_ms: int, pause_ms: int) -> None:
    clock, now_ms = reached
    if clock.stopped_at_ms is None:
        stopped = clock.pause(now_ms + wait_ms)
        during = stopped.face(now_ms + wait_ms + pause_ms)
        assert replace(during, paused=False) == clock.face(now_ms + wait_ms)
        if stopped != clock:
            resumed = stopped.pause(now_ms + wait_ms + pause_ms)
            assert resumed.face(now_ms + wait_ms + pause_ms) == clock.face(now_ms + wait_ms)
            for press in ("begin", "done", "decline", "back"):
                assert PRESSES[press](stopped, now_ms + wait_ms + pause_ms) == stopped


@given(clocks())
def test_steps_and_set_up_pauses_together_are_the_time_from_the_first_begin(reached: tuple[RealClock, int]) -> None:
    clock, now_ms = reached
    if not clock.presses:
        return
    face, heats = clock.face(now_ms), clock.finished()
    kept_ms = sum(step.spent_ms for heat in heats for step in heat.steps) + sum(heat.setup_ms or 0 for heat in heats)
    last_at_ms = max(press.at_ms for press in clock.presses)
    if face.phase == "over":
        assert kept_ms == last_at_ms - clock.presses[0].at_ms
    elif face.phase == "set-up":
        running_ms = (now_ms if clock.stopped_at_ms is None else clock.stopped_at_ms) - clock.paused_ms
        assert kept_ms + face.setup_ms == running_ms - clock.presses[0].at_ms


@given(clocks(), st.sampled_from(sorted(PRESSES)), st.integers(0, 60_000))
def test_a_settled_heat_never_changes_again(reached: tuple[RealClock, int], press: str, wait_ms: int) -> None:
    clock, now_ms = reached
    after = PRESSES[press](clock, now_ms + wait_ms)
    assert after.finished()[: clock.kept] == clock.finished()[: clock.kept]
    assert after.kept >= clock.kept


def test_a_whole_heat_at_two_minutes_with_the_time_carried_over() -> None:
    # Shares of 120 s in percent: 24 14 14 5 12 11 12 3 5, so 28.8 16.8 16.8 6 14.4 13.2 14.4 3.6 6 seconds.
    clock = played(RealClock(settings=TWO_MINUTES), ("begin", 100), ("done", 120), ("done", 150))
    face = clock.face(155_000)
    assert (face.step, face.following, face.heat, face.east) == ("first left", "go on", 1, 1)
    # 28.8 - 20 = 8.8 carried into 16.8 make 25.6; 30 were used, so nothing is carried on.
    assert [(step.budget_ms, step.spent_ms) for step in next(clock._heats()).steps] == [
        (28_800, 20_000),
        (25_600, 30_000),
    ]
    assert (face.budget_ms, face.left_ms, face.heat_ms, face.heat_length_ms) == (16_800, 11_800, 55_000, 120_000)
    assert clock.face(170_000).left_ms == -3_200


def test_a_stop_leaves_out_the_second_charleston_and_no_courtesy_the_giving() -> None:
    clock = played(RealClock(settings=TWO_MINUTES), ("begin", 0), ("done", 1), ("done", 2), ("done", 3), ("decline", 4))
    assert clock.face(4_000).step == "courtesy offer"
    assert clock.face(4_000).heat_length_ms == 28_800 + 16_800 + 16_800 + 6_000 + 3_600 + 6_000
    over = clock.decline(6_000)
    assert over.face(6_000).phase == "set-up"
    assert [step.step for step in over.finished()[0].steps] == [
        "first right",
        "first across",
        "first left",
        "go on",
        "courtesy offer",
    ]
    assert clock.back(9_000).face(9_000).step == "go on"


def test_only_a_question_can_be_declined() -> None:
    clock = played(RealClock(settings=TWO_MINUTES), ("begin", 0))
    assert clock.decline(1_000) == clock


def test_set_up_pauses_are_counted_apart_and_east_moves_to_the_right() -> None:
    clock = heat_of(RealClock(settings=TWO_MINUTES), 0)
    waiting = clock.face(120_000)
    assert (waiting.phase, waiting.setup_ms, waiting.heat, waiting.east) == ("set-up", 30_000, 2, 2)
    over = heat_of(heat_of(clock, 150), 300)
    assert over.face(500_000).phase == "over"
    heats = over.finished()
    assert [(heat.number, heat.east, heat.setup_ms, heat.total_ms) for heat in heats] == [
        (1, 1, None, 90_000),
        (2, 2, 60_000, 90_000),
        (3, 3, 60_000, 90_000),
    ]
    assert over.begin(500_000, STAMP) == over


def test_the_last_step_of_a_heat_can_be_taken_back_until_the_next_heat_has_begun() -> None:
    ended = heat_of(RealClock(settings=TWO_MINUTES), 0)
    assert ended.back(95_000).face(95_000).step == "courtesy give"
    begun = ended.begin(150_000, STAMP)
    waiting = begun.back(152_000)
    assert waiting.face(152_000).setup_ms == 62_000
    assert waiting.back(153_000) == waiting


def test_the_plan_step_is_outside_the_clock_of_the_heat() -> None:
    clock = heat_of(RealClock(settings=Settings(level_ms=120_000, plan=True)), 0)
    face = clock.face(95_000)
    assert (face.step, face.heat_ms, face.budget_ms, face.left_ms) == ("plan", 90_000, 30_000, 25_000)
    assert clock.done(110_000).finished()[0].total_ms == 90_000


def test_no_courtesy_to_either_side_leaves_out_its_giving_alone() -> None:
    settings = TWO_MINUTES.model_copy(update={"side_courtesy": True, "second": "never"})
    clock = played(RealClock(settings=settings), ("begin", 0), *(("done", at) for at in range(1, 6)))
    assert clock.face(6_000).step == "side offer"
    over = clock.decline(6_000)
    assert over.face(6_000).phase == "set-up"
    assert [step.step for step in over.finished()[0].steps][-2:] == ["courtesy give", "side offer"]

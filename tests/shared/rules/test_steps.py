"""The pass sequence as data.

Order, directions and where blind is allowed are common practice, described in the encyclopedia article "American
mahjong". The shares of time are this project's own choice; no published limit for a single pass is known.
"""

from shared.rules.seats import Direction
from shared.rules.steps import PASSES, STEP_NAMES, STEPS


def test_right_across_left_then_left_across_right() -> None:
    assert [STEPS[step].direction for step in PASSES] == [
        Direction.RIGHT, Direction.ACROSS, Direction.LEFT, Direction.LEFT, Direction.ACROSS, Direction.RIGHT,
    ]  # fmt: skip


def test_the_steps_come_in_this_order() -> None:
    assert tuple(STEPS) == STEP_NAMES
    assert [STEPS[step].ask for step in STEPS] == [
        "pass", "pass", "pass", "vote", "pass", "pass", "pass", "offer", "give", "offer", "give", "plan",
    ]  # fmt: skip


def test_blind_is_allowed_where_each_charleston_ends() -> None:
    assert [step for step in STEPS if STEPS[step].blind_at] == ["first left", "last right"]


def test_the_shares_of_a_level_are_the_whole_of_it_and_the_plan_lies_outside() -> None:
    shares = {step: STEPS[step].share for step in STEPS}
    assert shares == {
        "first right": 24, "first across": 14, "first left": 14, "go on": 5, "second left": 12,
        "second across": 11, "last right": 12, "courtesy offer": 3, "courtesy give": 5, "side offer": 3,
        "side give": 5, "plan": 0,
    }  # fmt: skip
    assert sum(share for step, share in shares.items() if not step.startswith("side")) == 100

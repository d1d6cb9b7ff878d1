"""The pass sequence as data: for every step its direction, what is asked, and its share of a level's time.

The order and the directions are common practice in the trade, described in the encyclopedia article
"American mahjong". We found no published way to share out a level's time: the shares are our own choice.
"""

from dataclasses import dataclass
from typing import Literal, get_args

from shared.rules.seats import Direction

StepName = Literal[
    "first right",
    "first across",
    "first left",
    "go on",
    "second left",
    "second across",
    "last right",
    "courtesy offer",
    "courtesy give",
    "plan",
]
Ask = Literal["pass", "vote", "offer", "give", "plan"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what it asks each seat, where tiles travel, whether blind is allowed, percent of the level."""

    name: StepName
    ask: Ask
    direction: Direction | None
    may_blind: bool
    share: int


_RIGHT, _ACROSS, _LEFT = Direction.RIGHT, Direction.ACROSS, Direction.LEFT

STEPS: dict[StepName, Step] = {
    step.name: step
    for step in (
        Step("first right", "pass", _RIGHT, False, 24),
        Step("first across", "pass", _ACROSS, False, 14),
        Step("first left", "pass", _LEFT, True, 14),
        Step("go on", "vote", None, False, 5),
        Step("second left", "pass", _LEFT, False, 12),
        Step("second across", "pass", _ACROSS, False, 11),
        Step("last right", "pass", _RIGHT, True, 12),
        Step("courtesy offer", "offer", _ACROSS, False, 3),
        Step("courtesy give", "give", _ACROSS, False, 5),
        Step("plan", "plan", None, False, 0),
    )
}
STEP_NAMES: tuple[StepName, ...] = get_args(StepName)
FIRST: tuple[StepName, ...] = ("first right", "first across", "first left")
SECOND: tuple[StepName, ...] = ("second left", "second across", "last right")
"""The passes of the first and of the second Charleston."""
PASSES = (*FIRST, *SECOND)
"""The six passes of three tiles, in order."""
TIMED: tuple[StepName, ...] = tuple(name for name in STEP_NAMES if name != "plan")
"""The steps among which the time of a level is shared out."""


def step_named(text: str) -> StepName | None:
    """Return the step that somebody typed, whatever its case and with or without hyphens.

    >>> step_named("First-Right"), step_named("third left")
    ('first right', None)
    """
    wanted = " ".join(text.lower().replace("-", " ").split())
    return next((name for name in STEP_NAMES if name == wanted), None)

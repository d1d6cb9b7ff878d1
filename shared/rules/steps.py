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
    "side offer",
    "side give",
    "plan",
]
Ask = Literal["pass", "vote", "offer", "give", "plan"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Attributes:
        name: what it is called.
        ask: what it asks each seat.
        direction: where the tiles travel; None if nowhere, or if every seat says so itself.
        share: its length in percent of the level. Those of a whole Charleston are 100; the exchange with a neighbour
            comes on top.
        blind_at: the values of the setting blind_at with which tiles may be passed on unseen.
        played_if: the settings that a table plays it with: fields, each with its values.
    """

    name: StepName
    ask: Ask
    direction: Direction | None
    share: int
    blind_at: tuple[str, ...] = ()
    played_if: tuple[tuple[str, tuple[str | bool, ...]], ...] = ()


_RIGHT, _ACROSS, _LEFT = Direction.RIGHT, Direction.ACROSS, Direction.LEFT
_ASKED = (("second", ("offered",)),)
_SECOND = (("second", ("offered", "always")),)
_COURTESY, _SIDE, _PLAN = (("courtesy", (True,)),), (("side_courtesy", (True,)),), (("plan", (True,)),)

STEPS: dict[StepName, Step] = {
    step.name: step
    for step in (
        Step("first right", "pass", _RIGHT, 24),
        Step("first across", "pass", _ACROSS, 14),
        Step("first left", "pass", _LEFT, 14, ("both",)),
        Step("go on", "vote", None, 5, (), _ASKED),
        Step("second left", "pass", _LEFT, 12, (), _SECOND),
        Step("second across", "pass", _ACROSS, 11, (), _SECOND),
        Step("last right", "pass", _RIGHT, 12, ("both", "last right"), _SECOND),
        Step("courtesy offer", "offer", _ACROSS, 3, (), _COURTESY),
        Step("courtesy give", "give", _ACROSS, 5, (), _COURTESY),
        Step("side offer", "offer", None, 3, (), _SIDE),
        Step("side give", "give", None, 5, (), _SIDE),
        Step("plan", "plan", None, 0, (), _PLAN),
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

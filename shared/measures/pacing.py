"""The next clock: which length to offer for each step of the next set, from the seconds that were really used.

A good answer is one's own, in time, near the best, and not forced. Three in four of a step's latest good answers came
within some time; the offer is that time moved a quarter of the way to the step's length at the level that the player
trains for. It is never longer than the longest time that the player ever used on the step. There is no stored state
but the sets.

Pure: must never know a history file, a coach or a screen.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from shared.rules.seat_heat import AnsweredBy
from shared.rules.steps import StepName

NEAR_POINTS = 0.5
"""A pass is near the best if it loses no more points than this."""
SHARE = 0.75
LATEST = 24
"""How many of the latest good answers count."""
FEWEST = 3
"""With fewer good answers nothing is offered."""
SHORTEST_MS = 1_000
_TOWARDS = 0.25
_ROUND_MS = 100


@dataclass(frozen=True, slots=True)
class Trial:
    """One unforced pass: the time it took, and whether it was in time and near the best."""

    spent_ms: int
    in_time: bool
    near: bool

    @property
    def good(self) -> bool:
        """Whether the pass was in time and near the best."""
        return self.in_time and self.near


def judged(length_ms: int, spent_ms: int, by: AnsweredBy, loss_points: float) -> Trial:
    """Return a pass as a trial. Carried time does not count: in time means within the step's own length."""
    return Trial(spent_ms, by == "person" and spent_ms <= length_ms, loss_points <= NEAR_POINTS)


@dataclass(frozen=True, slots=True)
class NextLength:
    """The length to offer for one step, and the numbers behind it.

    played_ms is the step's length in the last set. good of the passes were good; within within_ms came three in four of
    the latest `counted` good ones. level_ms is the step's length at the level, longest_ms the most that was ever used.
    """

    step: StepName
    played_ms: int
    next_ms: int
    passes: int
    good: int
    counted: int
    within_ms: int
    level_ms: int
    longest_ms: int


def three_in_four(spent_ms: Sequence[int]) -> int:
    """Return the shortest of these times within which at least three in four of them lie.

    >>> three_in_four([4_000, 1_000, 3_000, 2_000])
    3000
    """
    return sorted(spent_ms)[ceil(SHARE * len(spent_ms)) - 1]


def next_length(step: StepName, passes: Sequence[Trial], played_ms: int, level_ms: int) -> NextLength | None:
    """Return the length to offer after a step's unforced passes, oldest first; None with too few good ones."""
    good = [trial.spent_ms for trial in passes if trial.good]
    if len(good) < FEWEST:
        return None
    latest = good[-LATEST:]
    within_ms, longest_ms = three_in_four(latest), max(trial.spent_ms for trial in passes)
    moved_ms = min(longest_ms, within_ms + _TOWARDS * (level_ms - within_ms))
    return NextLength(
        step=step,
        played_ms=played_ms,
        next_ms=max(SHORTEST_MS, int(moved_ms) // _ROUND_MS * _ROUND_MS),
        passes=len(passes),
        good=len(good),
        counted=len(latest),
        within_ms=within_ms,
        level_ms=level_ms,
        longest_ms=longest_ms,
    )


def rule_in_words() -> str:
    """Return the rule in one plain sentence."""
    return (
        "Each step gets the time within which three in four of your good answers came, moved a quarter of the way to "
        "your level, and never more than you ever used."
    )


def in_words(offer: NextLength) -> str:
    """Return one step's numbers in a plain sentence.

    >>> in_words(NextLength("first right", 43_000, 15_800, 12, 9, 9, 14_200, 43_000, 15_850))
    '15.8 s, now 43.0 s. Good: 9 of 12; 7 of these 9 within 14.2 s. Level 43.0 s; longest 15.8 s.'
    """
    within = ceil(SHARE * offer.counted)
    which = "these" if offer.counted == offer.good else "the latest"
    return (
        f"{_s(offer.next_ms)}, now {_s(offer.played_ms)}. Good: {offer.good} of {offer.passes}; {within} of {which} "
        f"{offer.counted} within {_s(offer.within_ms)}. Level {_s(offer.level_ms)}; longest {_s(offer.longest_ms)}."
    )


def _s(ms: int) -> str:
    return f"{ms // 100 / 10:.1f} s"

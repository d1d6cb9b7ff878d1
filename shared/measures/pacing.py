"""A clock that adapts to the player: which step lengths to offer for the next set, and why.

The rule is an up-down staircase on the logarithm of a step's length. If it goes down after every good result
and up after every other, the length settles where the share of good results balances the two:

    share * down = (1 - share) * up,   so   up / down = share / (1 - share)

(the weighted up-down method: Kaernbach 1991, Perception & Psychophysics 49, 227-229). The classical family goes
down only after several good results in a row (Levitt 1971, Journal of the Acoustical Society of America 49,
467-477); one formula here covers both. There is no stored state but the sets: the staircase starts at the length
the player last played, whether we offered it or the player chose it.

Pure: must never know a history file, a coach or a screen.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, log

from shared.measures.stats import Estimate, share
from shared.rules.events import By
from shared.rules.steps import StepName

TARGET = 0.80
"""The share of good passes we aim at."""
NEAR_POINTS = 0.5
"""A pass is near the best if it loses no more points than this."""
SHORTEST_MS, LONGEST_MS = 1_000, 600_000
_DOWN = 0.05
_ROUND_MS = 100


@dataclass(frozen=True, slots=True)
class Staircase:
    """Go down after `run` good results in a row, and up after any other; down and up are natural logarithms."""

    down: float
    up: float
    run: int = 1

    @classmethod
    def weighted(cls, target: float, down: float = _DOWN) -> "Staircase":
        """Return the rule that settles at this share of good results, 0 < target < 1."""
        return cls(down, down * target / (1 - target))

    @property
    def settles_at(self) -> float:
        """The share of good results at which ups and downs balance.

        >>> [round(Staircase(0.1, 0.1, run).settles_at, 3) for run in (1, 2, 3, 4)]
        [0.5, 0.707, 0.794, 0.841]
        >>> round(Staircase.weighted(0.8).settles_at, 3)
        0.8
        """
        return float((self.up / (self.up + self.down)) ** (1 / self.run))

    def after(self, length: float, results: Iterable[bool]) -> float:
        """Return the length after these results, without limits; in the unit of the given length."""
        position, in_a_row = log(length), 0
        for good in results:
            in_a_row = in_a_row + 1 if good else 0
            if not good:
                position += self.up
            elif in_a_row == self.run:
                position, in_a_row = position - self.down, 0
        return exp(position)


FOLLOWING = Staircase.weighted(TARGET)
"""The rule of the adaptive clock: 5% shorter after a good pass, 22% longer after any other."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One pass of the player, as the rule sees it; good means in time and near the best."""

    length_ms: int
    in_time: bool
    near: bool

    @property
    def good(self) -> bool:
        """Whether the pass was in time and near the best."""
        return self.in_time and self.near


def judged(length_ms: int, spent_ms: int, by: By, loss_points: float) -> Trial:
    """Return a pass as a trial. Carried time does not count: in time means within the step's own length."""
    return Trial(length_ms, by == "person" and spent_ms <= length_ms, loss_points <= NEAR_POINTS)


@dataclass(frozen=True, slots=True)
class NextLength:
    """The length to offer for one step, and the numbers behind it.

    passes, in_time, near and good count the passes of the last set that had any. near_when_in_time is, over all sets,
    the share near the best among passes in time: more time cannot raise the share of good passes above it.
    """

    step: StepName
    played_ms: int
    next_ms: int
    passes: int
    in_time: int
    near: int
    good: int
    near_when_in_time: Estimate | None

    @property
    def time_is_missing(self) -> bool:
        """Whether more time may help: False if too few passes are near the best even when in time."""
        interval = self.near_when_in_time.interval if self.near_when_in_time else None
        return interval is None or interval.high >= TARGET


def next_length(step: StepName, sets: Sequence[Sequence[Trial]]) -> NextLength | None:
    """Return the length to offer for a step after these sets, oldest first, or None if there is no pass.

    The last set with a pass decides: we start at its length and apply its results.
    """
    last = next((trials for trials in reversed(sets) if trials), None)
    if last is None:
        return None
    played_ms = last[-1].length_ms
    moved_ms = FOLLOWING.after(played_ms, (trial.good for trial in last))
    in_time = [trial for trials in sets for trial in trials if trial.in_time]
    return NextLength(
        step=step,
        played_ms=played_ms,
        next_ms=min(LONGEST_MS, max(SHORTEST_MS, round(moved_ms / _ROUND_MS) * _ROUND_MS)),
        passes=len(last),
        in_time=sum(trial.in_time for trial in last),
        near=sum(trial.near for trial in last),
        good=sum(trial.good for trial in last),
        near_when_in_time=share(sum(trial.near for trial in in_time), len(in_time)),
    )


def rule_in_words() -> str:
    """Return the rule in two plain sentences."""
    shorter, longer = 100 * (1 - exp(-FOLLOWING.down)), 100 * (exp(FOLLOWING.up) - 1)
    return (
        f"A pass in time and within {NEAR_POINTS:g} points of the best makes its step {shorter:.0f}% shorter, any "
        f"other {longer:.0f}% longer. That settles where {FOLLOWING.settles_at:.0%} of the passes are good (weighted "
        "up-down rule, Kaernbach 1991)."
    )


def in_words(offer: NextLength) -> str:
    """Return one step's numbers in a plain sentence.

    >>> in_words(NextLength("first right", 25_000, 27_600, 3, 3, 2, 2, None))
    '2 of 3 good (3 in time, 2 near the best), 25.0 s to 27.6 s.'
    """
    sentence = (
        f"{offer.good} of {offer.passes} good ({offer.in_time} in time, {offer.near} near the best), "
        f"{offer.played_ms / 1000:.1f} s to {offer.next_ms / 1000:.1f} s."
    )
    if offer.time_is_missing or offer.near_when_in_time is None:
        return sentence
    return (
        f"{sentence} Of the passes in time only {offer.near_when_in_time.value:.0%} were near the best: "
        "more time is not enough."
    )

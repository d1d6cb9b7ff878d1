"""The one habit that costs a player most: found in reviewed decisions and told from chance, or none.

Pure: must never know a file, a coach or a screen. The rule:

- A decision shows a habit if it did what the habit says and the coach's answer did not. Each habit says at which
  decisions it could be shown at all.
- A habit is told if it is shown more often than a player shows it who follows the coach at a glance, by more than
  chance explains (binomial; 1 in 20 for all ten habits together), and if the decisions that show it cost points:
  more than two standard errors of their sum.
- Of several, the one that cost most is named.

Thinking long at the wrong steps is told from chance by the rank correlation (Spearman 1904) of seconds and stake,
within each step.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import comb, sqrt
from statistics import NormalDist, fmean, median
from typing import Literal, get_args

from shared.rules.seats import Direction
from shared.rules.steps import FIRST, STEPS, StepName
from shared.rules.tiles import DRAGON_OF_SUIT, FLOWER, JOKER, SUITS, Rack, Tile, suit

Kind = Literal[
    "dragons early",
    "breaks pairs",
    "keeps lone winds",
    "first plan",
    "changes plan",
    "hoards a suit",
    "gives flowers",
    "pairs to the right",
    "always goes on",
    "long at easy steps",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
CHANCE = 0.05
"""How often a player without any habit is told one, at most; the ten share it."""
USUAL: Mapping[Kind, float] = {
    "dragons early": 0.05,
    "breaks pairs": 0.02,
    "keeps lone winds": 0.02,
    "first plan": 0.05,
    "changes plan": 0.03,
    "hoards a suit": 0.12,
    "gives flowers": 0.02,
    "pairs to the right": 0.04,
    "always goes on": 0.1,
}
"""At which share of the decisions where it could be shown a player shows a habit who follows the coach at a glance."""
_WINDS: tuple[Tile, ...] = ("N", "E", "W", "S")
_DRAGONS = tuple(DRAGON_OF_SUIT.values())
_PLAN_POINTS = 0.1


@dataclass(frozen=True, slots=True)
class Decision:
    """One decision of a player and what the review said of it.

    Attributes:
        heat: which heat, counted in the order of play.
        step: a pass of three tiles, or the vote.
        rack: the tiles before it.
        given, best: what the player passed, and what the coach would pass.
        loss, error: in points.
        spent_ms: the time used.
        stake: how much less the next nine of the coach's passes are worth than its best, on average, in points.
        first_plan: how much likelier the pass keeps the first plan than the coach's pass does, in points; None where
            the first plan is not the likeliest hand any more. It is the likeliest hand after the heat's first pass.
        last_plan: how much less likely the pass leaves the hand that was the likeliest after the pass before than the
            coach's pass does, in points.
        went_on: how the player voted; None if it is a pass.
    """

    heat: int
    step: StepName
    rack: Rack
    given: Rack
    best: Rack
    loss: float
    error: float
    spent_ms: int
    stake: float = 0.0
    first_plan: float | None = None
    last_plan: float = 0.0
    went_on: bool | None = None


@dataclass(frozen=True, slots=True)
class Habit:
    """What was found of a habit: how often it was shown, of how many times it could be, in how many heats; how likely
    chance alone shows it so often; what it cost, in points; the decisions that showed it, the dearest first."""

    kind: Kind
    count: int
    of: int
    heats: int
    chance: float
    cost: float
    error: float
    shown: tuple[Decision, ...]

    @property
    def is_told(self) -> bool:
        """Whether it can be told from chance and cost points."""
        return self.chance <= CHANCE / len(KINDS) and self.cost > 2 * self.error


Shown = Sequence[tuple[Decision, bool]]
"""Decisions at which a habit could be shown, each with whether it was."""


def habit_of(decisions: Iterable[Decision]) -> Habit | None:
    """Return the habit that cost most among those that can be told from chance; None if there is none."""
    return max((habit for habit in habits(decisions) if habit.is_told), key=lambda habit: habit.cost, default=None)


def habits(decisions: Iterable[Decision]) -> tuple[Habit, ...]:
    """Return every habit with what was found of it."""
    every = tuple(decisions)
    passes = [one for one in every if one.went_on is None]
    heats = len({one.heat for one in every})
    shown: dict[Kind, Shown] = {
        kind: [(one, shows(one)) for one in passes if could(one)] for kind, (could, shows) in _PASSES.items()
    }
    shown["hoards a suit"] = _hoards(passes)
    shown["always goes on"] = [(one, bool(one.went_on)) for one in every if one.went_on is not None and one.loss > 0]
    shown["long at easy steps"], chance = _hurries(passes)
    return tuple(_habit(kind, shown[kind], heats, chance) for kind in KINDS)


def tail(count: int, of: int, share: float) -> float:
    """Return how likely something happens so often or oftener, if each time it happens with this chance.

    >>> round(tail(2, 3, 0.5), 3)
    0.5
    """
    return sum(comb(of, number) * share**number * (1 - share) ** (of - number) for number in range(count, of + 1))


def _habit(kind: Kind, shown: Shown, heats: int, chance: float) -> Habit:
    dear = sorted((one for one, shows in shown if shows), key=lambda one: -one.loss)
    cost, error = sum(one.loss for one in dear), sqrt(sum(one.error**2 for one in dear))
    if kind in USUAL:
        chance = tail(len(dear), len(shown), USUAL[kind])
    return Habit(kind, len(dear), len(shown), heats, chance, cost, error, tuple(dear))


def _more(one: Decision, tiles: Iterable[Tile]) -> int:
    """Return how many more of these tiles the player passed than the coach would."""
    wanted = set(tiles)
    return sum(tile in wanted for tile in one.given) - sum(tile in wanted for tile in one.best)


def _broken(rack: Rack, tiles: Rack) -> int:
    held = Counter(rack)
    return sum(count < held[tile] for tile, count in Counter(tiles).items())


def _whole(rack: Rack, tiles: Rack) -> int:
    held = Counter(rack)
    return sum(2 <= count == held[tile] for tile, count in Counter(tiles).items())


def _lone_winds(one: Decision) -> list[Tile]:
    return [wind for wind in _WINDS if one.rack.count(wind) == 1]


def _has_pair(one: Decision) -> bool:
    return any(count > 1 for tile, count in Counter(one.rack).items() if tile != JOKER)


def _served_first_plan(one: Decision) -> bool:
    """A pass that cost points, after which the first plan stands at least as well as after the coach's pass."""
    return one.first_plan is not None and one.first_plan >= 0 and one.loss > 2 * one.error


_PASSES: dict[Kind, tuple[Callable[[Decision], bool], Callable[[Decision], bool]]] = {
    "dragons early": (
        lambda one: one.step in FIRST and any(tile in _DRAGONS for tile in one.rack),
        lambda one: _more(one, _DRAGONS) > 0,
    ),
    "breaks pairs": (_has_pair, lambda one: _broken(one.rack, one.given) > _broken(one.rack, one.best)),
    "keeps lone winds": (lambda one: bool(_lone_winds(one)), lambda one: _more(one, _lone_winds(one)) < 0),
    "first plan": (lambda one: one.step != FIRST[0], _served_first_plan),
    "changes plan": (lambda one: one.step != FIRST[0], lambda one: one.last_plan > _PLAN_POINTS),
    "gives flowers": (lambda one: FLOWER in one.rack, lambda one: _more(one, [FLOWER]) > 0),
    "pairs to the right": (
        lambda one: STEPS[one.step].direction is Direction.RIGHT and _has_pair(one),
        lambda one: _whole(one.rack, one.given) > _whole(one.rack, one.best),
    ),
}
"""For each habit of passing: at which passes it could be shown, and which show it."""


def _hoards(passes: Sequence[Decision]) -> Shown:
    """The suit is the one that the heat's first rack holds most of."""
    most: dict[int, str] = {}
    for one in passes:
        suits = [suit(tile) for tile in one.rack]
        most.setdefault(one.heat, max(SUITS, key=suits.count))
    return [(one, _more(one, [tile for tile in one.rack if suit(tile) == most[one.heat]]) < 0) for one in passes]


def _hurries(passes: Sequence[Decision]) -> tuple[Shown, float]:
    """Return the passes with more at stake than usual at their step, and whether they took less time than usual; and
    how likely chance alone makes the seconds fall so clearly with the stake."""
    by_step = defaultdict[StepName, list[Decision]](list)
    for one in passes:
        by_step[one.step].append(one)
    shown: list[tuple[Decision, bool]] = []
    together = spread = 0.0
    for here in by_step.values():
        usual_ms, stake = median(one.spent_ms for one in here), median(one.stake for one in here)
        shown += [(one, one.spent_ms < usual_ms) for one in here if one.stake > stake]
        times, stakes = _centred([one.spent_ms for one in here]), _centred([one.stake for one in here])
        together += sum(time * at for time, at in zip(times, stakes, strict=True))
        spread += sum(time**2 for time in times) * sum(at**2 for at in stakes) / max(1, len(here) - 1)
    return shown, NormalDist().cdf(together / sqrt(spread)) if spread else 1.0


def _centred(values: Sequence[float]) -> list[float]:
    """Return the ranks of values less their mean; equal values share a rank."""
    ordered = sorted(values)
    ranks = [fmean((ordered.index(value), len(ordered) - 1 - ordered[::-1].index(value))) for value in values]
    return [rank - (len(values) - 1) / 2 for rank in ranks]

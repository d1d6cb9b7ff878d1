"""Players with one bad habit each; for the rest they play by the coach at a glance.

A habit acts at a step with a chance that is its strength. At the vote everybody does what the coach's numbers say.
"""

from dataclasses import dataclass, field

import numpy as np

from shared.coach.chance import Floats
from shared.coach.coach import Coach
from shared.coach.distance import away
from shared.coach.others import FADE
from shared.coach.passes import Choices, Position, tiles_of
from shared.coach.targets import likeliest_first
from shared.rules.seats import Direction
from shared.rules.steps import FIRST, PASSES, STEPS, StepName
from shared.rules.tiles import DRAGON_OF_SUIT, FLOWER, INDEX, KINDS, SUITS, Rack, suit

DRAGONS = [INDEX[tile] for tile in DRAGON_OF_SUIT.values()]
WINDS = [INDEX[tile] for tile in ("N", "E", "W", "S")]
OF_SUIT = {letter: [INDEX[tile] for tile in KINDS if suit(tile) == letter] for letter in SUITS}
NOBODY = ""
"""The habit of a player who has none."""
MIDDLE = dict(zip(PASSES, (0.15, 0.29, 0.49, 0.87, 0.94, 1.01), strict=True))
"""Points between a quick look's best pass and the next nine in the middle of each step."""
LONG_S, SHORT_S, USUAL_S = 20.0, 5.0, 9.0


@dataclass
class Heat:
    """What a player remembers of a heat: the suit and the plans."""

    suit: str = ""
    first: int | None = None
    last: int | None = None


@dataclass
class Player:
    """Plays one seat for many heats."""

    coach: Coach
    habit: str
    strength: float
    dice: np.random.Generator
    heat: Heat = field(default_factory=Heat)

    def begin(self, rack: Rack) -> None:
        """Begin a heat with a rack."""
        suits = [suit(tile) for tile in rack]
        self.heat = Heat(max(SUITS, key=suits.count))

    def acts(self) -> bool:
        """Say whether the habit acts this time."""
        return bool(self.dice.random() < self.strength)

    def passes(self, step: StepName, position: Position) -> tuple[Rack, float]:
        """Return the tiles passed and the seconds taken."""
        choices, measure = self.coach.engine.screen(position)
        measure = np.round(measure, 9)
        acts = self.acts()
        wanted = getattr(self, "_" + self.habit.replace(" ", "_"), None)
        score = wanted(step, position, choices, acts) if wanted else None
        if score is not None and acts:
            fit = score == score.max()
            measure = np.where(fit, measure, -np.inf)
        best = int(np.argmax(measure))
        return tiles_of(choices.tiles[best]), self._seconds(step, measure, acts)

    def goes_on(self, gap: float) -> bool:
        """Say how to vote, where going on is worth so many points more than stopping."""
        return gap >= 0 or (self.habit == "always goes on" and self.acts())

    def _seconds(self, step: StepName, measure: Floats, acts: bool) -> float:
        usual = USUAL_S
        if self.habit == "long at easy steps" and acts:
            order = np.sort(measure)[::-1][:10]
            usual = LONG_S if order[0] - order[1:].mean() < MIDDLE[step] else SHORT_S
        return float(usual * np.exp(0.4 * self.dice.standard_normal()))

    # Each habit: a score for every pass; those with the greatest are the ones that the habit allows.

    def _dragons_early(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        return choices.tiles[:, DRAGONS].sum(axis=1) if step in FIRST else None

    def _breaks_pairs(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        rack = position.counts()
        return ((choices.tiles > 0) & (choices.tiles < rack)).any(axis=1).astype(float)

    def _keeps_lone_winds(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        lone = [kind for kind in WINDS if position.counts()[kind] == 1]
        return -choices.tiles[:, lone].sum(axis=1).astype(float)

    def _first_plan(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        if self.heat.first is None:
            self.heat.first = likeliest_first(self.coach.engine.hands(position))[0].hand
        return self._nearest(position, choices, self.heat.first)

    def _changes_plan(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        order = [reading.hand for reading in likeliest_first(self.coach.engine.hands(position))]
        hands, last = self.coach.card.hands, self.heat.last
        other = next(hand for hand in order if last is None or hands[hand].section != hands[last].section)
        self.heat.last = other if acts or last is None else order[0]
        return self._nearest(position, choices, other)

    def _nearest(self, position: Position, choices: Choices, hand: int) -> Floats:
        patterns = self.coach.engine.patterns
        score: Floats = FADE[away(patterns, position.counts() - choices.tiles)[:, patterns.hand == hand]].sum(axis=1)
        return score

    def _hoards_a_suit(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        return -choices.tiles[:, OF_SUIT[self.heat.suit]].sum(axis=1).astype(float)

    def _gives_flowers(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        return choices.tiles[:, INDEX[FLOWER]].astype(float)

    def _pairs_to_the_right(self, step: StepName, position: Position, choices: Choices, acts: bool) -> Floats | None:
        if STEPS[step].direction is not Direction.RIGHT:
            return None
        return ((choices.tiles >= 2) & (choices.tiles == position.counts())).any(axis=1).astype(float)

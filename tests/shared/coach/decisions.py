"""Seeded decisions, each with a pass that somebody made, for what the coach says about passes (invented data)."""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from shared.cards import Card, first_evening_card, practice_card
from shared.coach.engine import Engine
from shared.coach.passes import Choices, Position, position_at
from shared.coach.ranking import Effort, Ranking
from shared.coach.sentences import Told, tell_pass
from shared.rules.steps import PASSES, StepName
from shared.rules.tiles import JOKER, full_set

SEED = 7
EFFORT = Effort(((32, 64),))
STEPS: tuple[StepName, ...] = (*PASSES, "courtesy give")


@dataclass(frozen=True, eq=False)
class Decision:
    """A position, all its passes, and the place of the one that was made."""

    engine: Engine
    card: Card
    step: StepName
    position: Position
    ranking: Ranking
    place: int

    def told(self) -> Told:
        own, best = self.ranking.passes[self.place], self.ranking.best
        return tell_pass(self.engine, self.card, self.position, own, best, self.ranking.gap(self.place), SEED)


@lru_cache(maxsize=2)
def engine_of(name: str) -> tuple[Engine, Card]:
    card = practice_card() if name == "practice" else first_evening_card()
    return Engine.of_card(card), card


def decisions(count: int, card: str = "practice", seed: int = 1) -> Iterator[Decision]:
    """Yield decisions at every step in turn; the passes made are good, poor and drawn by lot."""
    engine, dealt = engine_of(card)
    dice = random.Random(seed)
    for number in range(count):
        step = STEPS[number % len(STEPS)]
        tiles = dice.sample(full_set(), 13 + number % 2 + 3 * STEPS.index(step))
        rack, passed = tiles[: 13 + number % 2], [tile for tile in tiles[13 + number % 2 :] if tile != JOKER]
        position = position_at(step, tuple(rack), tuple(passed), blind=number % 3 == 0)
        choices = Choices.of(position)
        own = choices.told(np.array([dice.randrange(len(choices.tiles))]))[0]
        ranking = engine.rank(position, SEED, EFFORT, also=(own,))
        far = ranking.place(*own)
        place = (far, 0, dice.randrange(1, 4), dice.randrange(4, 30), far)[number % 5]
        yield Decision(engine, dealt, step, position, ranking, min(place, len(ranking.outcomes) - 1))

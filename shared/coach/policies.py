"""How a bot chooses its pass from what its seat knows, at one of six strengths.

Must never see more than the position, and never wait: the caller decides when a bot answers. Randomness is an
argument.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from shared.coach.chance import Floats
from shared.coach.distance import Counts, Patterns, away
from shared.coach.engine import Engine
from shared.coach.others import FADE
from shared.coach.passes import Position, legal_passes, tiles_of
from shared.coach.ranking import HINT
from shared.rules.tiles import Rack

Strength = Literal[
    "any tiles",
    "nearest hand",
    "all near hands",
    "coach, distracted",
    "coach, at a glance",
    "coach, thinking ahead",
]
STRENGTHS: tuple[Strength, ...] = get_args(Strength)
"""From weakest to strongest."""

_DISTRACTION = 0.25
"""Standard deviation of the noise on a distracted coach's measures, relative to their size."""


@dataclass(frozen=True)
class Choice:
    """The pass a policy chose: own tiles in kind order, and how many it forwards unseen."""

    tiles: Rack
    blind: int = 0


def choose(engine: Engine, position: Position, strength: Strength, rng: np.random.Generator) -> Choice:
    """Return the pass that a bot of this strength makes."""
    match strength:
        case "coach, thinking ahead":
            best = engine.rank(position, int(rng.integers(2**32)), HINT).best
            return Choice(best.tiles, best.blind)
        case "coach, at a glance" | "coach, distracted":
            noise = _DISTRACTION if strength == "coach, distracted" else 0.0
            return _at_a_glance(engine, position, noise, rng)
        case _:
            return _simple(engine.patterns, position, strength, rng)


def _at_a_glance(engine: Engine, position: Position, noise: float, rng: np.random.Generator) -> Choice:
    choices, measure = engine.screen(position)
    if noise:
        measure = measure * (1 + noise * rng.standard_normal(len(measure)))
    # Rounded, so that floating-point noise never decides between two passes.
    best = int(np.argmax(np.round(measure, 9)))
    return Choice(tiles_of(choices.tiles[best]), int(choices.blind[best]))


def _simple(patterns: Patterns, position: Position, strength: Strength, rng: np.random.Generator) -> Choice:
    """Give as many own tiles as allowed, never blind: at random, by the nearest hand, or by all near hands."""
    rack = position.counts()
    passes = legal_passes(rack, max(position.gives))
    if strength == "any tiles":
        return Choice(tiles_of(passes[rng.integers(len(passes))]))
    if strength == "nearest hand":
        least = away(patterns, rack - passes).min(axis=1)
        best = np.flatnonzero(least == least.min())
        return Choice(tiles_of(passes[best[rng.integers(len(best))]]))
    return Choice(tiles_of(passes[int(np.argmax(nearness(patterns, rack - passes)))]))


def nearness(patterns: Patterns, racks: Counts) -> Floats:
    """Return the sum over all variants of exp(-1.5 tiles away) for each rack, shape (racks,)."""
    distances = away(patterns, racks)
    total: Floats = FADE[distances].sum(axis=1)
    return total

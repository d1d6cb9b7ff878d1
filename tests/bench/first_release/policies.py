"""How a bot chooses its pass: from what its seat knows, at one of six strengths.

Must never see more than the position, and never wait: the caller decides when a bot answers. Randomness is an
argument.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from shared.rules.tiles import Rack
from tests.bench.first_release.chance import Floats
from tests.bench.first_release.distance import Counts, Patterns, away
from tests.bench.first_release.engine import PLAY, Engine
from tests.bench.first_release.flow import FADE
from tests.bench.first_release.passes import Position, legal_passes, tiles_of

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
"""Standard deviation of the noise on what a distracted coach sees, as a share of it."""


@dataclass(frozen=True)
class Choice:
    """What a policy gives: its own tiles in kind order, and how many it forwards unseen."""

    tiles: Rack
    blind: int = 0


def choose(engine: Engine, position: Position, strength: Strength, rng: np.random.Generator) -> Choice:
    """Return the pass of a policy of the given strength."""
    match strength:
        case "coach, thinking ahead":
            best = engine.rank(position, int(rng.integers(2**32)), PLAY).best
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
    # Rounded, so that the last bits of a machine's logarithms never decide between two passes.
    best = int(np.argmax(np.round(measure, 9)))
    return Choice(tiles_of(choices.tiles[best]), int(choices.blind[best]))


def _simple(patterns: Patterns, position: Position, strength: Strength, rng: np.random.Generator) -> Choice:
    """Give as many own tiles as may be given, never blind, at random, by the nearest hand or by all near hands."""
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

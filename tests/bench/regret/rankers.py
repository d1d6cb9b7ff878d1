"""Whose rankings are judged: the coach's of today, and the first release's.

The only place of this measure that imports the coach.
"""

from collections.abc import Callable
from typing import Any, Literal, get_args

import numpy as np

from shared.cards import Card
from shared.coach import engine as today
from shared.coach import passes as its_passes
from tests.bench.first_release import engine as first_release
from tests.bench.first_release.distance import Counts, counts_of
from tests.bench.first_release.passes import Position

Coach = Literal["shared", "first"]
Effort = Literal["glance", "hint", "think"]
COACHES: tuple[Coach, ...] = get_args(Coach)
EFFORTS: tuple[Effort, ...] = get_args(Effort)

Ranker = Callable[[Position, int], Counts]
"""Returns the passes of a position, best first, shape (passes, 36); the number fixes what it samples."""


def ranker(coach: Coach, effort: Effort, card: Card) -> Ranker:
    """Return the rankings of a coach on a card. A glance is its quick screen of all passes alone."""
    if coach == "first":
        return _ranks(first_release.Engine.of_card(card), _work(first_release, effort), lambda position: position)
    return _ranks(today.Engine.of_card(card), _work(today, effort), _as_today)


def _ranks(ranking: Any, work: Any, position_for: Callable[[Position], Any]) -> Ranker:
    def rank(position: Position, seed: int) -> Counts:
        passes = ranking.rank(position_for(position), seed, work).passes
        return np.array([counts_of(ranked.tiles) for ranked in passes])

    return rank


def _work(module: Any, effort: Effort) -> Any:
    """Return a module's effort. The first release's have other names, and gifts, which change no ranking of it."""
    if effort == "glance":
        return module.Effort(1, 2, False)
    if hasattr(module, "HINT"):
        return {"hint": module.HINT, "think": module.THINK}[effort]
    return module.PLAY if effort == "hint" else module.Effort(None, module.THOROUGH.futures, False)


def _as_today(position: Position) -> Any:
    return its_passes.Position(position.rack, position.passed, position.later, position.gives)

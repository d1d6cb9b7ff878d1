"""Whose rankings are judged: the coach's of today, and the first release's.

The only place of this measure that imports the coach.
"""

from collections.abc import Callable
from typing import Any, Literal, get_args

import numpy as np

from shared.cards import Card
from shared.coach import engine as today
from shared.coach.aims import finishing
from shared.coach.passes import Position as TodaysPosition
from shared.coach.ranking import HINT, THINK
from shared.coach.ranking import Effort as TodaysEffort
from tests.bench.first_release import engine as first_release
from tests.bench.first_release.distance import Counts, counts_of
from tests.bench.first_release.passes import Position

Coach = Literal["shared", "winning", "first"]
"""Today's coach with the first release's aim, as it plays, or the first release's."""
Effort = Literal["glance", "hint", "think"]
COACHES: tuple[Coach, ...] = get_args(Coach)
EFFORTS: tuple[Effort, ...] = get_args(Effort)

_FIRST = {
    "glance": first_release.Effort(1, 2, False),
    "hint": first_release.PLAY,
    "think": first_release.Effort(None, first_release.THOROUGH.futures, False),
}
_TODAY = {"glance": TodaysEffort(((1, 2),)), "hint": HINT, "think": THINK}
"""A glance is the quick screen of all passes alone."""

Ranker = Callable[[Position, int], Counts]
"""Returns the passes of a position, best first, shape (passes, 36); the number fixes what it samples."""


def ranker(coach: Coach, effort: Effort, card: Card) -> Ranker:
    """Return the rankings of a coach on a card."""
    if coach == "first":
        return _ranks(first_release.Engine.of_card(card), _FIRST[effort], lambda position: position)
    return _ranks(
        today.Engine.of_card(card, finishing() if coach == "shared" else None),
        _TODAY[effort],
        lambda position: TodaysPosition(position.rack, position.passed, position.later, position.gives),
    )


def _ranks(ranking: Any, work: Any, position_for: Callable[[Position], Any]) -> Ranker:
    def rank(position: Position, seed: int) -> Counts:
        passes = ranking.rank(position_for(position), seed, work).passes
        return np.array([counts_of(ranked.tiles) for ranked in passes])

    return rank

"""What a pass says of its player's habits: kept with its loss, so that habits can be found later without the card.

Must never use more than the seat knew.
"""

from dataclasses import dataclass

from shared.coach.engine import Engine
from shared.coach.passes import Position
from shared.coach.ranking import Ranking
from shared.coach.targets import likeliest_first
from shared.rules.tiles import Rack

_NEXT = 9
"""How many passes after the best one say what is at stake."""


@dataclass(frozen=True)
class Plans:
    """A seat's plans so far, as places of hands on the card: the likeliest hand after its first pass of the heat, and
    after its last one; None before."""

    first: int | None = None
    last: int | None = None


@dataclass(frozen=True)
class Evidence:
    """What a pass says; chances in points.

    Attributes:
        best: the coach's pass.
        stake: how much less the next nine passes are worth than the coach's, on average.
        first_plan: how much likelier the pass keeps the first plan than the coach's pass does; None at the first pass
            and where the plan is another one now.
        last_plan: how much less likely it leaves the last plan than the coach's pass does.
    """

    best: Rack
    stake: float
    first_plan: float | None
    last_plan: float


def evidence(engine: Engine, position: Position, ranking: Ranking, own: Rack, plans: Plans) -> tuple[Evidence, Plans]:
    """Return what a pass says, and the plans after it."""
    best = ranking.best.tiles
    nexts = range(1, min(_NEXT + 1, len(ranking.outcomes)))
    stake = sum(ranking.gap(place).points for place in nexts) / max(1, len(nexts))
    mine = engine.hands_after(position, own)
    coachs = mine if own == best else engine.hands_after(position, best)

    def gain(hand: int) -> float:
        return 100 * (mine[hand].win - coachs[hand].win)

    now = likeliest_first(mine)[0].hand
    left = 0.0 if plans.last is None else -gain(plans.last)
    after = Plans(now if plans.first is None else plans.first, now)
    return Evidence(best, max(0.0, stake), gain(now) if now == plans.first else None, left), after

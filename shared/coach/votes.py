"""Going on to the second Charleston, or stopping: what each is worth.

Must never see another rack. Going on helps the others as much as the seat itself, and ends the hand sooner; both are in
the two plays that the engine has, for hands after one Charleston and after two. So a rack that is ahead of the others
gains by stopping, and one that is behind by going on.
"""

from dataclasses import dataclass, replace

from shared.coach.engine import Check, Engine
from shared.coach.estimate import Estimate
from shared.coach.others import ROUND
from shared.coach.passes import PASS, Position
from shared.coach.ranking import HINT, Effort, RankedPass


@dataclass(frozen=True)
class Votes:
    """Both votes with the best that can follow: the next pass, or the courtesy pass.

    Attributes:
        go_on, stop: the best pass after each vote.
        gap: how much more going on is worth, in points; negative if stopping is.
    """

    go_on: RankedPass
    stop: RankedPass
    gap: Estimate


def votes(
    engine: Engine, position: Position, seed: int, *, courtesy: bool, effort: Effort = HINT, check: Check | None = None
) -> Votes:
    """Weigh going on against stopping.

    Args:
        engine: the card's engine.
        position: what the seat knows at the vote.
        seed: fixes the futures.
        courtesy: whether the table plays a courtesy pass.
        effort: how much work it may cost.
        check: called with the share done; may raise Stopped.
    """
    both = replace(position, later=ROUND - 1, gives=(PASS,), blind=False, courtesy=False, made=ROUND)
    go_on = engine.rank(both, seed, effort, check=check).best
    one = replace(position, later=0, gives=(0, 1, 2, 3) if courtesy else (), blind=False, courtesy=courtesy, made=ROUND)
    if courtesy:
        stop = engine.rank(one, seed, effort, check=check).best
    else:
        stop = RankedPass((), 0, engine.as_it_is(one), 0.0)
    return Votes(go_on, stop, Estimate(go_on.net - stop.net, (go_on.se**2 + stop.se**2) ** 0.5))

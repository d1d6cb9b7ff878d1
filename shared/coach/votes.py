"""Going on to the second Charleston, or stopping: what each is worth.

Must never see another rack. Going on helps the others as much as the seat itself, and ends the hand sooner; both are in
the plays that the engine has for hands after one Charleston and after two. So a rack that is ahead of the others gains
by stopping, and one that is behind by going on. A courtesy pass may follow either way and is left out of both.

Where the vote comes before anybody may look at the tiles of first left, both are worked out for several tiles that may
lie there, and what is told is their mean.
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.coach.engine import Check, Engine
from shared.coach.estimate import Estimate
from shared.coach.known import Known
from shared.coach.others import ROUND
from shared.coach.passes import PASS, Position, tiles_of
from shared.coach.ranking import HINT, Effort, RankedPass

_SAMPLES = 8
"""For how many tiles that may lie face down a vote is worked out: bots and reviews have to wait for it."""
_LEVEL = 1.0
"""How exact, in points, a worth after one Charleston is against one after two: its standard error."""


@dataclass(frozen=True)
class Votes:
    """Both votes.

    Attributes:
        go_on: the best next pass; no tiles are named while some lie face down.
        stop: no pass, with the worth of the rack as it is.
        gap: how much more going on is worth, in points; negative if stopping is.
    """

    go_on: RankedPass
    stop: RankedPass
    gap: Estimate

    @property
    def clearly_stop(self) -> bool:
        """Whether stopping is better by more than two standard errors: the whole table has to stop with one seat."""
        return self.gap.points < -2 * self.gap.se


def votes(
    engine: Engine,
    position: Position,
    seed: int,
    effort: Effort = HINT,
    check: Check | None = None,
    known: Known | None = None,
) -> Votes:
    """Weigh going on against stopping, for a seat that knows this at the vote.

    Args:
        engine: the card's engine.
        position: what the seat knows.
        seed: fixes the futures.
        effort: how much work it may cost.
        check: called with the share done; may raise Stopped.
        known: where rankings are kept, if anywhere.
    """
    at_the_vote = replace(position, blind=False, courtesy=False, made=ROUND)
    if position.face_down:
        return _unseen(engine, at_the_vote, seed, check, known)
    next_pass = replace(at_the_vote, later=ROUND - 1, gives=(PASS,))
    go_on = (known or Known()).rank(engine, next_pass, seed, effort, check=check).best
    stop = RankedPass((), 0, engine.as_it_is(replace(at_the_vote, later=0, gives=())), 0.0)
    return Votes(go_on, stop, Estimate(go_on.net - stop.net, (go_on.se**2 + _LEVEL**2) ** 0.5))


def _unseen(engine: Engine, position: Position, seed: int, check: Check | None, known: Known | None) -> Votes:
    stop = engine.as_it_is(replace(position, later=0, gives=()))
    gaps = []
    for number, came in enumerate(engine.under(position, _SAMPLES)):
        turned = replace(position, rack=(*position.rack, *tiles_of(came)), face_down=0)
        gaps.append(votes(engine, turned, seed, HINT, None, known).gap.points)
        if check is not None:
            check((number + 1) / _SAMPLES)
    mean = Estimate.of(np.array(gaps) / 100)
    gap = Estimate(mean.points, (mean.se**2 + _LEVEL**2) ** 0.5)
    # Each gap is that of one rack, so their mean is more exact than that of its two parts.
    go_on = RankedPass((), 0, stop + gap.points, mean.se)
    return Votes(go_on, RankedPass((), 0, stop, 0.0), gap)

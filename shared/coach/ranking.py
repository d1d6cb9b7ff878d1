"""Legal passes in order: what each is worth, how sure that is, and how much work went into it.

Must never see a rack's chances: it holds what the engine measured, and compares.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shared.coach.chance import Floats, Indices
from shared.coach.estimate import Estimate
from shared.rules.tiles import Rack, by_suit

_EXACT = 2.0**20


@dataclass(frozen=True)
class Effort:
    """How much work a ranking may cost.

    Attributes:
        rounds: how many of the best passes stay in each round (None for all), and in how many sampled futures they have
            been tried by its end; the same futures for every pass.
        gifts: whether to compute the gift of every pass, and not only of the last round's.
    """

    rounds: tuple[tuple[int | None, int], ...]
    gifts: bool = False


HINT = Effort(((40, 40), (16, 120)))
"""For a bot or a hint: somebody waits for the answer."""
THINK = Effort(((60, 64), (24, 160), (8, 320)))
"""For a review: somebody wants to know."""
READING = replace(THINK, gifts=True)
"""For a typed rack: every pass with its gift."""


@dataclass(frozen=True)
class RankedPass:
    """One legal pass and its worth.

    Attributes:
        tiles: the seat's own tiles in the pass, in kind order.
        blind: tiles forwarded unseen.
        points: the chance of winning after it, in percent.
        se: standard error of the points. Most of it is common to all passes: use Ranking.gap to compare two.
        gift: how much the tiles help the seat that receives them, in points; None if it was not computed.
        given: the part of the gift that counts against the pass, in points.
        evaluated: True if it was tried in sampled futures, False if it was only screened.
    """

    tiles: Rack
    blind: int
    points: float
    se: float
    gift: float | None = None
    given: float = 0.0
    evaluated: bool = True

    @property
    def net(self) -> float:
        """Points less what counts of the gift: passes are ranked by this."""
        return self.points - self.given


@dataclass(frozen=True, eq=False)
class Ranking:
    """All legal passes of a position, best first.

    Attributes:
        passes: those of the last round, those that dropped out before, then those that were only screened.
        outcomes: points of each pass tried in each future, shape (tried, futures), in the order of passes; not a number
            in futures that a pass did not meet.
    """

    passes: tuple[RankedPass, ...]
    outcomes: Floats

    @property
    def best(self) -> RankedPass:
        """The best pass."""
        return self.passes[0]

    def place(self, tiles: Rack, blind: int = 0) -> int:
        """Return the place of a pass, 0 for the best.

        Raises:
            ValueError: it is not a legal pass of the position.
        """
        wanted = by_suit(tiles)
        for place, ranked in enumerate(self.passes):
            if ranked.tiles == wanted and ranked.blind == blind:
                return place
        raise ValueError(f"{' '.join(wanted) or 'nothing'} with {blind} blind is no legal pass here.")

    def gap(self, place: int) -> Estimate:
        """Return how much less a pass is worth than the best, gifts counted, from the futures that both met.

        Raises:
            ValueError: the pass was only screened.
        """
        if place >= len(self.outcomes):
            raise ValueError("This pass was not evaluated in futures.")
        lost = self.outcomes[0] - self.outcomes[place]
        return Estimate(self.best.net - self.passes[place].net, Estimate.of(lost[np.isfinite(lost)] / 100).se)


def exact(points: float) -> float:
    """Round points to a multiple of 2^-20, so that adding them up in a ledger is exact."""
    return float(np.round(points * _EXACT) / _EXACT)


def means(outcomes: Floats, given: Floats) -> tuple[list[float], list[float]]:
    """Return the points of passes and their standard errors from outcomes in futures, a number for each pass.

    A pass that dropped out is compared with the best in the futures that it met, and so put on the scale of all
    futures; it never comes before one that stayed in.

    Args:
        outcomes: points in each future, shape (passes, futures), not a number where the pass had dropped out.
        given: what counts against each pass, in points.
    """
    met = np.isfinite(outcomes)
    stayed = met.all(axis=1)
    points = np.array([exact(outcome[there].mean()) for outcome, there in zip(outcomes, met, strict=True)])
    errors = [outcome[there].std(ddof=1) / there.sum() ** 0.5 for outcome, there in zip(outcomes, met, strict=True)]
    best = int(np.argmax(np.where(stayed, points - given, -np.inf)))
    last = (points - given)[stayed].min()
    for place in np.flatnonzero(~stayed):
        behind = (outcomes[best] - outcomes[place])[met[place]].mean()
        points[place] = min(exact(points[best] - behind), last + given[place])
    return points.tolist(), [float(error) for error in errors]


def order_of(outcomes: Floats, net: Floats) -> Indices:
    """Return the order of passes: those of the last round first, then by points less what counts of the gift."""
    return np.lexsort((-net, ~np.isfinite(outcomes).all(axis=1)))


def guessed(screened: Floats, tried: Indices, points: Sequence[float], rest: Indices) -> tuple[list[float], float]:
    """Estimate points for passes that were only screened, none above the last one tried, and the estimate's spread.

    Among the passes tried, points are nearly proportional to the screen's measure.
    """
    ratio = sum(points) / max(float(screened[tried].sum()), 1e-12)
    stray = float((points - ratio * screened[tried]).std())
    return [exact(min(ratio * value, min(points))) for value in screened[rest].tolist()], stray

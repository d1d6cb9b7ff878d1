"""A race of every legal pass of a position, and what a ranking loses by it.

All passes meet the same futures. Those that are clearly behind the best drop out after each heat, and the rest run on
in four times as many, so that most futures go where the best is still in doubt. Passes that somebody ranked among the
first three never drop out.

Luck must not count as regret. So only futures of the last heat judge, by which no pass was let through, and of these
each half judges the pass that came out best in all the others.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.first_release.distance import Counts
from tests.bench.regret.deck import Deck, Floats, Paper
from tests.bench.regret.futures import Others, futures_of, play_outs
from tests.bench.regret.positions import Case

FUTURES = (32, 128, 512, 2048)
"""Futures that a pass has met after each heat."""
RUNNERS = (64, 24, 8)
"""The most passes that run on after each heat but the last."""
BEHIND = 2.5
"""Standard errors of the gap to the best by which a pass drops out."""
THREE = 3


@dataclass(frozen=True, eq=False)
class Race:
    """What came of it.

    Attributes:
        left: places (in the order given) of the passes that ran to the end.
        points: their points in every future, shape (left, futures).
        last: the first future of the last heat.
    """

    left: NDArray[np.intp]
    points: Floats
    last: int


@dataclass(frozen=True)
class Verdict:
    """One ranking of one position.

    Attributes:
        regret: what its first pass loses, in points.
        three: what the best of its first three loses.
        in_three: whether the pass that came out best is among the three.
        close: whether it is, or one of the three is less than two standard errors behind it.
    """

    regret: float
    three: float
    in_three: bool
    close: bool


def race(
    deck: Deck,
    paper: Paper,
    case: Case,
    passes: Counts,
    kept: Sequence[int],
    others: Others,
    seed: tuple[int, ...],
    heats: tuple[int, ...] = FUTURES,
) -> Race:
    """Play out passes of shape (passes, 36); those at the places kept never drop out."""
    left = np.arange(len(passes))
    points, last = np.empty((len(passes), 0)), 0
    for heat, count in enumerate(heats):
        last = points.shape[1]
        futures = futures_of(deck, paper, case, others, count - last, (*seed, heat))
        points = np.concatenate([points, play_outs(deck, paper, futures, passes[left])], axis=1)
        if heat < len(heats) - 1:
            gap = points[points.mean(axis=1).argmax()] - points
            behind = gap.mean(axis=1) > BEHIND * gap.std(axis=1, ddof=1) / count**0.5
            order = np.argsort(np.where(np.isin(left, kept), -np.inf, gap.mean(axis=1)), kind="stable")
            stays = np.sort(order[: max(RUNNERS[heat], len(kept))])
            stays = stays[~behind[stays] | np.isin(left[stays], kept)]
            left, points = left[stays], points[stays]
    return Race(left, points, last)


def verdict(run: Race, three: Sequence[int]) -> Verdict:
    """Judge a ranking by the places of its first three passes in a race."""
    rows = [int(np.flatnonzero(run.left == place)[0]) for place in three]
    others = [row for row in range(len(run.left)) if row not in rows]
    lost = []
    for half in (0, 1):
        judging = np.arange(run.last + half, run.points.shape[1], 2)
        found, judged = np.delete(run.points, judging, axis=1).mean(axis=1), run.points[:, judging].mean(axis=1)
        best = judged[found.argmax()]
        lost.append((best - judged[rows[0]], best - judged[rows[int(found[rows].argmax())]]))
    regret, loses = np.mean(lost, axis=0)
    means = run.points.mean(axis=1)
    best_of_three = rows[int(means[rows].argmax())]
    gaps = run.points[others] - run.points[best_of_three]
    errors = gaps.std(axis=1, ddof=1) / gaps.shape[1] ** 0.5
    in_three, close = (gaps.mean(axis=1) <= 0).all(), (gaps.mean(axis=1) <= 2 * errors).all()
    return Verdict(float(regret), float(loses), bool(in_three), bool(close))

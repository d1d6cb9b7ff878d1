"""How good the coach's first choice is against long play-outs, and how often its screen loses the best pass.

A play-out passes to the end by the coach's quick policy; all passes of a position meet the same futures. The best pass
is found in one half of the futures and judged in the other, so that its luck in the first half does not count.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import kendalltau

from shared.coach.chance import Floats
from shared.coach.distance import Counts, counts_of
from shared.coach.engine import PLAY, Effort, Engine
from shared.coach.futures import incoming, tally
from shared.coach.passes import PASS, Position
from shared.coach.playout import play_on

LEADERS, OTHERS = 10, 10
"""Passes played out in each position: the coach's first ones, and as many of the rest, evenly spread by its order."""


@dataclass(frozen=True)
class Verdict:
    """One position.

    Attributes:
        regret: what the first choice loses, in points.
        in_three: whether the pass that came out best is among the first three.
        close: whether it is, or one of the first three is less than two standard errors behind it.
        tau: Kendall's tau between the coach's points and the play-outs.
    """

    regret: float
    in_three: bool
    close: bool
    tau: float


def play_outs(engine: Engine, position: Position, passes: Counts, futures: int, seed: int) -> Floats:
    """Return the final points of each pass in common futures, shape (passes, futures)."""
    rack, unseen = position.counts(), position.unseen()
    comes = incoming(unseen, PASS * (position.later + 1), futures, (seed, position.later, 7))
    first, rest = tally(comes[:, :PASS]), comes[:, PASS:]
    racks = ((rack - passes)[:, None] + first[None]).reshape(-1, len(rack))
    left = np.tile(unseen - first, (len(passes), 1))
    later = np.tile(rest, (len(passes), 1))
    points = 100 * play_on(engine.patterns, racks, left, later, position.looks)
    return points.reshape(len(passes), futures)


def judge(engine: Engine, position: Position, futures: int, seed: int) -> Verdict:
    """Play out the leaders and a spread of the others."""
    ranked = engine.rank(position, seed, PLAY).passes
    rest = np.linspace(LEADERS, len(ranked) - 1, OTHERS).astype(int) if len(ranked) > LEADERS + OTHERS else []
    tried = [*ranked[:LEADERS], *(ranked[place] for place in rest)]
    points = play_outs(engine, position, np.array([counts_of(one.tiles) for one in tried]), futures, seed)
    halves = points[:, ::2].mean(axis=1), points[:, 1::2].mean(axis=1)
    regret = float(np.mean([halves[1 - half][halves[half].argmax()] - halves[1 - half][0] for half in (0, 1)]))
    best = int(points.mean(axis=1).argmax())
    behind = points[best] - points[:PASS]
    error = behind.std(axis=1, ddof=1) / futures**0.5
    close = bool((behind.mean(axis=1) <= 2 * error).any())
    tau = float(kendalltau([one.points for one in tried], points.mean(axis=1)).statistic)
    return Verdict(regret, best < PASS, close, tau)


def against_play_outs(
    engine: Engine, frozen: Sequence[Sequence[Position]], futures: int, seed: int, tell: Callable[[str], None]
) -> dict[str, object]:
    """Return mean regret with its standard error, the share with the best in three, and tau: by step and together."""
    by_step = []
    everything: list[Verdict] = []
    for step, positions in enumerate(frozen):
        verdicts = [judge(engine, position, futures, seed) for position in positions]
        everything += verdicts
        by_step.append(_summary(verdicts))
        tell(f"step {step + 1}: {by_step[-1]}")
    return {"together": _summary(everything), "by step": by_step, "futures": futures}


def _summary(verdicts: Sequence[Verdict]) -> dict[str, float]:
    regrets = np.array([verdict.regret for verdict in verdicts])
    return {
        "positions": len(verdicts),
        "mean regret": float(regrets.mean()),
        "se": float(regrets.std(ddof=1) / len(regrets) ** 0.5),
        "best among the first three": float(np.mean([verdict.in_three for verdict in verdicts])),
        "or within two standard errors of it": float(np.mean([verdict.close for verdict in verdicts])),
        "Kendall tau": float(np.nanmean([verdict.tau for verdict in verdicts])),
    }


def screen_loss(engine: Engine, frozen: Sequence[Sequence[Position]], seed: int) -> dict[str, float]:
    """Return how often the best of all passes is not among those that the screen lets through, and what that costs."""
    missed, lost = [], []
    for position in (position for positions in frozen for position in positions):
        everything = engine.rank(position, seed, Effort(None, PLAY.futures, False))
        through = engine.rank(position, seed, PLAY)
        lost.append(everything.best.points - through.best.points)
        missed.append(lost[-1] > 0)
    return {"positions": len(lost), "best lost": float(np.mean(missed)), "mean points lost": float(np.mean(lost))}

"""How good the coach's first choice is against long play-outs, and how often its screen loses the best pass.

A play-out passes to the end by the coach's quick policy; all passes of a position meet the same futures. A future is a
whole Charleston of three other seats whose racks are drawn from what the seat has not seen. They are softened greedy as
the head-to-head opponents are, but weigh their tiles one by one instead of three together. At a later step they have
passed as often as in the heat, though not what really came and went: that nobody could draw. Every legal pass runs in
the first heat of futures; those that are clearly behind the best drop out, and the rest run on in four times as many,
so that most futures go where the best is still in doubt. The coach's first three never drop out. The regret is judged
across two halves of the futures, the best found in one and judged in the other, so that the luck of the best in its own
half does not count.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import kendalltau

from shared.coach.chance import Floats, Indices
from shared.coach.distance import JOKER_INDEX, Counts, counts_of
from shared.coach.engine import PLAY, THOROUGH, Effort, Engine, Ranking
from shared.coach.flow import SIX_PASSES, softened_greedy
from shared.coach.futures import orders, tally
from shared.coach.passes import PASS, Position
from shared.coach.playout import play_on

FUTURES = (32, 128, 512, 2048)
"""Futures that a pass has met after each heat of the race."""
RUNNERS = (64, 24, 8)
"""The most passes that run on after each heat but the last."""
BEHIND = 2.5
"""Standard errors of the gap to the best by which a pass drops out."""
_OTHERS, _RACK = 3, 13
_AT_ONCE = 20_000  # racks played on together: more would not fit the cache
EFFORTS = {"at the table": PLAY, "in the review": Effort(THOROUGH.leaders, THOROUGH.futures, False)}


@dataclass(frozen=True)
class Verdict:
    """One position and one ranking.

    Attributes:
        regret: what the first choice loses, in points.
        in_three: whether the pass that came out best is among the first three.
        close: whether it is, or one of the first three is less than two standard errors behind it.
        sure: whether the best is more than two standard errors better than every pass outside the first three, or one
            of the three more than two standard errors better than the best outside: the race could tell.
        tau: Kendall's tau between the coach's points and the play-outs, over the passes that got to the second heat.
    """

    regret: float
    in_three: bool
    close: bool
    sure: bool
    tau: float


@dataclass(frozen=True, eq=False)
class Race:
    """Play-outs of a position's passes.

    Attributes:
        second: places (in the order given) of the passes in the second heat, and their mean points there.
        left: places of the passes that ran to the end.
        points: their points in every future they met, shape (left, futures).
    """

    second: tuple[Indices, Floats]
    left: Indices
    points: Floats


def play_outs(engine: Engine, position: Position, passes: Counts, futures: int, seed: tuple[int, ...]) -> Floats:
    """Return the final points of each pass in common futures, shape (passes, futures)."""
    rack, unseen = position.counts(), position.unseen()
    comes = what_comes(engine, position, futures, seed)
    first, rest = tally(comes[:, :PASS]), comes[:, PASS:]
    racks = ((rack - passes)[:, None] + first[None]).reshape(-1, len(rack))
    left = np.tile(unseen - first, (len(passes), 1))
    later = np.tile(rest, (len(passes), 1))
    parts = [slice(start, start + _AT_ONCE) for start in range(0, len(racks), _AT_ONCE)]
    points = [play_on(engine.patterns, racks[part], left[part], later[part], position.looks) for part in parts]
    return 100 * np.concatenate(points).reshape(len(passes), futures)


def what_comes(engine: Engine, position: Position, futures: int, seed: tuple[int, ...]) -> Indices:
    """Return the kinds that come to the seat by the pass at hand and those after it, shape (futures, tiles).

    The other three seats are dealt unseen tiles and pass from the first pass on, also where the position is a later
    one. What the seat itself gives are tiles of the wall: so one future serves all its passes, and no tile comes twice.
    """
    unseen, first = position.unseen(), len(SIX_PASSES) - 1 - position.later
    pool = np.repeat(np.arange(len(unseen)), unseen)
    drawn = pool[orders(len(pool), futures, seed)]
    dealt, wall = np.split(drawn, [_OTHERS * _RACK], axis=1)
    wall = np.take_along_axis(wall, np.argsort(wall == JOKER_INDEX, axis=1, kind="stable"), axis=1)  # jokers never go
    racks = tally(dealt.reshape(-1, _RACK)).reshape(futures, _OTHERS, -1)
    comes = []
    for number, direction in enumerate(SIX_PASSES):
        gives = softened_greedy(engine.patterns, racks.reshape(-1, len(unseen)), (*seed, number)).reshape(racks.shape)
        own = tally(wall[:, PASS * number : PASS * (number + 1)])[:, None]
        came = np.roll(np.concatenate([own, gives], axis=1), int(direction), axis=1)
        racks = racks - gives + came[:, 1:]
        comes.append(np.repeat(np.tile(np.arange(len(unseen)), futures), came[:, 0].ravel()).reshape(futures, PASS))
    return np.concatenate(comes[first:], axis=1)


def race(engine: Engine, position: Position, passes: Counts, kept: Sequence[int], seed: int) -> Race:
    """Play out passes of shape (passes, 36); those at the places kept never drop out."""
    left = np.arange(len(passes))
    points = np.empty((len(passes), 0))
    second = left, points
    for heat, futures in enumerate(FUTURES):
        more = play_outs(engine, position, passes[left], futures - points.shape[1], (seed, position.later, 7, heat))
        points = np.concatenate([points, more], axis=1)
        if heat == 1:
            second = left, points.mean(axis=1)
        if heat < len(RUNNERS):
            gap = points[points.mean(axis=1).argmax()] - points
            behind = gap.mean(axis=1) > BEHIND * gap.std(axis=1, ddof=1) / futures**0.5
            order = np.argsort(np.where(np.isin(left, kept), -np.inf, gap.mean(axis=1)), kind="stable")
            stays = np.sort(order[: RUNNERS[heat]])
            stays = stays[~behind[stays] | np.isin(left[stays], kept)]
            left, points = left[stays], points[stays]
    return Race(second, left, points)


def verdict(ranking: Ranking, places: Sequence[int], run: Race) -> Verdict:
    """Judge a ranking by a race in which its passes had these places."""
    at = {int(place): row for row, place in enumerate(run.left)}
    three = [at[place] for place in places[:PASS]]
    others = [row for row in range(len(run.left)) if row not in three]
    means = run.points.mean(axis=1)
    halves = run.points[:, ::2].mean(axis=1), run.points[:, 1::2].mean(axis=1)
    regret = float(np.mean([halves[1 - half][halves[half].argmax()] - halves[1 - half][three[0]] for half in (0, 1)]))
    best_of_three = three[int(means[three].argmax())]
    in_three = not others or bool(means[best_of_three] >= means[others].max())
    apart = np.array([_apart(run.points[best_of_three], run.points[row]) for row in others] or [np.inf])
    where = {int(place): number for number, place in enumerate(places)}
    coachs = [ranking.passes[where[int(place)]].points for place in run.second[0]]
    tau = float(kendalltau(coachs, run.second[1]).statistic)
    return Verdict(regret, in_three, bool((apart > -2).all()), bool((apart > 2).all() or (apart < -2).any()), tau)


def _apart(one: Floats, other: Floats) -> float:
    """Return by how many standard errors of their difference one pass is better than another."""
    difference = one - other
    error = float(difference.std(ddof=1)) / len(difference) ** 0.5
    return float(difference.mean()) / error if error else float(np.sign(difference.mean())) * np.inf


def judge(engine: Engine, position: Position, seed: int) -> dict[str, Verdict]:
    """Race all legal passes of a position and judge the coach's ranking of each effort by it."""
    rankings = {name: engine.rank(position, seed, effort) for name, effort in EFFORTS.items()}
    every = next(iter(rankings.values())).passes
    place_of = {(ranked.tiles, ranked.blind): place for place, ranked in enumerate(every)}
    places = {
        name: [place_of[ranked.tiles, ranked.blind] for ranked in ranking.passes] for name, ranking in rankings.items()
    }
    kept = sorted({place for order in places.values() for place in order[:PASS]})
    run = race(engine, position, np.array([counts_of(ranked.tiles) for ranked in every]), kept, seed)
    return {name: verdict(ranking, places[name], run) for name, ranking in rankings.items()}


def against_play_outs(
    engine: Engine, frozen: Sequence[Sequence[Position]], seed: int, tell: Callable[[str], None]
) -> dict[str, object]:
    """Return for each effort the mean regret, the share with the best in three, and tau: together and by step."""
    verdicts: dict[str, list[list[Verdict]]] = {name: [] for name in EFFORTS}
    for step, positions in enumerate(frozen):
        judged = [judge(engine, position, seed) for position in positions]
        for name, by_step in verdicts.items():
            by_step.append([one[name] for one in judged])
            tell(f"step {step + 1}, {name}: {_summary(by_step[-1])}")
    return {
        "futures": list(FUTURES),
        **{
            name: {
                "together": _summary([one for step in by_step for one in step]),
                "by step": [_summary(step) for step in by_step],
            }
            for name, by_step in verdicts.items()
        },
    }


def _summary(verdicts: Sequence[Verdict]) -> dict[str, float]:
    regrets = np.array([verdict.regret for verdict in verdicts])
    return {
        "positions": len(verdicts),
        "mean regret": float(regrets.mean()),
        "se": float(regrets.std(ddof=1) / len(regrets) ** 0.5),
        "best among the first three": float(np.mean([verdict.in_three for verdict in verdicts])),
        "or within two standard errors of it": float(np.mean([verdict.close for verdict in verdicts])),
        "where the play-outs could tell": float(np.mean([one.sure for one in verdicts])),
        "best among the first three there": float(np.mean([one.in_three for one in verdicts if one.sure] or [np.nan])),
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

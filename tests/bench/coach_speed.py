"""How fast the coach is: tiles away and rankings, with their baselines in the same run.

Times are of the process on one core. On a busy machine the wall clock says how many others run; processor time does
not, so both are told.
"""

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter, process_time

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from shared.coach.chance import Play, finish_chance, outlook_of
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away, away_one
from shared.coach.engine import Engine
from shared.coach.passes import PASS, Position, legal_passes, tiles_of
from shared.coach.ranking import HINT, THINK
from shared.coach.targets import SET, nearest

SINGLE_US, BATCH_PER_S, RANK_MEDIAN_MS, RANK_95_MS, THINK_MS = 15.0, 200_000.0, 50.0, 120.0, 1000.0


@dataclass(frozen=True)
class Times:
    """Median and 95th percentile of single calls in milliseconds: processor time, and wall clock."""

    cpu_median_ms: float
    cpu_95_ms: float
    wall_median_ms: float
    wall_95_ms: float


def timed(calls: list[Callable[[], object]]) -> Times:
    """Call each once and return what single calls took."""
    cpu, wall = [], []
    for call in calls:
        began, began_wall = process_time(), perf_counter()
        call()
        cpu.append(1000 * (process_time() - began))
        wall.append(1000 * (perf_counter() - began_wall))
    quantiles = [float(np.quantile(times, share)) for times in (cpu, wall) for share in (0.5, 0.95)]
    return Times(*quantiles)


def plain_away(patterns: Patterns, rack: Counts) -> list[int]:
    """Tiles away in a plain loop over variants and kinds, the formula and nothing else."""
    pairs, groups, counts = patterns.pairs.tolist(), patterns.groups.tolist(), rack.tolist()
    jokers = counts[JOKER_INDEX]
    distances = []
    for pair, group in zip(pairs, groups, strict=True):
        used = short = 0
        for kind in range(JOKER_INDEX):
            used += min(counts[kind], pair[kind] + group[kind])
            short += max(group[kind] - max(counts[kind] - pair[kind], 0), 0)
        distances.append(14 - used - min(jokers, short))
    return distances


def program_away(patterns: Patterns, rack: Counts, variant: int) -> int:
    """Tiles away of one variant by scipy's integer program: naturals to pairs and groups, jokers to groups."""
    pairs, groups = patterns.pairs[variant].astype(float), patterns.groups[variant].astype(float)
    kinds = len(rack)
    eye, none, row = np.eye(kinds), np.zeros((kinds, 1)), np.ones((1, kinds))
    rows = np.block([[eye, eye, none], [0 * row, row, np.ones((1, 1))]])
    naturals = rack.astype(float)
    naturals[JOKER_INDEX] = 0
    answer = milp(
        -np.ones(2 * kinds + 1),
        constraints=LinearConstraint(rows, -np.inf, np.concatenate([naturals, [groups.sum()]])),
        bounds=Bounds(0, np.concatenate([pairs, groups, [rack[JOKER_INDEX]]])),
        integrality=1,
    )
    return round(14 + float(answer.fun))


def distances(patterns: Patterns, racks: Counts) -> dict[str, float]:
    """Return the speed of tiles away: one rack over the whole card, batches, and two baselines.

    Of three rounds the quickest counts, as the timeit module advises: the others tell what else the machine did.
    """
    calls: list[Callable[[], object]] = [lambda rack=rack: away_one(patterns, rack) for rack in racks[:5000]]
    single = min((timed(calls) for _ in range(3)), key=lambda times: times.cpu_median_ms)
    batch_s = min(_seconds(away, patterns, racks) for _ in range(3))
    loop = timed([lambda rack=rack: plain_away(patterns, rack) for rack in racks[:20]])
    few = nearest(patterns, racks[:1], 40)[0]
    program = timed([lambda v=int(v): program_away(patterns, racks[0], v) for v in few])
    assert all(program_away(patterns, racks[0], int(v)) == away_one(patterns, racks[0])[v] for v in few[:10])
    assert plain_away(patterns, racks[0]) == away_one(patterns, racks[0]).tolist()
    return {
        "one rack, median us": 1000 * single.cpu_median_ms,
        "one rack, median us by the wall clock": 1000 * single.wall_median_ms,
        "batches, racks a second": len(racks) / batch_s,
        "plain loop, ms a rack": loop.cpu_median_ms,
        "integer program, ms a variant": program.cpu_median_ms,
        "times faster than the plain loop, one rack": loop.cpu_median_ms / single.cpu_median_ms,
        "times faster than the integer program, one rack": program.cpu_median_ms * len(patterns) / single.cpu_median_ms,
    }


def _seconds(call: Callable[[Patterns, Counts], object], patterns: Patterns, racks: Counts) -> float:
    began = process_time()
    call(patterns, racks)
    return process_time() - began


def rankings(engine: Engine, racks: Counts) -> dict[str, float]:
    """Return the time of whole rankings, warm, at every step in turn, and of an exact reference for the same passes."""
    positions = [Position(tiles_of(rack), (), number % 6) for number, rack in enumerate(racks)]
    for position in positions[:24]:
        engine.rank(position, 1, HINT)
    times = timed([lambda p=position: engine.rank(p, 1, HINT) for position in positions])
    thinking = timed([lambda p=position: engine.rank(p, 1, THINK) for position in positions[: len(positions) // 3]])
    exact = timed([lambda p=position: reference_ranking(engine.patterns, p) for position in positions[:2]])
    return {
        "hint, median ms": times.cpu_median_ms,
        "hint, 95% ms": times.cpu_95_ms,
        "hint, median ms by the wall clock": times.wall_median_ms,
        "hint, 95% ms by the wall clock": times.wall_95_ms,
        "thinking, median ms": thinking.cpu_median_ms,
        "thinking, 95% ms": thinking.cpu_95_ms,
        "thinking, median ms by the wall clock": thinking.wall_median_ms,
        "thinking, 95% ms by the wall clock": thinking.wall_95_ms,
        "exact reference in integers, one rack without futures, ms": exact.cpu_median_ms,
        "times faster than the exact reference, futures not counted": exact.cpu_median_ms / times.cpu_median_ms,
    }


def reference_ranking(patterns: Patterns, position: Position) -> list[float]:
    """Return the best exact chance after each pass, over the 25 nearest patterns, without sampling what comes."""
    rack, unseen = position.counts(), position.unseen()
    coming = PASS * (position.later + 1)
    assert outlook_of(unseen, Play.alone(position.looks), coming).naturals > coming
    near = nearest(patterns, rack[None], 25)[0]
    known: dict[tuple[int, bytes], float] = {}
    best = []
    for given in legal_passes(rack, PASS):
        after = rack - given
        values = []
        for variant in near:
            wanted = patterns.pairs[variant] + patterns.groups[variant]
            key = (int(variant), np.minimum(after, wanted).tobytes())
            if key not in known:
                pairs, groups = patterns.pairs[variant], patterns.groups[variant]
                known[key] = float(finish_chance(pairs, groups, after, unseen, Play.alone(position.looks), coming))
            values.append(known[key])
        best.append(max(values))
    return best


def frozen_racks(number: int, seed: int) -> Counts:
    """Return random racks of 14 tiles, shape (number, 36)."""
    tiles = np.repeat(np.arange(len(SET)), SET)
    dice = np.random.Generator(np.random.PCG64(seed))
    dealt = dice.permuted(np.tile(tiles, (number, 1)), axis=1)[:, :14]
    return np.array([np.bincount(rack, minlength=len(SET)) for rack in dealt], dtype=np.uint8)

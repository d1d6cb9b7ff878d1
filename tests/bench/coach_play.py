"""How well the coach plays: seeded deals in which one seat is changed and the other three stay the same.

The other seats play the softened greedy policy. What is measured is the committed value of the changed seat after
six passes, in points, and for the coach how far its forecasts at every step agree with what came of them.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shared.coach.aims import LOOKS
from shared.coach.chance import Floats, Play
from shared.coach.distance import Counts, Patterns, counts_of
from shared.coach.engine import Engine
from shared.coach.others import SIX_PASSES
from shared.coach.passes import Position, tiles_of
from shared.coach.policies import STRENGTHS, Strength, choose
from shared.coach.ranking import HINT, Ranking
from shared.coach.targets import SET, committed
from shared.rules.tiles import Rack
from tests.bench.charlestons import Policy, deal

SEATS = 4
Chooser = Callable[[Position, np.random.Generator], Rack]


@dataclass(frozen=True, eq=False)
class Heats:
    """What came of a pairing: the changed seat's final points, shape (deals,)."""

    points: Floats

    @property
    def mean(self) -> float:
        """Mean points."""
        return float(self.points.mean())

    @property
    def se(self) -> float:
        """Standard error of the mean."""
        return float(self.points.std(ddof=1) / len(self.points) ** 0.5)


def play(patterns: Patterns, chooser: Chooser, deals: int, seed: int) -> Heats:
    """Play seeded deals with the chooser in one seat, each seat in turn, and softened greedy in the others."""
    rng = np.random.Generator(np.random.PCG64(seed))
    racks = deal(rng, deals)
    passed = np.zeros_like(racks)
    rows, seat = np.arange(deals), np.arange(deals) % SEATS
    others, dice = Policy.of(patterns), [np.random.Generator(np.random.PCG64([seed, row])) for row in rows]
    for number, direction in enumerate(SIX_PASSES):
        given = others.choose(racks.reshape(-1, racks.shape[2]), rng).reshape(racks.shape)
        for row in rows:
            mine = seat[row]
            later = len(SIX_PASSES) - 1 - number
            position = Position(tiles_of(racks[row, mine]), tiles_of(passed[row, mine]), later)
            given[row, mine] = counts_of(chooser(position, dice[row]))
        racks = racks - given + np.roll(given, int(direction), axis=1)
        passed += given
    mine = racks[rows, seat]
    unseen = SET - np.minimum(mine + passed[rows, seat], SET)
    return Heats(100 * committed(patterns, mine, unseen, Play.alone(LOOKS), 0))


def of_strength(engine: Engine, strength: Strength) -> Chooser:
    """Return a chooser of one of the bots' strengths."""
    return lambda position, dice: choose(engine, position, strength, dice).tiles


def head_to_head(
    engine: Engine, strongest: Heats, deals: int, seed: int, tell: Callable[[str], None]
) -> dict[str, dict[str, float]]:
    """Return mean points and standard error of every strength, and how many times the two baselines that is.

    The strongest has played the same deals already, for its forecasts.
    """
    heats: dict[Strength, Heats] = {STRENGTHS[-1]: strongest}
    for strength in STRENGTHS:
        if strength not in heats:
            heats[strength] = play(engine.patterns, of_strength(engine, strength), deals, seed)
        tell(f"{strength}: {heats[strength].mean:.2f} +- {heats[strength].se:.2f}")
    greedy, softened = heats["nearest hand"], heats["all near hands"]
    return {
        strength: {
            "points": played.mean,
            "se": played.se,
            "times greedy": played.mean / greedy.mean,
            "times softened greedy": played.mean / softened.mean,
            "more than softened greedy": Heats(played.points - softened.points).mean,
            "se of that": Heats(played.points - softened.points).se,
        }
        for strength, played in ((strength, heats[strength]) for strength in STRENGTHS)
    }


@dataclass(frozen=True, eq=False)
class Forecasts:
    """The coach's own forecasts in its heats: best value at each step, and what the heat ended with.

    Attributes:
        best: points of the best pass at each step, shape (heats, 6).
        se: the standard errors of those points, shape (heats, 6).
        final: points at the end, shape (heats,).
    """

    best: Floats
    se: Floats
    final: Floats

    def luck(self) -> tuple[Floats, Floats]:
        """Return mean luck by step and its standard error, each of shape (6,); the coach loses nothing itself."""
        change = np.diff(np.concatenate([self.best, self.final[:, None]], axis=1), axis=1)
        return change.mean(axis=0), change.std(axis=0, ddof=1) / len(change) ** 0.5


def forecast(engine: Engine, heats: int, seed: int) -> Forecasts:
    """Let the coach play whole heats and keep what it forecast."""
    best, errors = np.zeros((heats, len(SIX_PASSES))), np.zeros((heats, len(SIX_PASSES)))
    turn = {"row": -1}

    def chooser(position: Position, dice: np.random.Generator) -> Rack:
        turn["row"] = (turn["row"] + 1) % heats
        ranking: Ranking = engine.rank(position, int(dice.integers(2**32)), HINT)
        step = len(SIX_PASSES) - 1 - position.later
        best[turn["row"], step], errors[turn["row"], step] = ranking.best.points, ranking.best.se
        return ranking.best.tiles

    final = play(engine.patterns, chooser, heats, seed).points
    return Forecasts(best, errors, final)


def calibration(forecasts: Forecasts, seed: int) -> dict[str, object]:
    """Return luck by step, the Brier score of the first forecast and a reliability table by decile.

    Whether a heat is finished is drawn by its final chance, so the score has an outcome that is yes or no.
    """
    luck, error = forecasts.luck()
    dice = np.random.Generator(np.random.PCG64(seed))
    finished = dice.random(len(forecasts.final)) < forecasts.final / 100
    first = forecasts.best[:, 0] / 100
    order = np.argsort(first, kind="stable")
    table = [
        {
            "forecast": float(100 * first[rows].mean()),
            "came of it": float(forecasts.final[rows].mean()),
            "finished": float(100 * finished[rows].mean()),
        }
        for rows in np.array_split(order, 10)
    ]
    total = forecasts.final - forecasts.best[:, 0]
    return {
        "mean luck by step": luck.tolist(),
        "its se": error.tolist(),
        "mean luck of a heat": float(total.mean()),
        "se of that": float(total.std(ddof=1) / len(total) ** 0.5),
        "Brier score": float(((first - finished) ** 2).mean()),
        "Brier score of the mean alone": float(((first.mean() - finished) ** 2).mean()),
        "deciles": table,
    }


def positions(patterns: Patterns, deals: int, seed: int) -> list[list[Position]]:
    """Return frozen positions by step, from deals that softened greedy plays in every seat."""
    frozen: list[list[Position]] = [[] for _ in SIX_PASSES]
    others = Policy.of(patterns)
    fallback = np.random.Generator(np.random.PCG64(seed))

    def chooser(position: Position, dice: np.random.Generator) -> Rack:
        frozen[len(SIX_PASSES) - 1 - position.later].append(position)
        rack: Counts = position.counts()[None]
        return tiles_of(others.choose(rack, fallback)[0])

    play(patterns, chooser, deals, seed)
    return frozen

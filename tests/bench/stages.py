"""The lines that straighten the coach's forecasts, fitted over whole heats, and how even its luck is with them.

    python -m tests.bench.stages FILE [--aim winning] [--heats 400] [--parts 8] [--seed N]

One seat plays by the coach, at tables of three coached and of three softened greedy seats of the first release in turn.
At each step we keep how likely its best pass was to come good in every sampled future, before any straightening, and at
the end what the rack was worth. A stage's line is the one with which the mean over the futures is nearest to that. What
is printed beside it is the mean luck by step with the stages that the coach has now, at each table. A run is kept part
by part in FILE and goes on where it stopped.
"""

import argparse
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from shared.cards.shipped import practice_card
from shared.coach.aims import Aim, Stage, finishing
from shared.coach.chance import Floats
from shared.coach.distance import counts_of
from shared.coach.engine import Engine
from shared.coach.others import BOTH, ROUND
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import HINT
from shared.rules.tiles import Rack
from tests.bench.first_release.passes import Position as FirstPosition
from tests.bench.first_release.release import engine_for
from tests.bench.game.deals import Seat, after_six_passes
from tests.bench.game.parts import Part, run

POWERS = (3.0, 4.0, 5.0, 6.0, 8.0)
TABLES: tuple[Seat, ...] = ("coached", "softened")
SEATS = 4


def measure(engine: Engine, seats: Seat, deals: int, passes: int, seed: tuple[int, ...]) -> Part:
    """Return what the coach forecast in heats: log odds by step, power and future, best points by step, end."""
    raw: list[list[list[float]]] = []
    best: list[float] = []

    def chooser(position: FirstPosition, dice: np.random.Generator) -> Rack:
        made = BOTH - 1 - position.later
        now = Position(position.rack, position.passed, passes - 1 - made, made=made)
        ranked = engine.rank(now, seed := int(dice.integers(2**32)), HINT).best
        best.append(ranked.points)
        if now.later:
            raw.append([_log_odds(engine, now, ranked.tiles, power, seed) for power in POWERS])
        return ranked.tiles

    dice = np.random.Generator(np.random.PCG64(seed))
    made = after_six_passes(engine_for("practice"), (seats,) * SEATS, deals, dice, chooser, passes)
    rows, who = np.arange(deals), np.arange(deals) % SEATS
    racks, passed = made.racks[rows, who], made.passed[rows, who]
    ends = [
        engine.as_it_is(Position(tiles_of(rack), tiles_of(gone), 0, (), made=passes))
        for rack, gone in zip(racks, passed, strict=True)
    ]
    return {"raw": np.round(raw, 3).tolist(), "best": best, "ends": ends}


def _log_odds(engine: Engine, position: Position, tiles: Rack, power: float, seed: int) -> list[float]:
    """Return the log odds of a pass in every future, as a plain power mean."""
    aim = engine.aim_at(position)
    plain = Engine(engine.patterns, Aim(aim.play, aim.given, (Stage(power),) * (BOTH + 1)))
    points = plain.points_without(position, counts_of(tiles)[None], len(tiles), seed, HINT.rounds[-1][1])
    chance = np.clip(points[0] / 100, 1e-9, 1)
    return np.log(chance / (1 - np.minimum(chance, 1 - 1e-9))).tolist()


def fitted(raw: Floats, ends: Floats) -> tuple[float, float, float]:
    """Return shift, slope and the mean square error of the line for log odds of shape (heats, futures)."""

    def error(line: Floats) -> float:
        said = 1 / (1 + np.exp(-(line[0] + line[1] * raw)))
        return float(((said.mean(axis=1) - ends) ** 2).mean())

    found = minimize(error, np.array([0.0, 1.0]), method="Nelder-Mead")
    return float(found.x[0]), float(found.x[1]), float(found.fun)


def main() -> None:
    """Measure, fit and print."""
    parser = argparse.ArgumentParser(description="Lines that straighten the coach's forecasts.")
    parser.add_argument("results", type=Path)
    parser.add_argument("--aim", choices=("winning", "finishing"), default="winning")
    parser.add_argument("--heats", type=int, default=100, help="heats in a part")
    parser.add_argument("--parts", type=int, default=8, help="even ones at the coached table, odd ones at the other")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--passes", type=int, choices=(ROUND, BOTH), default=BOTH)
    options = parser.parse_args()
    engine = Engine.of_card(practice_card(), finishing() if options.aim == "finishing" else None)
    settings = {name: getattr(options, name) for name in ("aim", "heats", "seed", "passes")}
    parts = list(
        run(
            options.results,
            settings,
            options.parts,
            lambda part: measure(engine, TABLES[part % 2], options.heats, options.passes, (options.seed, part)),
        )
    )
    ends = np.concatenate([part["ends"] for part in parts]) / 100
    # The chooser is asked step by step, all heats of a part at each.
    raw = np.concatenate(
        [np.reshape(part["raw"], (options.passes - 1, options.heats, len(POWERS), -1)) for part in parts], axis=1
    )
    for step in range(options.passes - 1):
        lines = [(power, *fitted(raw[step, :, place], ends)) for place, power in enumerate(POWERS)]
        told = ", ".join(
            f"power {power:g}: {shift:+.3f} {slope:.3f} ({1e4 * error:.2f})" for power, shift, slope, error in lines
        )
        print(f"{options.passes - 1 - step} to come: {told}")
    for table, name in enumerate(TABLES):
        best = np.concatenate(
            [np.reshape(part["best"], (options.passes, options.heats)) for part in parts[table::2]], axis=1
        )
        end = np.concatenate([part["ends"] for part in parts[table::2]])
        luck = np.diff(np.concatenate([best, end[None]]), axis=0)
        errors = luck.std(axis=1, ddof=1) / luck.shape[1] ** 0.5
        told = "  ".join(f"{mean:+.2f} +- {error:.2f}" for mean, error in zip(luck.mean(axis=1), errors, strict=True))
        heat = luck.sum(axis=0)
        print(f"{name}: luck by step {told}; a heat {heat.mean():+.2f} +- {heat.std(ddof=1) / len(heat) ** 0.5:.2f}")


if __name__ == "__main__":
    main()

"""What the coach's first choice loses against long play-outs.

    python -m tests.bench.regret results.jsonl --step "first right" --racks 80 [--effort hint think glance]
        [--coach shared first] [--table softened] [--seed 1]

Every legal pass of a rack runs in a race over sampled Charlestons of four seats, each to the end of the six passes; the
first release's value judges the end, in points. All efforts and coaches named are judged by the same races. Where
`--table` is "coached", the deals and the futures are those of coached seats instead of softened greedy ones.
The run is kept in its results file part by part, four racks each, and goes on where it was stopped. numba, which the
extra `bench` installs, makes it a hundred times as fast.
"""

import argparse
from collections.abc import Sequence
from dataclasses import asdict
from itertools import product
from pathlib import Path
from time import process_time
from typing import get_args

import numpy as np

from shared.rules.steps import PASSES
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.passes import PASS, legal_passes
from tests.bench.first_release.release import card, engine
from tests.bench.game.deals import Seat
from tests.bench.game.parts import Part, run
from tests.bench.regret.deck import Deck, deck_of, paper_for
from tests.bench.regret.positions import SEATS, cases
from tests.bench.regret.race import FUTURES, THREE, race, verdict
from tests.bench.regret.rankers import COACHES, EFFORTS, Ranker, ranker


def judged(
    engine: Engine,
    deck: Deck,
    rankers: dict[str, Ranker],
    table: Seat,
    step: int,
    seed: tuple[int, ...],
    heats: tuple[int, ...] = FUTURES,
) -> Part:
    """Return the verdicts on four racks by ranking, and the seconds that the races took."""
    found: Part = {"verdicts": {name: [] for name in rankers}, "left": [], "seconds": []}
    paper = paper_for(deck)
    for seat, case in enumerate(cases(engine, table, step, seed)):
        passes = legal_passes(case.position.counts(), PASS)
        place = {row.tobytes(): number for number, row in enumerate(passes)}
        threes = {
            name: [place[row.tobytes()] for row in rank(case.position, seed[-1] * SEATS + seat)[:THREE]]
            for name, rank in rankers.items()
        }
        began = process_time()
        kept = sorted({one for three in threes.values() for one in three})
        came = race(deck, paper, case, passes, kept, table, (*seed, seat, step), heats)
        found["seconds"].append(process_time() - began)
        found["left"].append(len(came.left))
        for name, three in threes.items():
            found["verdicts"][name].append(asdict(verdict(came, three)))
    return found


def lines(parts: Sequence[Part]) -> list[str]:
    """Return what a run tells."""
    told = []
    for name in parts[0]["verdicts"]:
        every = [one for part in parts for one in part["verdicts"][name]]
        first, three = (_mean([one[what] for one in every]) for what in ("regret", "three"))
        in_three, close = (100 * float(np.mean([one[what] for one in every])) for what in ("in_three", "close"))
        told.append(
            f"{name}: the first choice loses {first}, the best of the first three {three};"
            f" the best is among the three {in_three:.0f}%, or within two errors {close:.0f}%"
        )
    seconds = [one for part in parts for one in part["seconds"]]
    return [*told, f"{len(seconds)} racks; a race took {np.median(seconds):.1f} s of processor time (median)"]


def _mean(values: Sequence[float]) -> str:
    return f"{np.mean(values):.2f} +- {np.std(values, ddof=1) / len(values) ** 0.5:.2f}"


def main() -> None:
    """Read the command, measure and print."""
    parser = argparse.ArgumentParser(description="What the coach's first choice loses against long play-outs.")
    parser.add_argument("results", type=Path, help="the results file; it is gone on with if it is there")
    parser.add_argument("--step", choices=PASSES, default=PASSES[0])
    parser.add_argument("--racks", type=int, default=80, help="made a multiple of four")
    parser.add_argument("--effort", nargs="+", choices=EFFORTS, default=["hint"])
    parser.add_argument("--coach", nargs="+", choices=COACHES, default=["shared"])
    parser.add_argument("--table", choices=get_args(Seat), default="softened")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    pairs = list(product(options.coach, options.effort))
    rankers = {f"{coach}, {effort}": ranker(coach, effort, card()) for coach, effort in pairs}
    deck, step = deck_of(engine().patterns), PASSES.index(options.step)
    settings = {"step": options.step, "table": options.table, "seed": options.seed, "rankings": list(rankers)}

    def measure(part: int) -> Part:
        return judged(engine(), deck, rankers, options.table, step, (options.seed, part))

    count = -(-options.racks // SEATS)
    print("\n".join(lines(list(run(options.results, {**settings, "futures": FUTURES}, count, measure)))))


if __name__ == "__main__":
    main()

"""Does the history find a planted habit? Players with one bad habit each, and one who plays by the coach.

    python -m tests.bench.habits play FILE [--strength 0.9] [--seed 1] [--seeds 20]
    python -m tests.bench.habits table FILE ... [--half FILE ...]

Each player plays twelve heats in every seed (who always goes on plays 24: that shows only once a heat). A run is kept
part by part in FILE and goes on where it stopped; the finder reads the kept decisions again in seconds. A part takes
3 to 5 seconds of one core.
"""

import argparse
from collections import Counter
from dataclasses import astuple
from pathlib import Path

from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.ranking import THINK, Effort
from shared.measures.habits import KINDS, Decision, habit_of
from tests.bench.game import parts
from tests.bench.habits.bots import NOBODY
from tests.bench.habits.play import LEAN, Remembering, run

HEATS, VOTED_HEATS = 12, 24
ONCE = "always goes on"
AIM = 0.85


def players(seed: int, seeds: int) -> list[tuple[str, int]]:
    """Return who plays with which seed; the long sets come last."""
    first = [(habit, number) for number in range(seed, seed + seeds) for habit in (NOBODY, *KINDS) if habit != ONCE]
    return [*first, *((ONCE, number) for number in range(seed, seed + seeds))]


def play(file: Path, strength: float, seed: int, seeds: int, effort: Effort) -> None:
    """Play what is not in the file yet."""
    shipped = coach_of(shipped_text())
    assert isinstance(shipped, Coach)
    coach = Coach(shipped.card, Remembering(shipped.engine.patterns))

    def part(number: int) -> parts.Part:
        habit, own = listed[number]
        heats = VOTED_HEATS if habit == ONCE else HEATS
        decisions = run(coach, habit, strength, own, heats, effort)
        return {"habit": habit, "seed": own, "decisions": [astuple(one) for one in decisions]}

    listed = players(seed, seeds)
    settings = {"strength": strength, "seed": seed, "seeds": seeds, "think": effort == THINK}
    for _ in parts.run(file, settings, len(listed), part):
        pass


def kept(files: list[Path]) -> list[tuple[str, list[Decision]]]:
    """Return the players of some files with their decisions."""
    found = [part for file in files for part in parts.read(file)[1]]
    return [(part["habit"], list(map(_decision, part["decisions"]))) for part in found]


def _decision(values: list[object]) -> Decision:
    return Decision(*(tuple(value) if isinstance(value, list) else value for value in values))  # type: ignore[arg-type]


def named(files: list[Path]) -> dict[str, Counter[str]]:
    """Return for each planted habit how often which one was named."""
    found: dict[str, Counter[str]] = {habit: Counter() for habit in (*KINDS, NOBODY)}
    for habit, decisions in kept(files):
        told = habit_of(decisions)
        found[habit][told.kind if told else NOBODY] += 1
    return found


def table(files: list[Path], half: list[Path]) -> None:
    """Print the table."""
    whole, weak = named(files), named(half)
    print("| planted | named | of | | at half strength | named instead |\n| --- | --- | --- | --- | --- | --- |")
    for habit, counts in whole.items():
        of, right, others = counts.total(), counts[habit], counts - Counter({habit: counts[habit]})
        weakly = f"{weak[habit][habit]} of {weak[habit].total()}" if weak[habit] and habit else ""
        instead = ", ".join(f"{other or 'none'} {count}" for other, count in others.most_common())
        verdict = "" if of and right >= AIM * of else "**missed**"
        print(f"| {habit or 'none: plays by the coach'} | {right} | {of} | {verdict} | {weakly} | {instead} |")


def main() -> None:
    """Play or print."""
    parser = argparse.ArgumentParser(description="Planted habits, and what the history names.")
    ways = parser.add_subparsers(required=True, dest="way")
    playing = ways.add_parser("play")
    playing.add_argument("file", type=Path)
    playing.add_argument("--strength", type=float, default=0.9, help="how often the habit acts where it can")
    playing.add_argument("--seed", type=int, default=1)
    playing.add_argument("--seeds", type=int, default=20)
    playing.add_argument("--think", action="store_true", help="judge with the effort of a review")
    printing = ways.add_parser("table")
    printing.add_argument("file", type=Path, nargs="+")
    printing.add_argument("--half", type=Path, nargs="*", default=[])
    options = parser.parse_args()
    if options.way == "play":
        play(options.file, options.strength, options.seed, options.seeds, THINK if options.think else LEAN)
    else:
        table(options.file, options.half)


if __name__ == "__main__":
    main()

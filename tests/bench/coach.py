"""The coach measured: speed, strength, calibration. Every number has its seed, its baseline and its target beside it.

    python -m tests.bench.coach [--json] [--quick] [--share 0.1] [--only speed,look,play]

All of it takes about an hour of one core. --quick takes a fortieth of the deals and positions, to see that it runs;
its numbers are not to be quoted. Progress goes to standard error.
"""

import argparse
import json
import platform
import sys
from collections.abc import Callable
from time import process_time

import numpy as np
import scipy

from shared.cards.shipped import practice_card
from shared.coach.distance import Patterns
from shared.coach.engine import Engine
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import HINT, THINK
from tests.bench.coach_play import Heats, calibration, forecast, head_to_head
from tests.bench.coach_screen import looks
from tests.bench.coach_speed import (
    BATCH_PER_S,
    RANK_95_MS,
    RANK_MEDIAN_MS,
    SINGLE_US,
    THINK_MS,
    distances,
    frozen_racks,
    rankings,
)
from tests.shared.coach.synthetic import make

SEED = 20260
DEALS = 2000
TIMES_BASELINES = {"times greedy": 1.5, "times softened greedy": 1.2}
PARTS = ("speed", "look", "play")


def machine() -> dict[str, str]:
    """Return what the numbers were measured on."""
    try:
        with open("/proc/cpuinfo") as lines:
            model = next(line.split(":")[1].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        model = platform.processor()
    return {
        "machine": f"{platform.machine()}, {model}",
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "system": platform.system(),
    }


def speed(engine: Engine, share: float) -> dict[str, object]:
    """Measure tiles away and rankings; rankings also on a card of 1,000 variants, the size that the target names."""
    thousand = Engine(Patterns.of_variants(make()))
    racks, few = frozen_racks(int(20_000 * max(share, 0.25)), SEED), frozen_racks(max(int(300 * share), 24), SEED)
    return {
        "tiles away, practice card": distances(engine.patterns, racks),
        "tiles away, 1,000 variants": distances(thousand.patterns, racks),
        "ranking, practice card": rankings(engine, few),
        "ranking, 1,000 variants": rankings(thousand, few),
        "targets": {
            "one rack, median us": SINGLE_US,
            "batches, racks a second": BATCH_PER_S,
            "hint, median ms": RANK_MEDIAN_MS,
            "hint, 95% ms": RANK_95_MS,
            "thinking, ms": THINK_MS,
        },
    }


def measure(parts: set[str], share: float, tell: Callable[[str], None]) -> dict[str, object]:
    """Run the parts asked for and return everything measured."""
    engine = Engine.of_card(practice_card())
    result: dict[str, object] = {
        "machine": machine(),
        "seed": SEED,
        "variants of the practice card": len(engine.patterns),
        "share of the full measurement": share,
        "rounds": {"hint": HINT.rounds, "thinking": THINK.rounds},
    }
    began = process_time()
    if "speed" in parts:
        result["speed"] = speed(engine, share)
    if "look" in parts:
        few = frozen_racks(max(int(120 * share), 6), SEED + 1)
        positions = [Position(tiles_of(rack), (), number % 6) for number, rack in enumerate(few)]
        result["first look"] = {"racks": len(few), **looks(engine, positions, SEED)}
    if "play" in parts:
        deals = max(int(DEALS * share), 20)
        forecasts = forecast(engine, deals, SEED)
        policies = head_to_head(engine, Heats(forecasts.final), deals, SEED, tell)
        result["head to head"] = {"deals": deals, "policies": policies, "targets": TIMES_BASELINES}
        result["forecasts"] = {"heats": deals, **calibration(forecasts, SEED)}
    result["processor seconds"] = process_time() - began
    return result


def lines(value: object, depth: int = 0) -> list[str]:
    """Return nested results as indented lines."""
    pad = "  " * depth
    if isinstance(value, dict):
        made = []
        for key, inner in value.items():
            flat = not isinstance(inner, dict | list) or (isinstance(inner, list) and not any(map(_deep, inner)))
            made += [f"{pad}{key}: {_short(inner)}"] if flat else [f"{pad}{key}:", *lines(inner, depth + 1)]
        return made
    if isinstance(value, list):
        return [f"{pad}{_short(inner)}" for inner in value]
    return [pad + _short(value)]


def _deep(value: object) -> bool:
    return isinstance(value, dict | list)


def _short(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.4g}" if abs(value) < 1000 else f"{value:,.0f}"
    if isinstance(value, dict):
        return ", ".join(f"{key} {_short(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return " ".join(map(_short, value))
    return str(value)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Measure the coach.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--quick", action="store_true", help="a fortieth of everything")
    parser.add_argument("--share", type=float, default=1.0, help="another part of the deals and positions")
    parser.add_argument("--only", default=",".join(PARTS), help="speed,look,play")
    options = parser.parse_args()
    share = 1 / 40 if options.quick else options.share
    result = measure(set(options.only.split(",")), share, lambda text: print(text, file=sys.stderr, flush=True))
    print(json.dumps(result, indent=2) if options.json else "\n".join(lines(result)))


if __name__ == "__main__":
    main()

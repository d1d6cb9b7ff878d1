"""Fuzzing by a seed: good inputs, changed at random again and again, until something other than a refusal comes out."""

import os
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.fuzz.targets import Target, targets

SLOW_S = 5.0
"""Processor seconds for one input beyond which it counts as a fault: a few bytes must not hold up a table."""
KEPT = 200


@dataclass
class Fuzzed:
    """What came of one target."""

    name: str
    inputs: int = 0
    taken: int = 0
    slowest_ms: float = 0.0
    faults: list[str] = field(default_factory=list)


def fuzz(folder: Path, inputs: int, seed: int = 1, only: str = "") -> list[Fuzzed]:
    """Give all targets, or one, so many inputs together, and return what came of it.

    XDG_CONFIG_HOME must name the folder, so that the player's own settings are neither read nor written.
    """
    assert os.environ.get("XDG_CONFIG_HOME") == str(folder)
    (folder / "racktempo").mkdir(exist_ok=True)
    chosen = [target for target in targets(folder) if only in ("", target.name)]
    whole = sum(target.share for target in chosen)
    return [
        fuzz_one(target, max(1, inputs * target.share // whole), Random(f"{seed} {target.name}")) for target in chosen
    ]


def fuzz_one(target: Target, inputs: int, dice: Random) -> Fuzzed:
    """Give one target so many inputs."""
    found, corpus = Fuzzed(target.name), list(target.corpus)
    for good in target.corpus:
        if not target.read(good) and target.name != "look":
            found.faults.append("a good input was refused")
    while found.inputs < inputs:
        data = dice.choice(target.mutators)(dice.choice(corpus), dice)
        found.inputs += 1
        began_s = time.process_time()
        try:
            taken = target.read(data)
        except Exception as error:
            place = traceback.extract_tb(error.__traceback__)[-1]
            found.faults.append(f"{type(error).__name__} at {place.filename}:{place.lineno}: {error} <- {data[:200]!r}")
            if len(found.faults) > 20:
                break
            continue
        took_s = time.process_time() - began_s
        found.slowest_ms = round(max(found.slowest_ms, took_s * 1_000), 1)
        if took_s > SLOW_S:
            found.faults.append(f"{took_s:.1f} s of processor time <- {data[:200]!r}")
        if taken:
            found.taken += 1
            # What was taken although it was changed is a new place to go on from.
            if len(corpus) < KEPT:
                corpus.append(data)
    return found

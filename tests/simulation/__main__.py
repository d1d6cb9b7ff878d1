"""Whole evenings under faults: python -m tests.simulation --seeds 0:300 --clubs 0:60 [--json].

One of them alone: --seed N [--trace], with --club an evening of several tables.
"""

import argparse
import json
import logging
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from multiprocessing import Pool

from tests.simulation.club import ClubNight
from tests.simulation.evening import Evening, Report, play

Call = tuple[int, bool, type[Evening]]
"""A seed, whether its trace is kept, and the kind of evening."""


def main() -> int:
    """Play the seeds and print what happened; exit 1 if an invariant was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.add_argument("--seeds", default="0:300", help="first:behind the last")
    parser.add_argument("--clubs", default="0:0", help="evenings of several tables: first:behind the last")
    parser.add_argument("--seed", type=int, help="one seed only")
    parser.add_argument("--club", action="store_true", help="with --seed: an evening of several tables")
    parser.add_argument("--trace", action="store_true", help="print every frame's time, way, digest and length")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes (all cores)")
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)
    evenings = [*_evenings(options.seeds, Evening), *_evenings(options.clubs, ClubNight)]
    began_s = time.monotonic()
    if options.seed is not None:
        evenings = [(options.seed, options.trace, ClubNight if options.club else Evening)]
        reports = list(_played(evenings, 1))
        print(*reports[0].trace, sep="\n", end="\n" if options.trace else "")
    else:
        reports = []
        for report in _played(evenings, options.jobs):
            reports.append(report)
            if len(reports) % 100 == 0:
                print(f"{len(reports)} of {len(evenings)} evenings", file=sys.stderr, flush=True)
    twice = [(one, report) for one, report in zip(evenings, reports, strict=True) if one[0] % 100 == 0]
    again = _played((one for one, _ in twice), 1)
    unequal = sum(report.hash != other.hash for (_, report), other in zip(twice, again, strict=True))
    broken = [report for report in reports if report.broken]
    kinds: Counter[str] = Counter()
    for report in reports:
        kinds.update(report.faults)
    summary = {
        "seeds": sum(kind is Evening for _, _, kind in evenings),
        "clubs": sum(kind is ClubNight for _, _, kind in evenings),
        "heats": sum(report.heats for report in reports),
        "events": sum(report.events for report in reports),
        "frames": sum(report.frames for report in reports),
        "virtual_hours": round(sum(report.virtual_s for report in reports) / 3600, 1),
        "faults": dict(sorted(kinds.items())),
        "played_twice": len(twice),
        "twice_unequal": unequal,
        "violations": [{"seed": report.seed, "invariant": report.broken, "detail": report.detail} for report in broken],
        "seconds": round(time.monotonic() - began_s, 1),
    }
    if options.seed is not None:
        summary["hash"] = reports[0].hash
    if options.json:
        print(json.dumps(summary))
    else:
        for key, value in summary.items():
            print(f"{key.replace('_', ' '):>16}  {value if key != 'violations' else len(broken)}")
        for report in broken[:20]:
            print(f"  seed {report.seed}: {report.detail}")
    return 1 if broken or unequal else 0


def _evenings(seeds: str, kind: type[Evening]) -> list[Call]:
    first, behind = (int(part) for part in seeds.split(":"))
    return [(seed, False, kind) for seed in range(first, behind)]


def _play(call: Call) -> Report:
    return play(*call)


def _played(evenings: Iterable[Call], jobs: int) -> Iterator[Report]:
    if jobs < 2:
        yield from map(_play, evenings)
        return
    with Pool(jobs, initializer=logging.disable, initargs=(logging.CRITICAL,)) as pool:
        yield from pool.imap(_play, evenings, chunksize=4)


if __name__ == "__main__":
    sys.exit(main())

"""Whole evenings under faults: python -m tests.simulation --seeds 0:300 [--json], or --seed N --trace."""

import argparse
import json
import logging
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from multiprocessing import Pool

from tests.simulation.evening import Report, play


def main() -> int:
    """Play the seeds and print what happened; exit 1 if an invariant was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.add_argument("--seeds", default="0:300", help="first:behind the last")
    parser.add_argument("--seed", type=int, help="one seed only")
    parser.add_argument("--trace", action="store_true", help="print every frame's time, way, digest and length")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes (all cores)")
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)
    first, behind = (int(part) for part in options.seeds.split(":"))
    began_s = time.monotonic()
    if options.seed is not None:
        reports = [play(options.seed, options.trace)]
        print(*reports[0].trace, sep="\n", end="\n" if options.trace else "")
    else:
        reports = list(_played(range(first, behind), options.jobs))
    again = [seed for seed in (report.seed for report in reports) if seed % 100 == 0]
    hashes = {report.seed: report.hash for report in reports}
    unequal = sum(report.hash != hashes[report.seed] for report in _played(again, 1))
    broken = [report for report in reports if report.broken]
    kinds: Counter[str] = Counter()
    for report in reports:
        kinds.update(report.faults)
    summary = {
        "seeds": len(reports),
        "heats": sum(report.heats for report in reports),
        "events": sum(report.events for report in reports),
        "frames": sum(report.frames for report in reports),
        "virtual_hours": round(sum(report.virtual_s for report in reports) / 3600, 1),
        "faults": dict(sorted(kinds.items())),
        "played_twice": len(again),
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


def _played(seeds: Iterable[int], jobs: int) -> Iterator[Report]:
    if jobs < 2:
        yield from map(play, seeds)
        return
    with Pool(jobs, initializer=logging.disable, initargs=(logging.CRITICAL,)) as pool:
        yield from pool.imap(play, seeds, chunksize=4)


if __name__ == "__main__":
    sys.exit(main())

"""Bad inputs by the hundred thousand: python -m tests.fuzz --inputs 300000 [--seed N] [--only TARGET] [--json]."""

import argparse
import json
import os
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path

from tests.fuzz.run import fuzz


def main() -> int:
    """Fuzz, and print what came of it; exit 1 if anything but a refusal came out."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--inputs", type=int, default=300_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="one target by its name")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    began_s = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        found = fuzz(Path(folder), options.inputs, options.seed, options.only)
    faults = [fault for one in found for fault in one.faults]
    seconds = round(time.monotonic() - began_s, 1)
    if options.json:
        print(json.dumps({"targets": [asdict(one) for one in found], "faults": len(faults), "seconds": seconds}))
    else:
        for one in found:
            print(f"{one.name:>20}  {one.inputs} inputs, {one.taken} taken, slowest {one.slowest_ms} ms")
        print(f"{sum(one.inputs for one in found)} inputs, {len(faults)} faults, {seconds} s")
        print(*faults, sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())

"""Real processes, sockets and kills: python -m tests.soak --minutes 10 [--seed N] [--json]. It stops by itself."""

import argparse
import asyncio
import json
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path

from tests.soak.run import soak


def main() -> int:
    """Soak, and print what came of it; exit 1 unless all is well."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        scene = soak(Path(folder) / "tables.sqlite3", options.minutes * 60, options.seed)
        result = asyncio.run(asyncio.wait_for(scene, options.minutes * 60 + 120))
    if options.json:
        print(json.dumps({**asdict(result), "well": result.is_well}))
    else:
        for key, value in asdict(result).items():
            print(f"{key.replace('_', ' '):>14}  {value}")
    return 0 if result.is_well else 1


if __name__ == "__main__":
    sys.exit(main())

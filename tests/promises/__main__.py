"""Every promise of the table, its tests, and changes that break it: python -m tests.promises [FILE] [--only WORDS].

The project is copied aside, and in the copy the tests of each promise are run: as it is, where they must pass, and once
for each of its mutants, where a test must fail. A mutant that survives shows a promise that nothing holds; any ends
this with exit code 1. With a FILE what was found is kept there, so that the next run goes on where this one was
stopped, and runs again only what has changed. At the end a table shows which test caught what.
"""

import argparse
import json
import sys
import tempfile
import time
from pathlib import Path

from tests.promises.of_doors import OF_DOORS
from tests.promises.of_lines import OF_LINES
from tests.promises.of_tables import OF_TABLES
from tests.promises.promise import Copy, Outcome, Promise, fingerprint

PROMISES = (*OF_TABLES, *OF_LINES, *OF_DOORS)


def run(promises: tuple[Promise, ...], kept: Path | None) -> dict[Promise, list[Outcome]]:
    """Return what came of every mutant, one line of progress each."""
    known = json.loads(kept.read_text()) if kept and kept.exists() else {}
    found: dict[Promise, list[Outcome]] = {}
    total, done = sum(len(promise.mutants) for promise in promises), 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(folder))
        for promise in promises:
            for mutant in promise.mutants:
                done, began_s, key = done + 1, time.monotonic(), fingerprint(promise, mutant)
                outcome = Outcome(*known[key]) if key in known else copy.without(promise, mutant)
                found.setdefault(promise, []).append(outcome)
                took = f"{time.monotonic() - began_s:3.0f} s" if key not in known else "known"
                print(f"{done:>3}/{total} {took:>6} {outcome.text:<9} {promise.what}: {mutant.file}", flush=True)
                if not outcome.is_caught:
                    print(f"        {mutant.cause!r} -> {mutant.instead!r}", flush=True)
                if kept and (outcome.is_caught or outcome.text == "SURVIVED"):
                    known[key] = (outcome.text, outcome.by)
                    kept.write_text(json.dumps(known, indent=0))
    return found


def table(found: dict[Promise, list[Outcome]]) -> str:
    """Return promise, mutants, those caught, and by which tests, as a table in Markdown."""
    rows = ["| promise | mutants | caught | by |", "| --- | --- | --- | --- |"]
    for promise, outcomes in found.items():
        by = ", ".join(dict.fromkeys(outcome.by for outcome in outcomes if outcome.by))
        rows.append(f"| {promise.what} | {len(outcomes)} | {sum(one.is_caught for one in outcomes)} | {by} |")
    return "\n".join(rows)


def main() -> int:
    """Run the mutants; exit 1 unless every one was caught."""
    parser = argparse.ArgumentParser(prog="python -m tests.promises", description=__doc__)
    parser.add_argument("file", nargs="?", type=Path, help="where what was found is kept")
    parser.add_argument("--only", default="", help="promises that have these words")
    options = parser.parse_args()
    found = run(tuple(promise for promise in PROMISES if options.only in promise.what), options.file)
    print(table(found))
    every = [outcome for outcomes in found.values() for outcome in outcomes]
    caught = sum(outcome.is_caught for outcome in every)
    print(f"{len(found)} promises, {len(every)} mutants, {caught} caught")
    return 0 if caught == len(every) else 1


if __name__ == "__main__":
    sys.exit(main())

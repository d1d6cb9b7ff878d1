"""A results file that grows part by part, so that a long run can be stopped at any time and gone on with.

The first line says what is measured, each further line is one part. A line that was cut off is measured again.
"""

import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

Part = dict[str, Any]


class OtherRun(Exception):
    """The file holds the results of a run with other settings."""


def read(path: Path) -> tuple[Part, list[Part]]:
    """Return a file's settings and its whole parts."""
    lines = path.read_text().splitlines()
    found = []
    for line in lines:
        try:
            found.append(json.loads(line))
        except json.JSONDecodeError:
            break
    return (found[0], found[1:]) if found else ({}, [])


def run(path: Path, settings: Part, count: int, measure: Callable[[int], Part]) -> Iterator[Part]:
    """Yield all parts of a run: those of the file first, then each new one as soon as it is in the file.

    Raises:
        OtherRun: the file belongs to another run.
    """
    settings = json.loads(json.dumps(settings))
    head, parts = read(path) if path.exists() else ({}, [])
    if head and head != settings:
        raise OtherRun(f"{path} holds another run: {head}. Name another file.")
    path.write_text("".join(json.dumps(line) + "\n" for line in (settings, *parts)))
    yield from parts[:count]
    began = perf_counter()
    for number in range(len(parts), count):
        part = measure(number)
        with path.open("a") as file:
            file.write(json.dumps(part) + "\n")
        left = (perf_counter() - began) / (number + 1 - len(parts)) * (count - number - 1)
        print(f"part {number + 1} of {count}, about {left:.0f} s left", file=sys.stderr, flush=True)
        yield part

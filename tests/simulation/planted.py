"""How a fault is planted, in memory only, and hunted: see tests.simulation.bugs."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from tests.simulation.evening import Evening, Report, play

Patches = tuple[tuple[Any, str, Any], ...]
MakePatches = Callable[[], Patches]


@dataclass(frozen=True)
class Bug:
    """A fault: what it is, the rule that it breaks, which attributes it replaces by what, and the kind of evening that
    should catch it."""

    what: str
    rule: str
    patches: MakePatches
    kind: type[Evening]


BUGS: list[Bug] = []


def bug(what: str, rule: str, kind: type[Evening] = Evening) -> Callable[[MakePatches], MakePatches]:
    """Add a fault to the list: what a function's patches do, and the rule that this breaks."""

    def add(patches: MakePatches) -> MakePatches:
        BUGS.append(Bug(what, rule, patches, kind))
        return patches

    return add


@contextmanager
def planted(fault: Bug) -> Iterator[None]:
    """Plant a bug and take it out again."""
    before: list[tuple[Any, str, Any]] = []
    for owner, name, value in fault.patches():
        before.append((owner, name, owner.__dict__[name]))
        setattr(owner, name, value)
    try:
        yield
    finally:
        for owner, name, value in reversed(before):
            setattr(owner, name, value)


def hunt(fault: Bug, most: int) -> Report | None:
    """Play at most so many seeds and return the report of the first that caught the bug by its rule, if one did."""
    with planted(fault):
        reports = (play(seed, kind=fault.kind) for seed in range(most))
        return next((report for report in reports if report.broken == fault.rule), None)

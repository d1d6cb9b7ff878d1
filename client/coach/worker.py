"""The process in which the coach thinks for a screen: a job comes in, its answers go out, then the next job.

Started by client.coach.process; what goes through the pipes is pickled by the two of them and by nobody else. It ends
when its parent does.
"""

import contextlib
import os
import pickle
from collections.abc import Callable, Iterator
from typing import Any

from shared.worker import work

Job = tuple[Callable[..., Any], tuple[Any, ...]]
"""A function of a module and what it is called with."""
Frame = tuple[str, Any]
"""("answer", a value) or ("failed", one sentence)."""


def pack(value: Job | Frame) -> bytes:
    """Return what goes through a pipe."""
    return pickle.dumps(value, pickle.HIGHEST_PROTOCOL)


def main() -> None:
    """Work until no job comes any more."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(5)  # A screen that is drawn and a table that is hosted come first.
    work(_do)


def _do(packed: bytes) -> Iterator[bytes]:
    job: Job = pickle.loads(packed)
    function, given = job
    try:
        found = function(*given)
        for answer in found if isinstance(found, Iterator) else (found,):
            yield pack(("answer", answer))
    except ValueError as error:
        yield pack(("failed", str(error)))


if __name__ == "__main__":
    main()

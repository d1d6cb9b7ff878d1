"""The process in which the coach thinks for a screen: a job comes in, its answers go out, then the next job.

Started by coach_service with pipes on both sides; what goes through them is pickled by the two of them and by nobody
else. It ends when its parent does. Never prints: standard output is the pipe.
"""

import contextlib
import os
import pickle
import sys
from collections.abc import Callable, Iterator
from typing import IO, Any

LENGTH_BYTES = 8
Job = tuple[Callable[..., Any], tuple[Any, ...]]
"""A function of a module and what it is called with."""
Frame = tuple[str, Any]
"""("answer", a value), ("failed", one sentence) or ("done", None)."""


def pack(value: object) -> bytes:
    """Return a value as a frame: its length, then its pickle."""
    data = pickle.dumps(value, pickle.HIGHEST_PROTOCOL)
    return len(data).to_bytes(LENGTH_BYTES, "big") + data


def main() -> None:
    """Work until no job comes any more."""
    jobs, answers = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    sys.stdout = sys.stderr
    with contextlib.suppress(OSError, AttributeError):
        os.nice(5)  # A screen that is drawn and a table that is hosted come first.
    with contextlib.suppress(BrokenPipeError):
        while length := jobs.read(LENGTH_BYTES):
            _work(pickle.loads(jobs.read(int.from_bytes(length, "big"))), answers)


def _work(job: Job, answers: IO[bytes]) -> None:
    function, given = job
    try:
        found = function(*given)
        for answer in found if isinstance(found, Iterator) else (found,):
            _send(("answer", answer), answers)
        _send(("done", None), answers)
    except ValueError as error:
        _send(("failed", str(error)), answers)


def _send(frame: Frame, answers: IO[bytes]) -> None:
    answers.write(pack(frame))
    answers.flush()


if __name__ == "__main__":
    main()

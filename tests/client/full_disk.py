"""A disk on which there is no room: this process may write no file longer than a few bytes."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def full_disk(room: int = 8) -> Iterator[None]:
    """Let no file grow beyond so many bytes; the system answers any attempt with an error."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

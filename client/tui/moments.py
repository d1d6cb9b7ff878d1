"""The moments that come in from outside: this machine's two clocks."""

import datetime
import time


def monotonic_ms() -> int:
    """Return the time of this machine's monotonic clock in milliseconds."""
    return time.monotonic_ns() // 1_000_000


def wall_stamp() -> str:
    """Return the wall time as RFC 3339 text."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")

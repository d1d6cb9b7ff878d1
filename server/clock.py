"""The server's one clock: whole milliseconds of the event loop's monotonic time, and what is done about stalls.

Everything here asks the running loop, so a loop in virtual time needs nothing else. No other module of the
server reads a clock.
"""

import asyncio
import datetime
import gc
import sys
from collections.abc import Callable

STALL_MS = 100
"""A timer that fires later than this was held up by the machine, not by anybody at the table."""
BEAT_MS = 50
"""How often the watch looks; a stall is noticed to within this."""


def now_ms() -> int:
    """Return the running loop's time, plus a microsecond, because timers are floating-point numbers."""
    return int(asyncio.get_running_loop().time() * 1_000 + 0.001)


def wall_time() -> str:
    """Return the date and time as RFC 3339, for people to read; never use it to time anything."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def spare_pauses() -> None:
    """Keep the garbage collector from holding up the loop; only for a process that is about to host.

    With 250 tables a full collection takes 300 ms on a small machine, in which no clock is served. What is loaded by
    now stays for good and is looked at no more, and full collections become a hundred times as rare; the values of a
    game hold no cycles, so that next to nothing waits for them. Threads wait for the interpreter half a millisecond,
    not five: while the loop is busy with a crowd, writing one command to the disk would wait for it several times.
    """
    sys.setswitchinterval(0.0005)
    gc.collect()
    gc.freeze()
    gc.set_threshold(5_000, 20, 100)


class StallWatch:
    """Calls stalled(by_ms) as soon as a beat comes more than STALL_MS late.

    A timer does this before any task of the loop can read what arrived meanwhile.
    """

    def __init__(self, stalled: Callable[[int], None], beat_ms: int = BEAT_MS) -> None:
        self._stalled = stalled
        self._beat_ms = beat_ms
        self._loop = asyncio.get_running_loop()
        self._timer = self._loop.call_later(beat_ms / 1_000, self._beat)

    def _beat(self) -> None:
        late_ms = int((self._loop.time() - self._timer.when()) * 1_000 + 0.001)
        self._timer = self._loop.call_later(self._beat_ms / 1_000, self._beat)
        if late_ms > STALL_MS:
            self._stalled(late_ms)

    def stop(self) -> None:
        """Watch no more."""
        self._timer.cancel()

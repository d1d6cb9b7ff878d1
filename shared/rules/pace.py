"""A seat's clock as a value: its budget, the time used, and since when it runs.

Must never read a clock; every moment is an argument in whole milliseconds of the heat's own time.
"""

from dataclasses import dataclass, replace

GRACE_MS = 250
"""A commit counts if its frame was read up to this long after the deadline: players do not pay for network delay."""
LAST_MS = 10_000
"""The last ten seconds: the clock is drawn in red, the bell rings for players who want one, and plain lines say so."""


@dataclass(frozen=True, slots=True)
class Clock:
    """budget_ms is the whole budget, carried_ms the part from the step before; used_ms counts up to the last stop;
    since_ms is when it was started, None while it is stopped."""

    budget_ms: int = 0
    carried_ms: int = 0
    used_ms: int = 0
    since_ms: int | None = None

    def started(self, now_ms: int) -> "Clock":
        """Return the clock running from now on."""
        return replace(self, since_ms=now_ms)

    def stopped(self, now_ms: int) -> "Clock":
        """Return the clock stopped, with the time until now charged."""
        return replace(self, used_ms=self.spent(now_ms), since_ms=None)

    def spent(self, now_ms: int) -> int:
        """Return the time charged so far: never below zero, never above the budget."""
        running = 0 if self.since_ms is None else max(0, now_ms - self.since_ms)
        return min(self.used_ms + running, self.budget_ms)

    def left(self, now_ms: int) -> int:
        """Return the time left, at least zero."""
        return self.budget_ms - self.spent(now_ms)

    def deadline_ms(self) -> int | None:
        """Return when the time is up, or None while the clock is stopped."""
        return None if self.since_ms is None else self.since_ms + self.budget_ms - self.used_ms

    def forgiven(self, by_ms: int) -> "Clock":
        """Return a running clock with by_ms given back: players do not pay for a stall of the machine."""
        return self if self.since_ms is None else replace(self, since_ms=self.since_ms + by_ms)

    def extended(self, by_ms: int) -> "Clock":
        """Return the clock with by_ms more in its budget."""
        return replace(self, budget_ms=self.budget_ms + by_ms)


def expired(clock: Clock, now_ms: int) -> bool:
    """Say whether an answer read now is too late, even with the grace."""
    deadline_ms = clock.deadline_ms()
    return deadline_ms is not None and now_ms > deadline_ms + GRACE_MS

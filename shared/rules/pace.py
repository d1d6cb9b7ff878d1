"""A seat's clock as a value: how much time it has, how much it used, since when it runs.

Nothing here reads a clock; every moment is an argument in whole milliseconds of the heat's own time.
"""

from dataclasses import dataclass, replace

GRACE_MS = 250
"""A commit counts if its frame was read up to this long after the deadline; the time of travel is nobody's fault."""


@dataclass(frozen=True, slots=True)
class Clock:
    """budget_ms in all, carried_ms of it from the step before; used_ms until the last stop; since_ms while it runs."""

    budget_ms: int = 0
    carried_ms: int = 0
    used_ms: int = 0
    since_ms: int | None = None

    def started(self, now_ms: int) -> "Clock":
        """Return the clock running from now on."""
        return replace(self, since_ms=now_ms)

    def stopped(self, now_ms: int) -> "Clock":
        """Return the clock standing still, the time until now used up."""
        return replace(self, used_ms=self.spent(now_ms), since_ms=None)

    def spent(self, now_ms: int) -> int:
        """Return the time charged so far: never below zero, never above the budget."""
        running = 0 if self.since_ms is None else max(0, now_ms - self.since_ms)
        return min(self.used_ms + running, self.budget_ms)

    def left(self, now_ms: int) -> int:
        """Return the time left, at least zero."""
        return self.budget_ms - self.spent(now_ms)

    def deadline_ms(self) -> int | None:
        """Return the moment at which the time is up, or None while the clock stands still."""
        return None if self.since_ms is None else self.since_ms + self.budget_ms - self.used_ms

    def forgiven(self, by_ms: int) -> "Clock":
        """Return the clock as if so much less had passed: a stall of the machine is nobody's time."""
        return self if self.since_ms is None else replace(self, since_ms=self.since_ms + by_ms)

    def extended(self, by_ms: int) -> "Clock":
        """Return the clock with so much more to spend."""
        return replace(self, budget_ms=self.budget_ms + by_ms)


def expired(clock: Clock, now_ms: int) -> bool:
    """Say whether an answer read now would be too late, the grace included."""
    deadline_ms = clock.deadline_ms()
    return deadline_ms is not None and now_ms > deadline_ms + GRACE_MS

"""What the clock of a step shows, and what is said when the host gives more time. Pure."""

from dataclasses import dataclass

from shared.rules.pace import LAST_MS
from shared.wire.views import HeatView


@dataclass(frozen=True, slots=True)
class StepClock:
    """What the step clock shows. left_ms is what is left now; share is the part of the budget left, 0 to 1."""

    left_ms: int
    budget_ms: int
    carried_ms: int
    running: bool

    @property
    def share(self) -> float:
        """The part of the time that is left, 0 to 1."""
        return self.left_ms / self.budget_ms if self.budget_ms else 0.0

    @property
    def last_ten(self) -> bool:
        """Whether the clock runs and shows ten seconds or less."""
        return self.running and self.left_ms <= LAST_MS


def time_given(before: HeatView, now: HeatView) -> str:
    """Return what the host has given to a step that both views show, without a full stop; nothing if no time."""
    given_ms = now.clock.budget_ms - before.clock.budget_ms
    return f"The host gives {given_ms // 1_000} s more" if now.step == before.step and given_ms > 0 else ""

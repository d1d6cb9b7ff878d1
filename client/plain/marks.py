"""When plain lines speak of a running step's time: at half of it, and at ten seconds. Pure."""

from client.models.guided import ASK_AT_MS
from shared.rules.pace import LAST_MS
from shared.rules.steps import StepName
from shared.times import write_seconds
from shared.wire.views import HeatView

_APART_MS = 2_000
"""A time is announced only if it is at least this far from the one before."""
Mark = tuple[int, tuple[int, StepName, str], str]
"""When, in milliseconds of this machine's clock; what makes it one of its kind; what is said, empty where more time is
asked for instead."""


def marks_of(heat: HeatView, received_ms: int, is_guided: bool) -> list[Mark]:
    """Return the marks of the running step, from a view that came at received_ms; none if nothing is asked."""
    if heat.step is None or not heat.owes or not heat.clock.running:
        return []
    end_ms = received_ms + heat.clock.left_ms
    if is_guided:
        return [(end_ms - ASK_AT_MS, (heat.number, heat.step, f"more {received_ms}"), "")]
    half_ms = heat.clock.budget_ms // 2
    times = []
    if half_ms > LAST_MS + _APART_MS:
        times.append((half_ms, "half", f"Half the time is left, {write_seconds(half_ms)}."))
    if heat.clock.budget_ms > LAST_MS + _APART_MS:
        times.append((LAST_MS, "ten", "10 s left."))
    return [
        (end_ms - time_ms, (heat.number, heat.step, word), text)
        for time_ms, word, text in times
        if time_ms <= heat.clock.left_ms
    ]

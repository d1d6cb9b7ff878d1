"""Invented heats of one seat for tests of the history, to which no rules were applied; and one that bots played."""

from collections.abc import Iterable, Mapping
from functools import cache

from client.hosting.table import play_bots
from client.storage.history_db import HistoryEntry, Source, StepLoss
from shared.rules.events import By
from shared.rules.heat import SavedHeat
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.settings import Settings
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.typed_tiles import typed
from shared.versions import COACH

DEALT = typed("1b 2b 3b 4c 5c 6c 7d 8d 9d N E F J")
SEVEN = (*PASSES, "courtesy give")


def step(
    name: StepName = "first right",
    seconds: float = 10.0,
    by: By = "person",
    length_s: float = 20.0,
    budget_s: float | None = None,
) -> SeatStep:
    return SeatStep(
        step=name,
        length_ms=round(length_s * 1000),
        budget_ms=round((length_s if budget_s is None else budget_s) * 1000),
        spent_ms=round(seconds * 1000),
        by=by,
        given=DEALT[:3] if STEPS[name].ask in ("pass", "give") else (),
        came=DEALT[3:6] if STEPS[name].ask in ("pass", "give") else (),
    )


def heat(
    number: int = 1,
    steps: Iterable[SeatStep] = (),
    table: str = "Boathouse",
    settings: Settings | None = None,
    played_at: str | None = None,
    commitment: str | None = None,
) -> SeatHeat:
    """Return a heat; each number was played five minutes after the one before."""
    hours, minutes = divmod(5 * number, 60)
    return SeatHeat(
        commitment=commitment or f"{number:064x}",
        table=table,
        number=number,
        played_at=played_at or f"2031-03-{1 + hours // 24:02}T{hours % 24:02}:{minutes:02}:00Z",
        settings=settings or Settings(),
        seat=number % 4,
        names=("Ann", "Wren", "Heron", "Teal"),
        sitters=("person", "bot", "bot", "bot"),
        card="",
        dealt=DEALT,
        steps=tuple(steps) or (step(),),
        final=DEALT,
    )


def entry(
    kept: SeatHeat, losses: Mapping[StepName, float] | Iterable[StepLoss] = (), source: Source = "table", first: int = 1
) -> HistoryEntry:
    """Return a kept heat whose review gave each step the loss named for it, in points."""
    if isinstance(losses, Mapping):
        losses = [StepLoss(step=name, points=points, error=0.1, luck=0.0) for name, points in losses.items()]
    by_step = {loss.step: loss for loss in losses}
    return HistoryEntry(kept.number, kept, source, "", first, COACH if by_step else "", by_step)


@cache
def bots_heat() -> SavedHeat:
    """Return a whole heat of four bots."""
    return play_bots(Settings(seed=7, heats=1))[0]

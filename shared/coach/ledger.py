"""The ledger of a heat: what each decision lost, what luck brought, and that the two add up.

Must never judge by what the seat could not know: each decision is ranked from its own position. A decision that was
forced, made by the clock or by a bot is entered and marked, and its loss is counted apart from a person's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared.coach.engine import RankedPass
from shared.coach.playout import Estimate
from shared.rules.steps import StepName

if TYPE_CHECKING:
    # Events are checked records, which take long to load; reading a rack needs none of them.
    from shared.rules.events import By


@dataclass(frozen=True)
class Judged:
    """One decision with the best and the chosen way, and the standard error of the gap between them."""

    step: StepName
    by: "By"
    forced: bool
    best: RankedPass
    chosen: RankedPass
    se: float


@dataclass(frozen=True)
class LedgerEntry:
    """One line of the ledger, in points.

    Attributes:
        step: the step of the Charleston.
        by: who chose.
        forced: whether there was nothing to choose.
        best: the pass that ranked first, and what it was worth.
        chosen: the pass that was made, and what it was worth.
        loss: best less chosen, never negative.
        se: standard error of the loss.
        luck: what the tiles that came changed.
    """

    step: StepName
    by: "By"
    forced: bool
    best: RankedPass
    chosen: RankedPass
    loss: float
    se: float
    luck: float

    @property
    def too_close(self) -> bool:
        """Whether the loss is below two of its standard errors: too close to call."""
        return self.loss < 2 * self.se

    @property
    def own(self) -> bool:
        """Whether the loss is a person's own, made with a choice."""
        return self.by == "person" and not self.forced


@dataclass(frozen=True)
class Ledger:
    """A heat of one seat: start + all luck - all loss = final, exactly.

    Attributes:
        start: what the dealt rack was worth with the best pass, in points.
        entries: one for each pass, in order.
        final: the chance of the best target when the passing is over, in points.
    """

    start: float
    entries: tuple[LedgerEntry, ...]
    final: float

    @property
    def luck(self) -> float:
        """All luck of the heat."""
        return sum(entry.luck for entry in self.entries)

    @property
    def loss(self) -> float:
        """All losses of the heat, whoever chose."""
        return sum(entry.loss for entry in self.entries)

    @property
    def own_loss(self) -> Estimate | None:
        """The mean loss of a person's own decision with its standard error; None when there was none."""
        own = [entry for entry in self.entries if entry.own]
        if not own:
            return None
        error = sum(entry.se**2 for entry in own) ** 0.5
        return Estimate(sum(entry.loss for entry in own) / len(own), error / len(own))


def balance(judged: Sequence[Judged], end: float) -> Ledger:
    """Return the ledger of decisions in order; end is what the rack was worth when the passing was over, in points."""
    after = [*(later.best.points for later in judged), end][1:]
    entries = tuple(
        LedgerEntry(
            made.step,
            made.by,
            made.forced,
            made.best,
            made.chosen,
            made.best.points - made.chosen.points,
            made.se,
            reached - made.chosen.points,
        )
        for made, reached in zip(judged, after, strict=True)
    )
    return Ledger(entries[0].best.points if entries else end, entries, end)

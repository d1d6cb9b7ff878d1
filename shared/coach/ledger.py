"""The ledger of a heat: what each decision lost and what luck brought; the two add up exactly.

Must never use what the seat could not know: each decision is ranked from its own position. Decisions that were forced,
timed out or made by a bot are entered and marked; their loss does not count as the person's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared.coach.estimate import Estimate
from shared.coach.ranking import RankedPass
from shared.rules.steps import StepName

if TYPE_CHECKING:
    # Importing the pydantic records takes long, and reading a rack does not need them.
    from shared.rules.seat_heat import AnsweredBy


@dataclass(frozen=True)
class Judged:
    """One decision: the best and the chosen pass, and the standard error of the gap between them."""

    step: StepName
    by: "AnsweredBy"
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
        forced: whether there was only one legal pass.
        best: the best pass and its worth.
        chosen: the pass made and its worth.
        loss: best minus chosen with gifts counted, never negative.
        se: standard error of the loss.
        luck: what the incoming tiles changed.
        given: what counts of the chosen pass's gift, less the same of the best pass's: points that stay on the seat's
            own rack but go on somebody else's too.
    """

    step: StepName
    by: "AnsweredBy"
    forced: bool
    best: RankedPass
    chosen: RankedPass
    loss: float
    se: float
    luck: float
    given: float = 0.0

    @property
    def too_close(self) -> bool:
        """Whether the loss is too close to call."""
        return Estimate(self.loss, self.se).too_close

    @property
    def own(self) -> bool:
        """Whether a person made this decision and had a choice."""
        return self.by == "person" and not self.forced


@dataclass(frozen=True)
class Ledger:
    """A heat of one seat: start + all luck + all that was given - all loss = final, exactly.

    Attributes:
        start: the worth of the dealt rack with the best pass, in points.
        entries: one for each pass, in order.
        final: the worth of the rack after the last pass, in points.
    """

    start: float
    entries: tuple[LedgerEntry, ...]
    final: float

    @property
    def luck(self) -> float:
        """The luck of the heat in all."""
        return sum(entry.luck for entry in self.entries)

    @property
    def loss(self) -> float:
        """The losses of the heat in all, whoever chose."""
        return sum(entry.loss for entry in self.entries)

    @property
    def given(self) -> float:
        """What the heat's gifts came to in all."""
        return sum(entry.given for entry in self.entries)

    @property
    def own_loss(self) -> Estimate | None:
        """The mean loss of a person's own decisions with its standard error; None if there were none."""
        own = [entry for entry in self.entries if entry.own]
        if not own:
            return None
        error = sum(entry.se**2 for entry in own) ** 0.5
        return Estimate(sum(entry.loss for entry in own) / len(own), error / len(own))


def balance(judged: Sequence[Judged], end: float) -> Ledger:
    """Return the ledger of decisions in order; end is the rack's worth after the last pass, in points."""
    after = [*(later.best.points for later in judged), end][1:]
    entries = tuple(
        LedgerEntry(
            made.step,
            made.by,
            made.forced,
            made.best,
            made.chosen,
            made.best.net - made.chosen.net,
            made.se,
            reached - made.chosen.points,
            made.chosen.given - made.best.given,
        )
        for made, reached in zip(judged, after, strict=True)
    )
    return Ledger(entries[0].best.points if entries else end, entries, end)

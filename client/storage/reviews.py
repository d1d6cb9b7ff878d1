"""Heats to be looked at again: where they come from, and what a review leaves in the history.

Reads files and the history; computes nothing itself.
"""

from dataclasses import asdict
from pathlib import Path

from client.storage.history_db import History, HistoryEntry, StepLoss
from client.storage.verify import read_any_heat
from shared.coach.heats import NoReview
from shared.coach.review import Review, Verdict
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import SEATS, Seat, chair_of
from shared.rules.steps import StepName
from shared.versions import COACH


def heat_in_file(path: Path, seat: Seat | None) -> SeatHeat:
    """Return a seat's heat from a file: of a whole heat the named seat, else the first person's, else East's.

    Raises:
        NoReview: the file cannot be read, or holds another seat's heat only.
    """
    heat = read_any_heat(path)
    if isinstance(heat, str):
        raise NoReview(heat)
    if isinstance(heat, SavedHeat):
        people = [each for each in SEATS if heat.sitters[chair_of(each, heat.east)] == "person"]
        try:
            return seat_heat(heat, final_state(heat), seat if seat is not None else [*people, Seat.EAST][0])
        except Exception as error:
            # The rules never make such events: the file was written by other hands. verify tells more.
            raise NoReview(f"{path} holds a heat that cannot have been played; see racktempo verify.") from error
    if seat is not None and heat.seat != seat:
        raise NoReview(f"{path} holds the heat of {Seat(heat.seat).word} only.")
    return heat


def last_heat(history: History) -> HistoryEntry:
    """Return the latest heat of the history whose tiles are known.

    Raises:
        NoReview: there is none.
    """
    known = [entry for entry in history.read().entries if entry.heat.dealt]
    if not known:
        raise NoReview("There is no heat with tiles in your history yet.")
    return known[-1]


def losses_of(review: Review) -> tuple[StepLoss, ...]:
    """Return what a history keeps of a whole review: one entry for every step with something at stake."""
    return tuple(_loss(step.lived.step.step, step.verdict) for step in review.steps if step.verdict)


def _loss(step: StepName, verdict: Verdict) -> StepLoss:
    loss = StepLoss(
        step=step,
        points=verdict.loss,
        error=verdict.judged.se,
        luck=verdict.luck or 0.0,
        kinds=verdict.kinds,
        forced=not verdict.is_own,
    )
    return loss.model_copy(update=asdict(verdict.evidence)) if verdict.evidence else loss


def keep_losses(history: History, heat: SeatHeat, review: Review) -> None:
    """Keep a whole review of a heat in the history, with the heat itself if it is not there yet.

    Raises:
        HistoryFault: nothing changed.
    """
    history.set_losses(history.add(heat).id, COACH, losses_of(review))

"""Which of one's own decisions to drill: the costliest ones, laid as they stood; and how a drill went.

Pure but for the whole heats and the texts of their cards, which it asks for.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from client.storage.card_files import text_for
from client.storage.drilled import Memory
from client.storage.history_db import HistoryEntry, Read
from shared.cards.owned import copy_wanted
from shared.rules.drills import Laid, replay_from
from shared.rules.heat import SavedHeat
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.steps import StepName

if TYPE_CHECKING:
    from shared.coach.review import Review, Verdict

MOST = 5
"""How many decisions make one drill."""
NONE_YET = "No measurable mistakes yet."
NOT_KEPT = "Your costliest decisions were in heats whose other racks are not kept."


@dataclass(frozen=True, slots=True)
class Costly:
    """A decision that cost points: of which heat, at which step, and when it comes back if it was drilled."""

    heat: SeatHeat
    step: StepName
    points: float
    memory: Memory | None = None


def costliest(entries: Iterable[HistoryEntry]) -> tuple[Costly, ...]:
    """Return the player's own passes whose loss is larger than chance explains; the worst first."""
    found = [
        Costly(entry.heat, step.step, loss.points, entry.memories.get(step.step))
        for entry in map(HistoryEntry.by_this_coach, entries)
        if entry.source == "table" and entry.heat.dealt
        for step in entry.heat.steps
        if (loss := entry.losses.get(step.step)) and step.is_pass and step.by == "person" and not loss.forced
        if loss.points >= 2 * loss.error and loss.points > 0
    ]
    return tuple(sorted(found, key=lambda costly: -costly.points))


def comes_now(found: Iterable[Costly], now: datetime) -> tuple[Costly, ...]:
    """Return the decisions that are due, the longest waiting first, then those never drilled, the costliest first."""
    every = list(found)
    known = [(costly.memory.due_s, at) for at, costly in enumerate(every) if costly.memory]
    due = [every[at] for due_s, at in sorted(known) if due_s <= now.timestamp()]
    fresh = sorted((costly for costly in every if costly.memory is None), key=lambda costly: -costly.points)
    return (*due, *fresh)


def comes_next(found: Iterable[Costly]) -> datetime | None:
    """Return when the next decision comes back."""
    return min((costly.memory.due for costly in found if costly.memory), default=None)


def lay_costliest(
    read: Read, whole: Callable[[SeatHeat], SavedHeat | None], text_of: Callable[[SeatHeat], str] = text_for
) -> tuple[tuple[Laid, ...], str] | str:
    """Return the costliest decisions laid to be made again, with the text of their card, or why there are none.

    All are by the card of the worst one: one table has one card. text_of finds a card that a heat does not hold.
    """
    costly, laid, card = costliest(read.entries), list[Laid](), ""
    of_card: tuple[str, str] | None = None
    missing = ""
    for each in costly:
        this = (each.heat.card, each.heat.card_digest)
        kept = whole(each.heat) if of_card in (None, this) else None
        found = replay_from(kept, Seat(each.heat.seat), each.step) if kept else ""
        if isinstance(found, Laid) and of_card is None:
            card = text_of(each.heat)
            missing = missing or ("" if card else copy_wanted(each.heat.card_title))
            of_card = this if card else None
        if isinstance(found, Laid) and card:
            laid.append(replace(found, lost=each.points))
        if len(laid) == MOST:
            break
    if not laid:
        return missing or (NOT_KEPT if costly else " ".join(read.faults) or NONE_YET)
    return tuple(laid), card


def how_it_went(laid: Laid, review: "Review") -> str:
    """Return in one sentence what the drilled answer cost, or the passes of a whole deal; "" before that is known."""
    judged = {step.lived.step.step: step.verdict for step in review.steps if step.verdict}
    if laid.step is None:
        return _passes({step: verdict for step, verdict in judged.items() if verdict.is_own}) if review.ledger else ""
    if laid.step not in judged:
        return ""
    before = "" if laid.lost is None else f"; {laid.lost:.1f} less before"
    return f"{laid.step.capitalize()} again: {_cost(judged[laid.step])}{before}."


def _cost(verdict: "Verdict") -> str:
    if verdict.judged.by != "person":
        return f"{'a bot' if verdict.judged.by == 'bot' else 'the clock'} answered for you"
    if not verdict.own.place:
        return "the best answer"
    return f"{verdict.loss:.1f} less than the best{', too close' if verdict.too_close else ''}"


def _passes(judged: Mapping[StepName, "Verdict"]) -> str:
    lost = {step: verdict.loss for step, verdict in judged.items()}
    if not lost:
        return "No pass was your own."
    most = max(lost, key=lambda step: lost[step])
    where = f", {lost[most]:.1f} of them at {most}" if lost[most] else ""
    return f"Your decisions lost {sum(lost.values()):.1f} points{where}."

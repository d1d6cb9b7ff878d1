"""The heats of a set with real tiles, one below the other, each with what the coach found in the typed tiles."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from client.models.heat_end import heat_end
from client.models.real_racks import ClockedHeat, TypedHeat
from client.text import wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.hand import draw_against
from shared.cards import Card
from shared.cards.tell import nearest_of
from shared.rules.seat_heat import SeatHeat
from shared.rules.tiles import Rack, by_suit

if TYPE_CHECKING:
    from client.coach.queue import Looking
    from shared.coach.asking import Answer

_LEAST = 6
"""Rows that a heat takes at least."""
NOT_TYPED = "No tiles of this heat are typed; t takes them."
_CUT = " ..."


@dataclass(slots=True)
class SeenHeat:
    """A heat that is over, its tiles as far as they are typed, and what the coach says: its review, or its answer about
    the one rack that is known, or a sentence why there is neither."""

    heat: ClockedHeat
    read: TypedHeat
    own: SeatHeat
    looking: "Looking | None" = None
    answer: "Answer | None" = None
    trouble: str = ""

    @property
    def rack(self) -> Rack:
        """The last rack that is known."""
        return self.read.final or self.read.left


def draw_set(canvas: Canvas, seen: Sequence[SeenHeat], at: int, card: Card) -> None:
    """Draw as many heats as there is room for, the chosen one among them."""
    fit = max(1, min(len(seen), canvas.height // _LEAST))
    first = at // fit * fit
    rows = canvas.height // fit
    for place, one in enumerate(seen[first : first + fit]):
        _draw_heat(canvas, place * rows, rows - 1, one, first + place, at, card)


def _draw_heat(canvas: Canvas, y: int, rows: int, seen: SeenHeat, number: int, at: int, card: Card) -> None:
    left = 3 if canvas.width < 100 else 8
    width = canvas.width - 2 * left + 2
    sign = (">" if canvas.look.ascii else "▸") if number == at else " "
    canvas.put(left - 2, y, sign, "mark", bold=True)
    review = seen.looking.review if seen.looking else None
    told = heat_end(seen.own, review, missing=seen.looking.said if seen.looking else "", numbers=canvas.look.numbers)
    seat = f"   {told.seat}" if seen.own.dealt else ""
    end = canvas.put(left, y, f"heat {seen.heat.number}{seat}", bold=True, key=f"heat {number}")
    if end + 2 + len(told.time) + left > canvas.width:  # where there is no room beside it, it stands below
        y, rows = y + 1, rows - 1
    canvas.end(y, told.time, "mark", margin=left - 1, bold=True)
    hand = nearest_of(card, by_suit(seen.rack)) if seen.rack else None
    said: list[tuple[str, Role]] = [
        (line, "text") for text in _said(seen, told.points) for line in wrapped(text, width)
    ]
    if seen.looking and told.costly:
        said.append((f"What cost most: {told.costly.heading}", "warn"))
        said += [(f"  {line}", "text") for line in wrapped(told.costly.why, width - 2)]
    elif seen.looking and told.said:
        said.append((told.said, "quiet"))
    room = max(1, rows - 1 - (2 if hand else 0))
    if len(said) > room:
        last, role = said[room - 1]
        said = [*said[: room - 1], (wrapped(last, width - len(_CUT), "  ")[0] + _CUT, role)]
    for line, role in said:
        y += 1
        canvas.put(left, y, line, role)
    if hand:
        told_hand, drawn = hand
        x = canvas.put(left, y + 1, "nearest ", "quiet")
        canvas.put(x, y + 1, canvas.fitted(told_hand.name, width - 8).rstrip(), bold=True)
        draw_against(canvas, left + 2, y + 2, drawn, width - 2)


def _said(seen: SeenHeat, points: str) -> list[str]:
    if seen.read.faults:
        line, fault = next(iter(seen.read.faults.items()))
        return [f"{line.capitalize()}: {fault}"]
    if seen.looking:
        return [points] if points else []
    if seen.answer:
        which = "Dealt" if seen.read.dealt else "In the end"
        return [f"{which}: {seen.answer.headline} {' '.join(seen.answer.said[:1])}"]
    return [seen.trouble or ("The coach is looking ..." if seen.rack else NOT_TYPED)]

"""The other seats as they stand to this one: who sits where, what they do, and which way tiles travel. Pure."""

from dataclasses import dataclass
from typing import Literal

from client.models.table import TableModel, shown_name
from shared.rules.seats import Direction, Seat
from shared.rules.steps import Step
from shared.wire.views import ChairView, SeatView

Relation = Literal["left", "across", "right"]
RELATIONS: dict[Relation, Direction] = {
    "left": Direction.LEFT,
    "across": Direction.ACROSS,
    "right": Direction.RIGHT,
}


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another seat as it stands to this one. status is one or two words; the marks say which way tiles travel."""

    relation: Relation
    name: str
    wind: str
    status: str
    away: bool
    gives_to_me: bool
    gets_from_me: bool


def neighbours(table: TableModel) -> tuple[Neighbour, ...]:
    """Return the other seats: the one on the left, across, and on the right."""
    view, heat = table.view, table.heat
    if view is None or heat is None:
        return ()
    me, step = Seat(heat.seat), table.step
    is_moving = step is not None and step.ask != "offer" and (step.ask != "give" or heat.give > 0)
    direction = heat.direction(step.name) if step and is_moving else None
    came_from = direction if step and step.ask == "give" else None
    found = []
    for relation, where in RELATIONS.items():
        seat = me.to(where)
        chair = view.chairs[heat.seats[seat].chair]
        found.append(
            Neighbour(
                relation,
                shown_name(chair),
                seat.word,
                _status(heat.seats[seat], chair, step),
                chair.sitter == "person" and not chair.connected,
                direction is not None and (me.to(came_from) if came_from else me.feeder(direction)) == seat,
                direction is not None and me.to(direction) == seat,
            )
        )
    return tuple(found)


def _status(seat: SeatView, chair: ChairView, step: Step | None) -> str:
    away = chair.sitter == "person" and not chair.connected
    word = "answered" if seat.answered else "away" if away else "deciding" if seat.owes else "waits"
    if step and step.name == "courtesy offer" and seat.vote is False:
        return f"{word}, stopped"
    offers = {"courtesy give": seat.offer, "side give": seat.side_offer}
    offer = offers.get(step.name) if step else None
    if offer is not None:
        return f"{word}, offered {offer}{f' {seat.side}' if step and step.name == 'side give' and seat.side else ''}"
    return word

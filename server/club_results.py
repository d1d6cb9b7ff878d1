"""What the heats of a club's tables come to: one result a seat, and what the same rack did at the other tables."""

from collections.abc import Mapping

from server.chairs import TableRecord
from server.club_table import ClubTable
from shared.club_views import Elsewhere, Gave
from shared.heat import SavedHeat, chair_of, final_state
from shared.seat_heat import SeatHeat, seat_heat
from shared.seats import SEATS
from shared.standings import Played, from_seat_heat


def deal_of(heat: SavedHeat, table: TableRecord) -> str:
    """Return what heats with the same wall have in common, and nothing from which the wall could be had."""
    return heat.commitment if not any(heat.contributions) else f"{heat.commitment} {table.id}"


def played_of(heat: SavedHeat, number: int, table: TableRecord) -> tuple[Played, ...]:
    """Return the result of each seat, kept under the person who was dealt the rack, wherever they sit now.

    A table may be renamed; its number keeps its results apart from those of another that takes the name.
    """
    people = next((sat.people for sat in table.sat if sat.heat == heat.number), ("", "", "", ""))
    state, deal = final_state(heat), deal_of(heat, table)
    name = heat.table if heat.table == f"Table {number}" else f"{number} {heat.table}"
    played = [
        from_seat_heat(seat_heat(heat, state, seat), people[chair_of(seat, heat.east)], deal, heat.number)
        for seat in SEATS
    ]
    return tuple(one.model_copy(update={"table": name}) for one in played)


def elsewhere(number: int, heat: SavedHeat, tables: Mapping[int, ClubTable]) -> tuple[tuple[Elsewhere, ...], ...]:
    """Return for each seat of a table's heat what the same rack did at the other tables."""
    own = deal_of(heat, tables[number].record)
    others = [
        (table.record.name, other)
        for at, table in tables.items()
        for kept in table.finished
        if at != number and kept.number == heat.number and deal_of(other := kept.heat(), table.record) == own
    ]
    states = [(name, other, final_state(other)) for name, other in others]
    return tuple(tuple(_told(name, seat_heat(other, state, seat)) for name, other, state in states) for seat in SEATS)


def _told(table: str, heat: SeatHeat) -> Elsewhere:
    return Elsewhere(
        table=table,
        name=heat.names[heat.seat],
        total_ms=sum(step.spent_ms for step in heat.steps if step.step != "plan"),
        gave=tuple(
            Gave(step=step.step, given=step.given, blind=step.blind, spent_ms=step.spent_ms)
            for step in heat.steps
            if step.given or step.blind
        ),
    )

"""What is known of heats that are over, and of the club: who played them, and which pages there are. Pure."""

from dataclasses import dataclass

from client.models.heat_end import minutes
from client.models.table import TableModel
from client.text import some
from shared.names import EVENING_CELLS, clean_name
from shared.wire.club_views import ClubPart, ClubView
from shared.wire.views import HeatResult, SeatResult, View


def who_played(table: TableModel, seat: SeatResult) -> str:
    """Return who played a seat of a heat that has ended: you, and others by name."""
    own = table.view.person if table.view else 0
    names = ("you" if player.person == own > 0 else clean_name(player.name) or "bot" for player in seat.players)
    return " + ".join(names)


def has_played(table: TableModel, result: HeatResult) -> bool:
    """Say whether this player has played in a heat, be it in part."""
    own = table.view.person if table.view else 0
    return any(player.person == own > 0 for seat in result.seats for player in seat.players)


def columns(table: TableModel) -> tuple[tuple[str, list[SeatResult]], ...]:
    """Return the heats of the set by who played them: the four with the most heats, from one's own on."""
    you = table.view.you if table.view else 0
    found: dict[tuple[tuple[int, str], ...], list[SeatResult]] = {}
    for result in table.view.results if table.view else ():
        for seat in sorted(result.seats, key=lambda seat: (seat.chair - you) % 4):
            found.setdefault(tuple((one.person, one.name) for one in seat.players), []).append(seat)
    most = sorted(found.values(), key=len, reverse=True)[:4]
    return tuple((who_played(table, seats[0]), seats) for seats in found.values() if seats in most)


@dataclass(frozen=True, slots=True)
class Standing:
    """A person's heats of a set together; place is by time among those who played the most heats, None below them.

    A heat that a bot played in part counts for nobody.
    """

    name: str
    heats: int
    total_ms: int
    place: int | None


def standing(view: View) -> tuple[Standing, ...]:
    """Return how the people of a set stand, whatever chairs they had: the quickest first."""
    totals: dict[int, list[int]] = {}
    names: dict[int, str] = {}
    for seat in (seat for result in view.results for seat in result.seats):
        player, *others = seat.players or (None,)
        if player and player.person and not others:
            names[player.person] = "you" if player.person == view.person else clean_name(player.name)
            totals.setdefault(player.person, []).append(seat.total_ms)
    most = max(map(len, totals.values()), default=0)
    ranked = sorted(sum(times) for times in totals.values() if len(times) == most)
    found = [
        Standing(names[person], len(times), sum(times), ranked.index(sum(times)) + 1 if len(times) == most else None)
        for person, times in totals.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.heats, one.total_ms)))


def standing_words(view: View) -> str:
    """Return the standing in one sentence; nothing where a person played alone."""
    found = standing(view)
    if len(found) < 2:
        return ""
    parts = []
    for one in found:
        few = "" if one.place else f" ({some(one.heats, 'heat')})"
        parts.append(f"{one.place or ''} {one.name} {minutes(one.total_ms)}{few}".strip())
    return f"Time in all: {', '.join(parts)}."


def club_of(table: TableModel) -> ClubPart | None:
    """Return what the club tells, if the table belongs to one."""
    return table.view.club if table.view else None


def coach_words(told: ClubPart | ClubView | None) -> str:
    """Return how far the coach is with an evening's heats, or nothing once it is through."""
    if told is None or told.looked == told.to_look_at:
        return ""
    return f"the coach looks at {told.looked + 1} of {told.to_look_at}"


def club_pages(table: TableModel) -> tuple[str, ...]:
    """Return the headings of the club's pages that have something on them now."""
    club = club_of(table)
    found = []
    if club and club.elsewhere:
        found.append("The same rack at other tables")
    if club and (club.speed or club.loss or club.points):
        found.append("The evening's result" if club.over else "The evening so far")
    return tuple(found)


def place_words(table: TableModel) -> str:
    """Return at which table and chair of an evening a player is, or nothing where there is no evening."""
    return place_of(table.view) if table.view else ""


def place_of(view: View) -> str:
    """Return at which table and chair of an evening a view is, or nothing where there is no evening."""
    club = view.club
    if club is None:
        return ""
    name, number = clean_name(view.table, "table"), f"Table {club.number}"
    return f"{name if name == number else f'{name} (table {club.number})'}, chair {view.you + 1}"


def evening_words(table: TableModel) -> str:
    """Return which evening this is, at which table and on which chair, or nothing."""
    club = club_of(table)
    return f"{clean_name(club.evening, 'evening', EVENING_CELLS)}   {place_words(table)}" if club else ""

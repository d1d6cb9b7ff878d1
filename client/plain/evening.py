"""An evening in plain lines, as a player at a table hears of it, or who waits for a chair. Pure."""

from client.models.played import coach_words, place_of
from client.plain.beside import watch_lines
from shared.measures.standings import MEASURES
from shared.names import EVENING_CELLS, clean_name
from shared.times import write_seconds
from shared.wire.club_views import ClubPart, ClubView, Place, Ranking
from shared.wire.views import View

_BEST = 3
TEACHER_SCREEN = "A teacher sees racks on the full screen: racktempo join without --plain."


def where_line(view: View) -> list[str]:
    """Return which evening this is, at which table and on which chair, if it is one."""
    club = view.club
    return [f"You are at {clean_name(club.evening, 'an evening', EVENING_CELLS)}, {place_of(view)}."] if club else []


def evening_changes(old: View | None, new: View) -> list[str]:
    """Return what has happened beside one's own table between two views."""
    club, before = new.club, old.club if old else None
    if club is None:
        return []
    lines = where_line(new) if old is None or before is None else []
    if club.over and not (before and before.over):
        return [*lines, "The evening is over. Thank you for playing.", *_so_far(club, most=10)]
    if club.starts_in_ms is not None and (before is None or before.starts_in_ms is None):
        lines.append(f"All tables start in {write_seconds(club.starts_in_ms)}.")
    if club.goes_on_in_ms is not None and (before is None or before.goes_on_in_ms is None):
        who = "somebody is" if new.chairs[new.you].ready else "you are"
        lines.append(f"The heat begins in {write_seconds(club.goes_on_in_ms)}, even if {who} not ready.")
    if club.teacher and not (before and before.teacher):
        lines.append("A teacher may watch: write teacher yes to let them see your rack, teacher no to hide it again.")
    if club.watching != bool(before and before.watching):
        lines.append("teacher: watching. They see your rack; teacher no hides it." if club.watching else _gone(new))
    if (club.speed or club.loss or club.points) and not (before and before.speed):
        lines += _so_far(club)
    return lines


def _so_far(club: ClubPart, most: int = _BEST) -> list[str]:
    looking = coach_words(club)
    return [*standings_lines(club, most), *([f"{looking[0].upper()}{looking[1:]}."] if looking else [])]


def _gone(view: View) -> str:
    return "The teacher has gone." if view.chairs[view.you].shows else "The teacher sees your rack no longer."


def waiting_lines(old: ClubView | None, new: ClubView) -> list[str]:
    """Return what somebody without a chair hears."""
    if new.one_table:
        return watch_lines(old, new)
    name = clean_name(new.name, "the evening", EVENING_CELLS)
    if new.over:
        return [] if old and old.over else [f"{name} is over."]
    if old is None and new.role == "waiting":
        return [f"You wait for a chair at {name}; the desk will seat you, and you will read here where."]
    return []


def standings_lines(told: ClubPart | Ranking, most: int = _BEST) -> list[str]:
    """Return the best of each standing, and one's own place if it is further down."""
    lines = []
    for measure in MEASURES:
        places: tuple[Place, ...] = getattr(told, measure.key)
        ranked = [place for place in places if place.place]
        shown = ranked[:most]
        shown += [place for place in places if place.you and place not in shown]
        if not shown:
            continue
        words = ", ".join(
            f"{f'{place.place} ' if place.place else 'too few heats for a place: '}"
            f"{'you' if place.you else clean_name(place.name, '?')} {measure.said(place.value)}"
            for place in shown
        )
        rest = len(places) - len(shown)
        more = f", and {rest} more" if rest else ""
        lines.append(f"{measure.title.capitalize()}, {measure.better} is better: {words}{more}.")
    return lines

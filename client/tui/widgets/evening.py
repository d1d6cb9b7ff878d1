"""A player's view of the evening beside their own table: standings, the same rack elsewhere, what is about to begin.

Draws what the club tells; names are plain text.
"""

from collections.abc import Callable

from client.models.played import club_of
from client.models.table import TableModel
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.head import clock_text, seconds_text
from shared.names import clean_name
from shared.wire.club_views import ClubPart, Elsewhere, Place

_COLUMN = 26


def draw_page(canvas: Canvas, model: TableModel, heading: str) -> None:
    """Draw one of the pages."""
    club = club_of(model)
    if club is None:
        return
    if heading == "The evening so far":
        _standings(canvas, club)
    else:
        _elsewhere(canvas, club)


def what_begins(model: TableModel, now_ms: int) -> str:
    """Return the countdown, or that other tables still play this deal, or nothing."""
    club = club_of(model)
    if club is None:
        return ""
    if club.starts_in_ms is not None:
        left_ms = max(0, club.starts_in_ms - (now_ms - model.received_ms))
        return f"All tables start in {clock_text(left_ms)}."
    if club.still_playing and model.view and model.view.results and not model.view.results[-1].opened:
        tables = "1 table still plays" if club.still_playing == 1 else f"{club.still_playing} tables still play"
        return f"{tables} this deal; racks open when all are through."
    return ""


def teacher_words(model: TableModel) -> str:
    """Return what a player can decide about a teacher, or nothing where none is let in."""
    club = club_of(model)
    if club is None or not club.teacher or model.view is None:
        return ""
    if club.shows[model.view.you]:
        return "The teacher sees your rack while you play: press v to end that."
    return "A teacher may watch: press v to let them see your rack."


def _standings(canvas: Canvas, club: ClubPart) -> None:
    lists: tuple[tuple[str, tuple[Place, ...], Callable[[float], str]], ...] = (
        ("part of the level", club.speed, lambda value: f"{value * 100:.1f}%"),
        ("points lost a pass", club.loss, lambda value: f"{value:.2f}"),
        ("part of the points", club.points, lambda value: f"{value * 100:.1f}%"),
    )
    shown = [one for one in lists if one[1]]
    left = max(1, (canvas.width - _COLUMN * len(shown)) // 2)
    room = canvas.height - 3
    for column, (title, places, value) in enumerate(shown):
        x = left + column * _COLUMN
        canvas.put(x, 0, title, "quiet")
        for y, place in enumerate(_fitting(places, room), start=2):
            if place is None:
                canvas.put(x, y, " ...", "quiet")
                continue
            end = canvas.put(x, y, f"{place.place:>3}{'=' if place.tied else ' '}", "quiet")
            name = "you" if place.you else clean_name(place.name, "?")
            canvas.put(end, y, canvas.fitted(name, 13), "mark" if place.you else "text", bold=place.you)
            canvas.put(x + 18, y, f"{value(place.value):>6}", bold=place.you)


def _fitting(places: tuple[Place, ...], room: int) -> list[Place | None]:
    """Return the best places, and one's own at the end where it lies further down."""
    if len(places) <= room:
        return list(places)
    own = next((place for place in places[room:] if place.you), None)
    return [*places[: room - 2], None, own or places[room - 2]]


def _elsewhere(canvas: Canvas, club: ClubPart) -> None:
    left = max(1, (canvas.width - 78) // 2)
    y = 0
    for other in club.elsewhere:
        if y + 2 > canvas.height:
            break
        y = _other(canvas, left, y, other)


def _other(canvas: Canvas, left: int, y: int, other: Elsewhere) -> int:
    end = canvas.put(left, y, clean_name(other.name, "?"), bold=True)
    end = canvas.put(end + 2, y, clean_name(other.table, "table", 24), "quiet")
    end = canvas.put(end + 2, y, f"{seconds_text(other.total_ms)} s", "text")
    if other.points is not None:
        canvas.put(end + 2, y, f"{other.points:.1f} points", "text")
    x, y = left + 2, y + 1
    for gave in other.gave:
        words = f"{gave.step} {seconds_text(gave.spent_ms)}"
        width = len(words) + 4 * len(gave.given) + (10 if gave.blind else 0) + 3
        if x + width > left + 78:
            x, y = left + 2, y + 1
        x = canvas.put(x, y, words, "quiet") + 1
        for tile in gave.given:
            x = canvas.put(x, y, f" {tile} "[:4].ljust(3), ink(tile), "face", bold=True)
        if gave.blind:
            x = canvas.put(x + 1, y, f"{gave.blind} blind", "quiet")
        x += 2
    return y + 2

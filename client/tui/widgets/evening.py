"""A player's view of the evening beside their own table: standings, the same rack elsewhere, what is about to begin.

Draws what the club tells; names are plain text.
"""

from client.models.played import club_of, coach_words, place_words
from client.models.seats import ResultsModel
from client.models.table import TableModel
from client.tui.widgets.big_text import height, put_middle, wide
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.head import clock_text, seconds_text
from client.tui.widgets.standings import draw_standings
from shared.names import clean_name
from shared.wire.club_views import ClubPart, Elsewhere


def draw_page(canvas: Canvas, model: TableModel, heading: str, pages: ResultsModel) -> None:
    """Draw one of the pages from the line on that pages has first; say there how many are hidden below."""
    club = club_of(model)
    if club is None:
        return
    if heading in ("The evening so far", "The evening's result"):
        looking = coach_words(club)
        canvas.middle(0, looking, "quiet")
        pages.hidden = draw_standings(canvas, 1 if looking else 0, club, pages.first)
    else:
        pages.hidden = _elsewhere(canvas, club, pages.first)


def draw_moved(canvas: Canvas, model: TableModel) -> None:
    """Tell a player loudly where they sit now."""
    club, view = club_of(model), model.view
    if club is None or view is None:
        return
    words = (f"TABLE {club.number}", f"CHAIR {view.you + 1}")
    plain = canvas.look.ascii
    scale = next(
        (n for n in (3, 2) if wide(words[0], n) <= canvas.width - 4 and 2 * height(n, plain) + 7 <= canvas.height), 1
    )
    y = max(0, (canvas.height - 2 * height(scale, plain) - 6) // 2)
    canvas.middle(y, "You have another place now:", "warn", bold=True)
    for word in words:
        put_middle(canvas, y + 2, word, scale, strong=True)
        y += height(scale, plain) + 1
    canvas.middle(y + 2, place_words(model), bold=True)
    canvas.middle(y + 3, "Press any key once you have read it.", "quiet")


def what_begins(model: TableModel, now_ms: int) -> str:
    """Return the countdown, or that other tables still play this deal, or nothing."""
    club = club_of(model)
    if club is None:
        return ""
    gone_ms = now_ms - model.received_ms
    if club.over:
        return "The evening is over. Thank you for playing; q leaves."
    if club.starts_in_ms is not None:
        return f"All tables start in {clock_text(max(0, club.starts_in_ms - gone_ms))}."
    if club.goes_on_in_ms is not None and model.view:
        left = clock_text(max(0, club.goes_on_in_ms - gone_ms))
        return f"The heat begins in {left}, even if {'somebody is' if model.is_ready else 'you are'} not ready."
    if club.still_playing and model.view and model.view.results and not model.view.results[-1].opened:
        tables = "1 table still plays" if club.still_playing == 1 else f"{club.still_playing} tables still play"
        return f"{tables} this deal; racks open when all are through."
    return ""


def _elsewhere(canvas: Canvas, club: ClubPart, first: int) -> int:
    """Draw what other tables did, from this one on; return how many have no room."""
    left = max(1, (canvas.width - 78) // 2)
    y = 0
    for number, other in enumerate(club.elsewhere[first:], start=first):
        if y + 3 > canvas.height:
            more = len(club.elsewhere) - number
            canvas.put(left, canvas.height - 1, f"and {more} more", "quiet")
            return more
        y = _other(canvas, left, y, other)
    return 0


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

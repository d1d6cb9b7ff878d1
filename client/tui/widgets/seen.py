"""A chair of a table as somebody sees it who has none there: how it stands, and its rack where that may be seen."""

from client.models.watched import open_words
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.desk import status_of
from client.tui.widgets.faces import role as ink
from shared.names import clean_name
from shared.rules.tiles import by_suit
from shared.wire.club_views import ChairShown, TableShown

_APART = 76
"""Columns from which the tiles of a rack stand apart."""


def draw_chair(
    canvas: Canvas, x: int, y: int, table: TableShown, number: int, left_ms: int, may_see: bool = True
) -> None:
    """Draw two lines: the name with its clock and what was voted or offered; and the rack or, for somebody who may see
    racks, why there is none."""
    chair = table.chairs[number]
    name = clean_name(chair.name) or "(empty)"
    canvas.put(canvas.put(x, y, f"chair {number + 1}  ", "quiet"), y, name, bold=chair.sitter == "person")
    word, role = status_of(table, number, left_ms)
    canvas.put(x + 30, y, word, role)
    canvas.put(x + 46, y, open_words(chair))
    end, apart = x + 2, 1 if canvas.width >= _APART else 0
    for tile in by_suit(chair.rack):
        end = canvas.put(end, y + 1, f" {tile} "[:4].ljust(4), ink(tile), "face", bold=True) + apart
    if may_see and not chair.rack:
        canvas.put(end, y + 1, _why_not(table, chair), "quiet")


def _why_not(table: TableShown, chair: ChairShown) -> str:
    """Return why there is no rack to see."""
    if chair.sitter != "person":
        return "a bot plays" if chair.sitter == "bot" else ""
    if not chair.shows:
        return "has not agreed"
    if table.paused:
        return "covered while the table is paused"
    return "agreed; the rack is here once a heat runs" if table.phase != "heat" else "no rack"

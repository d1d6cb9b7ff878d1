"""Ways to answer a step as a table: tiles, points with their standard error, gift, how much less, and the words."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.text import wrapped
from client.tui.widgets.canvas import Canvas, fitted
from shared.rules.tiles import format_tiles

if TYPE_CHECKING:
    from shared.coach.review import Way

_CUT = " ..."
_GIFT = "To the seat that gets them"
"""How the coach's sentence on the gift begins; the table has the number already."""
_FEW, _WORDS = 2, 5
"""Ways that are enough, and rows that the words want, where there is not room for everything."""
_WIDE = 60
"""Cells from which every column has room."""


def way_words(way: "Way") -> str:
    """Return a way in a few cells: what it says, or its tiles and how many go unseen."""
    if way.says:
        return way.says
    tiles = format_tiles(way.ranked.tiles)
    unseen = f"{way.ranked.blind} blind" if way.ranked.blind else ""
    return " + ".join(part for part in (tiles, unseen) if part) or "nothing"


def less_words(way: "Way") -> str:
    """Return how much less than the best a way is worth, and whether that can be told."""
    if not way.place:
        return "best"
    less = f"-{way.loss.points:.1f} ± {way.loss.se:.1f}"
    return f"{less} too close" if way.loss.points < 2 * way.loss.se else less


def draw_ways(canvas: Canvas, y: int, below: int, ways: Sequence["Way"], own: "Way", x: int = 2) -> int:
    """Draw the ways, best first, the own one marked, then the words of the best and of the own; return the next row."""
    wide = canvas.width >= _WIDE
    head = f"  {'':<22}{'points':>12}{'gift':>7}   against the best" if wide else f"  {'':<15}{'points':>7}  less"
    canvas.put(x, y, head, "quiet")
    y += 1
    if below - y < len(ways) + _WORDS:  # better fewer passes than no words
        ways = [way for place, way in enumerate(ways) if place < _FEW or way == own]
    for way in ways:
        if y >= below:
            return y
        mine = way is own or way == own
        sign = (">" if canvas.look.ascii else "▸") if mine else " "
        ranked = way.ranked
        less = less_words(way) if wide else ("best" if not way.place else f"-{way.loss.points:.1f} ±{way.loss.se:.1f}")
        less = less.replace("±", "+/-") if canvas.look.ascii else less
        gift = "" if ranked.gift is None else f"{ranked.gift:.1f}"
        if wide:
            error = "+/-" if canvas.look.ascii else "±"
            points = f"{ranked.points:.1f} {error} {ranked.se:.1f}"
            text = f"{sign} {fitted(way_words(way), 22)}{points:>12}{gift:>7}   {less}{'   yours' if mine else ''}"
        else:
            text = f"{sign} {fitted(way_words(way), 15)}{ranked.points:>7.1f}  {less}"
        canvas.put(x, y, text, "text", bold=mine)
        y += 1
    return _words(canvas, x, y, below, ways[0], own)


def _words(canvas: Canvas, x: int, y: int, below: int, best: "Way", own: "Way") -> int:
    rows: list[tuple[str, str]] = []
    width = canvas.width - 2 * x - 7
    for name, way in [("best", best)] if best == own else [("yours", own), ("best", best)]:
        words = " ".join(sentence for sentence in way.words if not sentence.startswith(_GIFT))
        lines = wrapped(words, width)
        rows += [(name if row == 0 else "", line) for row, line in enumerate(lines)]
    room = max(below - y, 0)
    for row, (name, line) in enumerate(rows[:room]):
        canvas.put(x, y + row, name, "quiet")
        if row == room - 1 < len(rows) - 1:
            line = wrapped(line, width - len(_CUT))[0] + _CUT
        canvas.put(x + 7, y + row, line)
    return y + min(room, len(rows))

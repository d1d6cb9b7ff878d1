"""Ways to answer a step as a table: tiles, points with their standard error, gift, how much less, and the words."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len

from client.text import wrapped
from client.tui.widgets.canvas import Canvas, fitted
from client.tui.widgets.hand import draw_row, picture_rows
from shared.rules.tiles import format_tiles

if TYPE_CHECKING:
    from shared.coach.review import Way
    from shared.coach.words import Target

_CUT = " ..."
_NAME = 7
"""Cells for whose way it is."""
_KEEPS = "It keeps "
"""How the coach's sentence on the hands that stay alive begins; here they are drawn."""
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
    told = [("best", best)] if best == own else [("yours", own), ("best", best)]
    wide = canvas.width >= _WIDE
    indent = _NAME if wide else 0
    for number, (name, way) in enumerate(told):
        end = y + (below - y) // (len(told) - number)  # each has its share of what is left
        if not way.words or y >= end:
            continue
        canvas.put(x, y, name, "quiet")
        y = _way_in_words(canvas, x + indent, y + (not wide), end, canvas.width - 2 * x - indent, way)
    return y


def _way_in_words(canvas: Canvas, x: int, y: int, below: int, width: int, way: "Way") -> int:
    """Draw the hands that a way keeps against the rack, the nearest ones as there is room, then the other sentences."""
    words = " ".join(sentence for sentence in way.words if not sentence.startswith((_GIFT, _KEEPS)))
    lines = wrapped(words, width)
    for number, target in enumerate(way.targets):
        rows = picture_rows(target.drawn.picture, width) if target.drawn else []
        if (number and y + 1 + len(rows) + len(lines) > below) or y + 1 + len(rows) > below:
            break
        canvas.put(x, y, fitted(_name_in(target, width), width), bold=True)
        for tiles in rows:
            y += 1
            end = draw_row(canvas, x, y, tiles)
        to_go = f"{target.away} to go"
        if rows and _name_in(target, width) == target.name and end + 2 + len(to_go) <= x + width:
            canvas.put(end + 2, y, to_go)
        y += 1
    if not way.targets and not way.says:
        lines = wrapped(" ".join(sentence for sentence in way.words if not sentence.startswith(_GIFT)), width)
    room = max(below - y, 0)
    for row, line in enumerate(lines[:room]):
        if row == room - 1 < len(lines) - 1:
            line = wrapped(line, width - len(_CUT))[0] + _CUT
        canvas.put(x, y + row, line)
    return y + min(room, len(lines))


def _name_in(target: "Target", width: int) -> str:
    """Return a hand's name with how far it is and its points, as much of it as fits."""
    numbers = f"{target.away} to go, {target.points:.1f} points"
    return f"{target.name}   {numbers}" if cell_len(target.name) + 3 + cell_len(numbers) <= width else target.name

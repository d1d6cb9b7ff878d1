"""Ways to answer a step as a table: tiles, points with their standard error, gift, how much less, and the words."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len

from client.models.review import way_words
from client.text import wrapped
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.hand import draw_row, picture_rows

if TYPE_CHECKING:
    from client.tui.widgets.hand import HandRow
    from shared.coach.review import Way
    from shared.coach.words import Target

_CUT = " ..."
_NAME = 7
"""Cells for whose way it is."""
_FEW, _DRAWN = 2, 4
"""Ways that are enough, and rows that hands want, where there is not room for everything."""
_WIDE = 68
"""Cells from which every column has room."""


def less_words(way: "Way") -> str:
    """Return how much less than the best a way is worth, and whether that can be told."""
    if not way.place:
        return "best"
    less = f"-{way.loss.points:.1f} ± {way.loss.se:.1f}"
    return f"{less} too close" if way.loss.too_close else less


def draw_ways(canvas: Canvas, y: int, below: int, ways: Sequence["Way"], own: "Way", x: int = 2) -> int:
    """Draw the ways, best first, the own one marked, then the words of the best and of the own; return the next row."""
    wide = canvas.width >= _WIDE
    head = f"  {'':<22}{'points':>12}{'gift':>7}   against the best" if wide else f"  {'':<15}{'points':>7}  less"
    canvas.put(x, y, head, "quiet")
    y += 1
    words = len(_sentences(canvas, own, canvas.width - 2 * x))
    if below - y < len(ways) + words + _DRAWN:  # better fewer passes than no words
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
            text = (
                f"{sign} {canvas.fitted(way_words(way), 22)}{points:>12}{gift:>7}   {less}{'   yours' if mine else ''}"
            )
        else:
            text = f"{sign} {canvas.fitted(way_words(way), 15)}{ranked.points:>7.1f}  {less}"
        canvas.put(x, y, text, "text", bold=mine)
        y += 1
    return _words(canvas, x, y, below, ways[0], own)


def _words(canvas: Canvas, x: int, y: int, below: int, best: "Way", own: "Way") -> int:
    """Draw the sentences about the own way; then the hand that each way leaves against the rack, as there is room."""
    width = canvas.width - 2 * x
    lines, room = _sentences(canvas, own, width), max(below - y, 0)
    for row, line in enumerate(lines[:room]):
        if row == room - 1 < len(lines) - 1:
            line = wrapped(line, width - len(_CUT))[0] + _CUT
        canvas.put(x, y + row, line)
    y += min(room, len(lines))
    told = [("best", best)] if best == own else [("yours", own), ("best", best)]
    indent = _NAME if canvas.width >= _WIDE else 0
    for number in range(max(len(way.targets) for _, way in told)):
        for name, way in told:
            for target in way.targets[number : number + 1]:
                rows = picture_rows(target.drawn.picture, width - indent) if target.drawn else []
                if not rows or y + 1 + len(rows) + (not indent) > below:
                    return y
                canvas.put(x, y, name, "quiet")
                y = _target(canvas, x + indent, y + (not indent), width - indent, target, rows)
    return y


def _sentences(canvas: Canvas, way: "Way", width: int) -> list[str]:
    words = way.numbers if canvas.look.numbers else way.words
    return wrapped(" ".join(words), width) if words else []


def _target(canvas: Canvas, x: int, y: int, width: int, target: "Target", rows: "list[HandRow]") -> int:
    """Draw a hand's name, and the hand against the rack below it; return the next row."""
    named = _name_in(target, width)
    canvas.put(x, y, canvas.fitted(named, width), bold=True)
    to_go = f"{target.away} to go"
    for tiles in rows:
        y += 1
        end = draw_row(canvas, x, y, tiles)
    if named == target.name and end + 2 + len(to_go) <= x + width:
        canvas.put(end + 2, y, to_go)
    return y + 1


def _name_in(target: "Target", width: int) -> str:
    """Return a hand's name with how far it is and its points, as much of it as fits."""
    numbers = f"{target.away} to go, {target.points:.1f} points"
    return f"{target.name}   {numbers}" if cell_len(target.name) + 3 + cell_len(numbers) <= width else target.name

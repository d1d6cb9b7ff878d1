"""The standings of an evening, in columns side by side: at a desk, after a heat, on a wall.

Draws what it is given; names are plain text.
"""

from collections.abc import Sequence

from client.theme import Role
from client.tui.widgets.canvas import Canvas
from shared.measures.standings import MEASURES, Measure
from shared.names import clean_name
from shared.wire.club_views import ClubPart, Place, Ranking

_NARROW, _WIDE = 26, 38
"""Columns of a standing: three stand side by side on 80 columns, with the number of heats on 120."""
_LINE = "too few heats for a place"


def draw_standings(canvas: Canvas, top: int, told: Ranking | ClubPart, first: int = 0) -> int:
    """Draw the standings from a row on, with this line first; return how many lines of the longest are hidden below.

    A player's own line stays in sight, at the end if it is not among those shown.
    """
    shown = [(measure, lines) for measure in MEASURES if (lines := _lines(told, measure))]
    if not shown:
        canvas.middle(top + 2, "No heat has been finished yet.", "quiet")
        return 0
    width = max(_NARROW, min(_WIDE, (canvas.width - 2) // len(shown)))
    left = max(1, (canvas.width - width * len(shown)) // 2)
    room = max(1, canvas.height - top - 4)
    for number, (measure, lines) in enumerate(shown[: max(1, canvas.width // width)]):
        x = left + number * width
        canvas.put(x, top, measure.title, "mark", bold=True)
        canvas.put(x, top + 1, f"{measure.better} is better", "quiet")
        start = max(0, min(first, len(lines) - room))
        visible = lines[start : start + room]
        own = next((line for line in lines if isinstance(line, Place) and line.you), None)
        if own and own not in visible:
            visible = [*visible[: room - 1], own]
        for y, line in enumerate(visible, start=top + 2):
            _line(canvas, x, y, width, measure, line)
        rest = sum(isinstance(line, Place) for line in lines) - sum(isinstance(line, Place) for line in visible)
        if rest:
            canvas.put(x, top + 2 + room, f"and {rest} more", "quiet")
    return max(0, max(len(lines) for _, lines in shown) - room - first)


def _lines(told: Ranking | ClubPart, measure: Measure) -> list[Place | str]:
    """Return the lines of a standing, with a line of words above those without a place."""
    places: Sequence[Place] = getattr(told, measure.key)
    ranked = [place for place in places if place.place]
    below = [place for place in places if not place.place]
    return [*ranked, _LINE, *below] if below else list(ranked)


def _line(canvas: Canvas, x: int, y: int, width: int, measure: Measure, line: Place | str) -> None:
    is_wide = width >= _WIDE
    if isinstance(line, str):
        canvas.put(x, y, canvas.fitted(("-" if canvas.look.ascii else "─") * 40, width - 2), "line")
        canvas.put(x, y, f"{line} ", "quiet")
        return
    place = f"{line.place}{'=' if line.tied else ' '}" if line.place else ""
    canvas.put(x, y, f"{place:>4} ", "quiet")
    name = "you" if line.you else clean_name(line.name, "?")
    role: Role = "mark" if line.you else "text" if line.place else "quiet"
    canvas.put(x + 5, y, canvas.fitted(name, 16 if is_wide else 12), role, bold=line.you)
    value = measure.said(line.value)
    canvas.put(x + (22 if is_wide else 18), y, f"{value:>6}", role, bold=bool(line.place))
    if is_wide:
        canvas.put(x + 29, y, f"{line.heats} heats" if line.heats != 1 else "1 heat", "quiet")

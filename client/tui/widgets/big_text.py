"""What a room reads from afar: steps, words and times in large letters, at the largest scale for which there is room.

Only draws; which step runs and how much time there is comes from the screen.
"""

from rich.cells import cell_len

from client.tui.widgets.canvas import Canvas
from client.tui.widgets.head import clock_text
from client.tui.widgets.letters import letters
from shared.rules.steps import StepName

STEP_WORDS: dict[StepName, tuple[str, str]] = {
    "first right": ("FIRST", "RIGHT >"),
    "first across": ("FIRST", "ACROSS ^"),
    "first left": ("FIRST", "< LEFT"),
    "go on": ("SECOND TIME", "GO ON?"),
    "second left": ("SECOND", "< LEFT"),
    "second across": ("SECOND", "ACROSS ^"),
    "last right": ("LAST", "RIGHT >"),
    "courtesy offer": ("COURTESY", "OFFER ^"),
    "courtesy give": ("COURTESY", "GIVE ^"),
    "side offer": ("EITHER SIDE", "OFFER <>"),
    "side give": ("EITHER SIDE", "GIVE <>"),
    "plan": ("NO PASS", "PLAN"),
}
"""What the room reads at each step: a small line, and a large one with the arrow."""
_WIDEST = "ACROSS ^"


def scale_for(canvas: Canvas, more_rows: int) -> int:
    """Return the largest scale at which every step fits with so many rows besides, so that the letters never change
    their size in a heat."""
    for scale in (4, 3, 2):
        if wide(_WIDEST, scale) <= canvas.width and needed(scale, canvas.look.ascii) + more_rows <= canvas.height:
            return scale
    return 1


def needed(scale: int, plain: bool) -> int:
    """Return the rows of a small line, a large one and a clock."""
    return height(max(1, scale - 1), plain) + 2 * height(scale, plain)


def height(scale: int, plain: bool) -> int:
    """Return the rows of a line of letters."""
    return len(_rows("A", scale, plain))


def wide(text: str, scale: int) -> int:
    """Return the cells of a text in letters."""
    return cell_len(letters(text, scale)[0])


def put_middle(canvas: Canvas, y: int, text: str, scale: int, strong: bool = False) -> None:
    """Draw a text in letters, centred."""
    for row, line in enumerate(_rows(text, scale, canvas.look.ascii)):
        canvas.middle(y + row, line, "mark" if strong else "text", bold=strong)


def put_letters(canvas: Canvas, x: int, y: int, text: str, scale: int, alarm: bool = False) -> int:
    """Draw a text in letters from a cell on and return the row below it."""
    rows = _rows(text, scale, canvas.look.ascii)
    for row, line in enumerate(rows):
        canvas.put(x, y + row, line, "alarm" if alarm and not canvas.look.calm else "text")
    return y + len(rows)


def time_letters(counted_ms: int, late: bool = False) -> str:
    """Return a time for letters. A late one has a minus sign; colour only repeats that."""
    return f"{'-' if late else ''}{clock_text(counted_ms)}"


def _rows(text: str, scale: int, plain: bool) -> tuple[str, ...]:
    """Return a text in letters; ASCII at the smallest scale is too coarse for shapes and stays spaced text."""
    return (" ".join(text),) if plain and scale == 1 else letters(text, scale, plain)

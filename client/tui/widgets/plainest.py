"""What the table shows where there is no room for tiles: that it is too small, and what matters most, in words."""

from collections.abc import Callable, Sequence

from client.text import wrapped
from client.tui.widgets.canvas import Canvas, Drawn

LEAST = (60, 20)
"""Columns and rows from which the table works in full."""
SLIM, FLAT = (0, "-slim"), (0, "-flat")
"""The classes of a screen that is too narrow, or too low, for tiles."""
TILES_FROM = (50, 20)
"""Columns and rows from which there is room for two rows of tiles."""


class Plainest(Drawn):
    """Lines from the top, whole words only; hidden on terminals that are large enough."""

    def __init__(self, lines: Callable[[], Sequence[str]]) -> None:
        super().__init__()
        self.lines = lines

    def draw(self, canvas: Canvas) -> None:
        """Draw the lines that matter, then the size as far as there is room."""
        size = f"Too small: {canvas.width}x{canvas.height}. Make it {LEAST[0]}x{LEAST[1]} or larger."
        rows = [row for line in (*self.lines(), size) for row in wrapped(line, canvas.width)]
        for y, row in enumerate(rows):
            canvas.put(0, y, row)

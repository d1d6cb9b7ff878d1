"""Text that is longer than the screen: it scrolls by line and by page, by keys, by the wheel and by its marks."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual import events

from client.tui.widgets.canvas import Canvas, Drawn

WIDEST = 88


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text, with a word in bold before it; the text begins so many cells from the margin."""

    head: str = ""
    text: str = ""
    indent: int = 0


class Paper(Drawn):
    """Lines from the first one shown on; lines(width) makes them for a width in cells."""

    def __init__(self, lines: Callable[[int], Sequence[Line]]) -> None:
        super().__init__()
        self._lines, self.first = lines, 0

    def draw(self, canvas: Canvas) -> None:
        """Draw what there is room for, and a mark where there is more."""
        left, lines = self._left(canvas.width), self._all(canvas.width)
        self.first = max(0, min(self.first, len(lines) - canvas.height))
        for y, line in enumerate(lines[self.first : self.first + canvas.height]):
            canvas.put(left, y, line.head, "mark", bold=True)
            canvas.put(left + line.indent, y, line.text)
        up, down = "^v" if canvas.look.ascii else "▴▾"
        if self.first:
            canvas.put(canvas.width - 2, 0, up, "mark", bold=True, key="pageup")
        if self.first + canvas.height < len(lines):
            canvas.put(canvas.width - 2, canvas.height - 1, down, "mark", bold=True, key="pagedown")

    @property
    def scrolls(self) -> bool:
        """Whether there is more than fits."""
        return len(self._all(self.size.width)) > self.size.height

    def turn(self, key: str) -> bool:
        """Move by a key; return whether it is one that moves."""
        page = max(1, self.size.height - 1)
        to = {
            "up": self.first - 1,
            "down": self.first + 1,
            "pageup": self.first - page,
            "pagedown": self.first + page,
            "home": 0,
            "end": len(self._all(self.size.width)),
        }.get(key)
        if to is None:
            return False
        self.first = max(0, min(to, len(self._all(self.size.width)) - self.size.height))
        return True

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Go a line down."""
        self._wheel(event, "down")

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Go a line up."""
        self._wheel(event, "up")

    def _wheel(self, event: events.MouseEvent, key: str) -> None:
        event.stop()
        self.turn(key)
        self.redraw()

    def _all(self, width: int) -> Sequence[Line]:
        return self._lines(min(WIDEST, width - 2 * self._left(width)))

    @staticmethod
    def _left(width: int) -> int:
        return max(2, (width - WIDEST - 4) // 2)

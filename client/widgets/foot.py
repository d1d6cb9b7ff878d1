"""The last two lines of a screen: what just happened in words, and at most six keys that matter now."""

from collections.abc import Callable

from client.widgets.canvas import Canvas, Drawn

Keys = tuple[tuple[str, str, str], ...]
"""Each: the key as a person reads it, what it does in a word or two, and the key that a click presses ("" if none)."""
MOST_KEYS = 6


class Note(Drawn):
    """One line of words."""

    def __init__(self, text: Callable[[], str]) -> None:
        super().__init__()
        self.text = text

    def draw(self, canvas: Canvas) -> None:
        """Draw the line."""
        canvas.middle(0, self.text(), "warn", bold=True)


class Foot(Drawn):
    """The keys line; the caller gives six at most, and they must fit into 80 columns."""

    def __init__(self, keys: Callable[[], Keys]) -> None:
        super().__init__()
        self.keys = keys

    def draw(self, canvas: Canvas) -> None:
        """Draw the keys from the left."""
        canvas.ground = "panel"
        canvas.put(0, 0, " " * canvas.width)
        x = 1
        for shown, does, key in self.keys()[:MOST_KEYS]:
            start = x
            x = canvas.put(canvas.put(x, 0, shown, "mark", bold=True) + 1, 0, does, "text") + 3
            if key:
                canvas.zone(start, 0, x - start - 3, 1, key)

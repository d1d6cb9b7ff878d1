"""The last two lines of a screen: what just happened in words, and at most six keys that matter now."""

from collections.abc import Callable
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from client.text import wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.hand import draw_row, picture_rows
from shared.cards.picture import Picture

Keys = tuple[tuple[str, str, str], ...]
"""Each: the key as a person reads it, what it does in a word or two, and the key that a click presses ("" if none)."""
LEAVE: Keys = (("?", "help", "?"), ("q", "leave", "q"))
BACK: Keys = (("?", "help", "?"), ("q", "back", "q"))
FINDING: Keys = (("a-z", "find", ""), ("up down", "hand", ""), ("enter", "pin it", "enter"), ("esc", "no", "escape"))
"""While words are looked for on a card."""
MOST_KEYS = 6
"""For a player; a host has two more."""
_GAPS = (3, 2)
_GAP = 3
_CUT = " ..."
_MOST_ROWS = 3


@dataclass(frozen=True, slots=True)
class Pinned:
    """A pinned hand: its name, a drawing, and what is to go, the longest wording first; none with no rack known."""

    name: str
    picture: Picture
    to_go: tuple[str, ...] = ()


class Note(Drawn):
    """Words in as many rows as they take, at most three. While there are none, rest is shown quietly; one row is there
    in any case, so that a short word moves nothing."""

    least = 1
    role: Role = "warn"

    def __init__(self, text: Callable[[], str], rest: Callable[[], str] = str) -> None:
        super().__init__()
        self.text, self.rest = text, rest

    def on_mount(self) -> None:
        """Take as many rows as are needed now."""
        self.redraw()

    def redraw(self) -> None:
        """Draw again, in as many rows as are needed now."""
        rows = max(self.least, len(self._rows(self.app.size.width)))
        self.display, self.styles.height = bool(rows), rows
        super().redraw()

    def draw(self, canvas: Canvas) -> None:
        """Draw the rows."""
        said = bool(self.text())
        for y, row in enumerate(self._rows(canvas.width)):
            canvas.middle(y, row, self.role if said else "quiet", bold=said)

    def _rows(self, width: int) -> list[str]:
        text = self.text() or self.rest()
        rows = wrapped(text, width) if text else []
        if len(rows) <= _MOST_ROWS:
            return rows
        last = rows[_MOST_ROWS - 1]
        return [
            *rows[: _MOST_ROWS - 1],
            f"{set_cell_size(last, min(cell_len(last), width - len(_CUT))).rstrip()}{_CUT}",
        ]


class Changed(Note):
    """What the host has changed; no row while nothing is changed."""

    least = 0
    role = "mark"

    def __init__(self, text: Callable[[], str]) -> None:
        super().__init__(lambda: f"Changed: {changed}." if (changed := text()) else "")


class Beneath(Drawn):
    """The line under the rack: what just happened, else the pinned hand and the coach's word."""

    def __init__(self, text: Callable[[], str], pinned: Callable[[], Pinned | None], hint: Callable[[], str]) -> None:
        super().__init__()
        self.text, self.pinned, self.hint = text, pinned, hint

    def draw(self, canvas: Canvas) -> None:
        """Draw the line."""
        if text := self.text():
            canvas.middle(0, text, "warn", bold=True)
            return
        hint = self.hint()
        x = max(0, canvas.width - 1 - cell_len(hint))
        if pinned := self.pinned():
            draw_pinned(canvas, pinned, x - _GAP if hint else canvas.width - 1)
        if hint:
            canvas.put(x - 1, 0, " ")
            canvas.put(x, 0, hint, "quiet", key="y")


def draw_pinned(canvas: Canvas, pinned: Pinned, end: int) -> None:
    """Draw as much of a pinned hand as fits before a column, its tiles first, then its name, then what is to go."""
    tiles = picture_rows(pinned.picture, canvas.width)[0]
    start = 1 + len("● ")
    with_name = start + cell_len(pinned.name) + _GAP + tiles.width <= end
    x = canvas.put(1, 0, "* " if canvas.look.ascii else "● ", bold=True, key="v")
    if with_name or start + tiles.width > end:
        x = (
            canvas.put(
                x, 0, canvas.fitted(pinned.name, min(cell_len(pinned.name), max(0, end - x))), bold=True, key="v"
            )
            + _GAP
        )
    if x + tiles.width <= end:
        x = draw_row(canvas, x, 0, tiles) + _GAP
        to_go = next((text for text in pinned.to_go if x + cell_len(text) <= end), "")
        canvas.put(x, 0, to_go, key="v")
    canvas.zone(1, 0, max(0, x - 1), 1, "v")


class KeyBar(Drawn):
    """The keys line; the caller gives six at most, a host's eight, and they must fit into 80 columns."""

    def __init__(self, keys: Callable[[], Keys]) -> None:
        super().__init__()
        self.keys = keys

    def draw(self, canvas: Canvas) -> None:
        """Draw the keys from the left, and at the end what waits at the table; where not all keys fit, those before the
        last two go first."""
        canvas.ground = "panel"
        canvas.put(0, 0, " " * canvas.width)
        waits = getattr(self.app, "waits", "")
        canvas.end(0, waits, "warn", margin=1, bold=True)
        x, width = 1, canvas.width - 2 - (cell_len(waits) + _GAP if waits else 0)
        keys = fitting(self.keys(), width, min(_GAPS))
        gap = next(gap for gap in _GAPS if cells(keys, gap) <= width or gap == min(_GAPS))
        for shown, does, key in keys:
            end = canvas.put(canvas.put(x, 0, shown, "mark", bold=True) + 1, 0, does, "text")
            if key:
                canvas.zone(x, 0, end - x, 1, key)
            x = end + gap


def cells(keys: Keys, gap: int) -> int:
    """Return how many cells keys take, so far apart."""
    return sum(cell_len(f"{shown} {does}") + gap for shown, does, _ in keys) - gap


def fitting(keys: Keys, width: int, gap: int = _GAP) -> Keys:
    """Return as many of the keys as fit, the last two (help and the way out) kept longest."""
    while len(keys) > 1 and cells(keys, gap) > width:
        dropped = max(0, len(keys) - 3)
        keys = (*keys[:dropped], *keys[dropped + 1 :])
    return keys

"""A grid of terminal cells on which a widget draws text, and the places on it that a mouse can press.

Text is put down as plain characters, never as markup, and whatever could act on a terminal is replaced, so
foreign text stays text. A pressable zone names the key it stands for: mouse and keyboard share one way.
"""

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import groupby
from operator import itemgetter

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from client.console import acts
from client.theme import GROUNDS, Ground, Look, Role, Theme, colour


@lru_cache(maxsize=1_000)
def _style(theme: Theme, coloured: bool, role: Role, on: Ground, bold: bool, reverse: bool) -> Style:
    if not coloured:
        return Style(bold=bold, reverse=reverse or on == "chosen")
    return Style(color=colour(theme, role, on), bgcolor=GROUNDS[theme][on], bold=bold, reverse=reverse)


@lru_cache(maxsize=2_000)
def _harmless(character: str) -> tuple[str, int]:
    """Return what is drawn for a character, and in how many cells: 0 for a mark that joins the one before."""
    if acts(character):
        return "�", 1
    return character, 0 if unicodedata.combining(character) else cell_len(character)


@lru_cache(maxsize=4_000)
def _is_plain(text: str) -> bool:
    """Say whether every character is drawn as it is, in one cell."""
    return all(_harmless(character) == (character, 1) for character in text)


@dataclass(frozen=True, slots=True)
class Zone:
    """A rectangle of cells that stands for a key."""

    x: int
    y: int
    width: int
    height: int
    key: str

    def holds(self, x: int, y: int) -> bool:
        """Say whether a cell is inside."""
        return self.x <= x < self.x + self.width and self.y <= y < self.y + self.height


@dataclass(slots=True)
class Canvas:
    """width x height cells; what does not fit is cut off with a mark, never wrapped."""

    width: int
    height: int
    look: Look
    ground: Ground = "page"
    zones: list[Zone] = field(default_factory=list)
    _cells: list[list[tuple[str, Style]]] = field(init=False)

    def __post_init__(self) -> None:
        """Fill the grid with the ground."""
        blank = (" ", self.style("text", self.ground))
        self._cells = [[blank] * self.width for _ in range(self.height)]

    def style(self, role: Role, ground: Ground | None = None, bold: bool = False, reverse: bool = False) -> Style:
        """Return the terminal style of a role on a ground."""
        return _style(self.look.theme, self.look.colour, role, ground or self.ground, bold, reverse)

    def put(
        self,
        x: int,
        y: int,
        text: str,
        role: Role = "text",
        ground: Ground | None = None,
        *,
        bold: bool = False,
        reverse: bool = False,
        key: str | None = None,
    ) -> int:
        """Write text from a cell on and return the x after it. With a key, the text can be pressed.

        Text that would run over the right edge ends there in a mark.
        """
        if key is not None:
            self.zones.append(Zone(x, y, cell_len(text), 1, key))
        style = self.style(role, ground, bold, reverse)
        cells = len(text) if _is_plain(text) else cell_len(text)
        if 0 <= x < self.width < x + cells and cell_len(text.rstrip()) > self.width - x:
            text = self.fitted(text, self.width - x)
        if _is_plain(text):  # nearly all text is: its cells change at once
            first, end = max(x, 0), min(x + len(text), self.width)
            if 0 <= y < self.height and first < end:
                self._free(y, first, end)
                self._cells[y][first:end] = [(character, style) for character in text[first - x : end - x]]
            return x + len(text)
        for character in text:
            drawn, wide = _harmless(character)
            if wide == 0:
                self._join(x - 1, y, drawn)
            else:
                self._set(x, y, drawn, wide, style)
            x += wide
        return x

    def middle(self, y: int, text: str, role: Role = "text", *, bold: bool = False) -> int:
        """Write text centred and return the x after it."""
        return self.put(max(0, (self.width - cell_len(text)) // 2), y, text, role, bold=bold)

    def end(self, y: int, text: str, role: Role = "text", *, margin: int = 0, bold: bool = False) -> None:
        """Write text so that it ends at the right margin."""
        self.put(max(0, self.width - margin - cell_len(text)), y, text, role, bold=bold)

    def button(self, x: int, y: int, text: str, key: str, *, chosen: bool = False) -> int:
        """Draw a thing to press, marked by angle brackets when chosen, and return the x after it."""
        label = f"▸{text}◂" if chosen and not self.look.ascii else f">{text}<" if chosen else f" {text} "
        return self.put(x, y, label, "text", "chosen" if chosen else "button", bold=chosen, key=key)

    def box(self, x: int, y: int, width: int, height: int, role: Role = "line", ground: Ground | None = None) -> None:
        """Draw an empty box with a thin border."""
        a, b, c, d, h, v = "++++-|" if self.look.ascii else "╭╮╰╯─│"
        self.put(x, y, a + h * (width - 2) + b, role, ground)
        for row in range(y + 1, y + height - 1):
            self.put(x, row, v + " " * (width - 2) + v, role, ground)
        self.put(x, y + height - 1, c + h * (width - 2) + d, role, ground)

    def zone(self, x: int, y: int, width: int, height: int, key: str) -> None:
        """Make a rectangle stand for a key."""
        self.zones.append(Zone(x, y, width, height, key))

    def fitted(self, text: str, width: int) -> str:
        """Return the text filled to exactly this many cells, or cut with a mark at its end."""
        if cell_len(text.rstrip()) > width:
            mark = "..." if self.look.ascii else "…"
            text = set_cell_size(text, max(0, width - len(mark))).rstrip() + mark
        return set_cell_size(text, max(0, width))

    def strip(self, y: int) -> Strip:
        """Return one line for the terminal."""
        if y >= self.height:
            return Strip.blank(self.width, self.style("text"))
        runs = groupby(self._cells[y], key=itemgetter(1))
        return Strip([Segment("".join(text for text, _ in run), style) for style, run in runs], self.width)

    def changed(self, before: "Canvas") -> list[int]:
        """Return the lines that differ from those of a canvas of the same size."""
        return [y for y, (now, then) in enumerate(zip(self._cells, before._cells, strict=True)) if now != then]

    def key_at(self, x: int, y: int) -> str | None:
        """Return the key that a cell stands for; of overlapping zones the last one drawn."""
        return next((zone.key for zone in reversed(self.zones) if zone.holds(x, y)), None)

    def _set(self, x: int, y: int, character: str, wide: int, style: Style) -> None:
        if 0 <= y < self.height and x >= 0 and x + wide <= self.width:
            self._free(y, x, x + wide)
            self._cells[y][x] = (character, style)
            for cover in range(x + 1, x + wide):
                self._cells[y][cover] = ("", style)

    def _free(self, y: int, first: int, end: int) -> None:
        """Leave a blank for the half of a wide character that stays when the other half is drawn over."""
        row = self._cells[y]
        for half, stays in ((first, first - 1), (end, end)):
            if 0 < half < self.width and not row[half][0]:
                row[stays] = (" ", row[stays][1])

    def _join(self, x: int, y: int, character: str) -> None:
        if 0 <= y < self.height and 0 <= x < self.width:
            if not self._cells[y][x][0]:
                x -= 1  # the second half of a wide character
            text, style = self._cells[y][x]
            self._cells[y][x] = (text + character, style)


class Pressed(Message):
    """A zone was pressed with the mouse; key is what it stands for."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self.key = key


class Drawn(Widget):
    """A widget that is one canvas. Subclasses draw; nothing of the game is kept here."""

    can_focus = False

    def draw(self, canvas: Canvas) -> None:
        """Draw everything onto an empty canvas of this widget's size."""
        raise NotImplementedError

    def look(self) -> Look:
        """Return the player's look, which the app holds."""
        look = getattr(self.app, "look", None)
        return look if isinstance(look, Look) else Look()

    def canvas(self) -> Canvas:
        """Return a freshly drawn canvas."""
        canvas = Canvas(self.size.width, self.size.height, self.look())
        self.draw(canvas)
        return canvas

    def render_line(self, y: int) -> Strip:
        """Return a line of the canvas; a redraw begins with the first one asked for."""
        if self._drawn is None or not self._fits(self._drawn):
            self._drawn = self.canvas()
        return self._drawn.strip(y)

    _drawn: Canvas | None = None

    def redraw(self) -> None:
        """Draw again, since what is shown may have changed; only lines that differ go to the terminal."""
        before, self._drawn = self._drawn, None
        if before is None or not self._fits(before):
            self.refresh()
            return
        self._drawn = self.canvas()
        if changed := self._drawn.changed(before):
            self.refresh(*(Region(0, y, before.width, 1) for y in changed))

    def _fits(self, canvas: Canvas) -> bool:
        return (canvas.width, canvas.height) == tuple(self.size)

    def on_click(self, event: events.Click) -> None:
        """Turn a click into the key that was clicked."""
        key = self.canvas().key_at(event.x, event.y)
        if key is not None:
            event.stop()
            self.post_message(Pressed(key))


class Painting(Drawn):
    """What a screen draws itself."""

    def __init__(self, paint: Callable[[Canvas], None], id: str | None = None) -> None:
        super().__init__(id=id)
        self._paint = paint

    def draw(self, canvas: Canvas) -> None:
        """Draw it."""
        self._paint(canvas)

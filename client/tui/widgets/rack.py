"""The rack: text tiles of five cells, a lifted one a row higher with a double border, a letter under each."""

from typing import Protocol

from client.models.rack import PLACES, HeldRack
from client.models.table import Stage
from client.theme import Ground, Role
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.faces import face, label, role
from shared.rules.tiles import Rack, Tile

TILE = 5
"""Cells across a tile."""
ROWS = 8
"""Rows of a whole rack: one to rise into, six of tile, one of letters."""
TALL_ROWS = 10
"""Rows of a rack with tall tiles."""
_NARROW_ROWS = 5
"""Rows of small tiles with their letters; one more where there is room to rise into."""


class Holder(Protocol):
    """Who holds a rack: its tiles, the places of those that came in last, and whether the table is paused."""

    @property
    def rack(self) -> HeldRack:
        """The rack."""

    @property
    def fresh(self) -> frozenset[int]:
        """The places of the tiles that came in last."""

    @property
    def stage(self) -> Stage:
        """Where the seat stands."""


class RackRow(Drawn):
    """All tiles of this seat; two rows of small tiles where the screen is too narrow for one."""

    def __init__(self, model: Holder) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        """Draw the rack, or its backs while the table is paused."""
        count = len(self.model.rack.tiles)
        if count * TILE <= canvas.width:
            rows = 5 if canvas.height >= TALL_ROWS else 3 if canvas.height >= ROWS else 1
            self._line(canvas, 0, range(count), rows)
        else:
            half = (count + 1) // 2
            rise = int(canvas.height >= 2 * (_NARROW_ROWS + 1))
            self._line(canvas, 0, range(half), 1, rise)
            self._line(canvas, _NARROW_ROWS + rise, range(half, count), 1, rise)

    def _line(self, canvas: Canvas, y: int, places: range, rows: int, rise: int = 1) -> None:
        x = (canvas.width - TILE * len(places)) // 2
        fresh, covered = self.model.fresh, self.model.stage == "paused"
        for place in places:
            lifted = place in self.model.rack.lifted
            bottom = y + rise + rows + 3
            if covered:
                _back(canvas, x, y + rise, rows + 3)
            else:
                top = y if lifted else y + rise
                tile = self.model.rack.tiles[place]
                _tile(canvas, x, top, tile, lifted, place in fresh, rows)
                ground: Ground = "lifted" if lifted else "face"
                canvas.put(x + 1, top + rows + 1, label(tile), role(tile), ground, bold=True)
                canvas.zone(x, y, TILE, bottom - y + 1, PLACES[place])
            here = place == self.model.rack.cursor and not covered
            name = f"[{PLACES[place]}]" if here else f" {PLACES[place]} "
            canvas.put(x + 1, bottom, name, "text" if here else "quiet", bold=here)
            x += TILE


def draw_tile(canvas: Canvas, x: int, y: int, tile: Tile) -> None:
    """Draw a small tile that lies: five cells across, four rows high."""
    _tile(canvas, x, y, tile, False, False, 1)
    canvas.put(x + 1, y + 2, label(tile), role(tile), "face", bold=True)


def _tile(canvas: Canvas, x: int, y: int, tile: Tile, lifted: bool, fresh: bool, height: int) -> None:
    plain = canvas.look.ascii
    ground: Ground = "lifted" if lifted else "face"
    a, b, c, d, h, v = ("####=#" if lifted else "++++-|") if plain else ("╔╗╚╝═║" if lifted else "╭╮╰╯─│")
    edge: Role = "edge"
    ink = role(tile)
    top = "new" if fresh else h * 3
    canvas.put(x, y, a, edge, ground)
    canvas.put(x + 1, y, top, "text" if fresh else edge, ground, bold=fresh)
    canvas.put(x + 4, y, b, edge, ground)
    rows = (f" {tile[0]} ",) if height == 1 else face(tile, plain, tall=height == 5)
    for row, line in enumerate((*rows, "   "), start=y + 1):
        canvas.put(x, row, v, edge, ground)
        canvas.put(x + 1, row, line, ink, ground, bold=True)
        canvas.put(x + 4, row, v, edge, ground)
    canvas.put(x, y + 2 + len(rows), c + h * 3 + d, edge, ground)


def _back(canvas: Canvas, x: int, y: int, height: int) -> None:
    canvas.box(x, y, TILE, height)
    for row in range(y + 1, y + height - 1):
        canvas.put(x + 1, row, "..." if canvas.look.ascii else "░░░", "line")


def draw_chips(canvas: Canvas, x: int, y: int, tiles: Rack) -> int:
    """Draw tiles as chips in one line and return the x after them; closer together where there is little room."""
    apart = TILE if x + TILE * len(tiles) <= canvas.width else TILE - 1
    for tile in tiles:
        canvas.put(x, y, f" {tile:<{apart - 3}} ", role(tile), "face" if canvas.look.colour else None, bold=True)
        x += apart
    return x

"""A hand in tiles on a canvas: groups apart on the tile colour, the suit's letter behind each.

Against a rack a missing place is a dim dot on the bare ground, a gap a small ring, a joker a J: told apart by shape and
by brightness. Without colour the same signs stand bare. Decides nothing about a hand; `shared.cards.tell` does.
"""

from dataclasses import dataclass

from client.text import wrapped
from client.theme import Ground
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role
from shared.cards.picture import PLAIN, AgainstRack, Block, Cell, Marks, Picture
from shared.cards.tell import ToldHand
from shared.rules.tiles import JOKER

_OR = "or "


@dataclass(frozen=True, slots=True)
class HandRow:
    """Blocks in one line, so many cells apart; `before` is a word in front of them."""

    blocks: tuple[Block, ...]
    between: int
    before: str = ""

    @property
    def width(self) -> int:
        """How many cells it takes."""
        return len(self.before) + _width(self.blocks, self.between)


def picture_rows(picture: Picture, room: int, before: str = "") -> list[HandRow]:
    """Return a hand in lines of a width: groups two cells apart if one line holds them, else one; none is torn."""
    between = 2 if len(before) + _width(picture.blocks, 2) <= room else 1
    rows: list[list[Block]] = [[]]
    for block in picture.blocks:
        if rows[-1] and len(before) + _width((*rows[-1], block), between) > room:
            rows.append([])
        rows[-1].append(block)
    first, *rest = (tuple(row) for row in rows)
    return [HandRow(first, between, before), *(HandRow(row, between, " " * len(before)) for row in rest)]


def told_rows(told: ToldHand, room: int) -> list[HandRow]:
    """Return every way to play a hand in lines of a width, with "or" before the second and each later one."""
    return [
        row
        for number, way in enumerate(told.rows)
        for row in picture_rows(way.picture, room, before=_OR if number else "")
    ]


def draw_row(canvas: Canvas, x: int, y: int, row: HandRow, ground: Ground | None = None) -> int:
    """Draw one line of a hand and return the x after it."""
    marks = PLAIN if canvas.look.ascii else Marks()
    x = canvas.put(x, y, row.before, "quiet", ground)
    for number, block in enumerate(row.blocks):
        x += row.between if number else 0
        for cell in block.cells:
            x = _draw_cell(canvas, x, y, cell, marks, ground)
        x = canvas.put(x, y, block.suit, "text", ground)
    return x


def draw_picture(canvas: Canvas, x: int, y: int, picture: Picture, room: int, ground: Ground | None = None) -> int:
    """Draw a hand in as many lines as it needs and return the y after them."""
    for row in picture_rows(picture, room):
        draw_row(canvas, x, y, row, ground)
        y += 1
    return y


def against_height(drawn: AgainstRack, room: int) -> int:
    """Return how many lines draw_against needs."""
    rows = picture_rows(drawn.picture, room)
    return len(rows) + (0 if _fits_behind(rows, drawn, room) else len(wrapped(drawn.text(), room)))


def draw_against(canvas: Canvas, x: int, y: int, drawn: AgainstRack, room: int, ground: Ground | None = None) -> int:
    """Draw a hand against a rack, what is to go behind it if that fits, else below; return the y after it."""
    rows = picture_rows(drawn.picture, room)
    for row in rows:
        end = draw_row(canvas, x, y, row, ground)
        y += 1
    if _fits_behind(rows, drawn, room):
        canvas.put(end + 3, y - 1, drawn.text(), "text", ground)
        return y
    for line in wrapped(drawn.text(), room):
        canvas.put(x, y, line, "text", ground)
        y += 1
    return y


def _draw_cell(canvas: Canvas, x: int, y: int, cell: Cell, marks: Marks, ground: Ground | None) -> int:
    text = cell.text(marks)
    match cell.kind:
        case "missing":
            return canvas.put(x, y, text, "quiet", ground)
        case "gap":
            return canvas.put(x, y, text, "text", ground, bold=True)
    on: Ground | None = "face" if canvas.look.colour else ground
    return canvas.put(x, y, text, role(JOKER if cell.kind == "joker" else cell.tile), on, bold=True)


def _width(blocks: tuple[Block, ...], between: int) -> int:
    return sum(len(block.cells) + len(block.suit) for block in blocks) + between * max(0, len(blocks) - 1)


def _fits_behind(rows: list[HandRow], drawn: AgainstRack, room: int) -> bool:
    return len(rows) == 1 and rows[0].width + 3 + len(drawn.text()) <= room

"""The tiles of a heat with real tiles as they are typed: the deal, what went and came at each pass, the last rack."""

from client.models.real_racks import DEALT, FINAL, SIZES, RacksModel, TypedHeat, into, out_of
from client.text import some, wrapped
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.rack import draw_chips
from shared.rules.tiles import by_suit
from shared.rules.typed_tiles import compact

_LABEL = 17
_FIELD = 21
_CLOSE = 4
"""Cells that a tile takes at least where tiles stand as chips."""


def draw_racks(canvas: Canvas, model: RacksModel) -> None:
    """Draw the heats, the lines of the one in hand, and the rack as it lay when the tiles of a line moved."""
    left = 1 if canvas.width < 100 else 8
    x = left
    for page, heat in enumerate(model.heats):
        x = canvas.button(x, 0, f" heat {heat.number} ", f"heat {page}", chosen=page == model.page) + 1
    heat, read = model.heat, model.read
    deals = len(read.dealt) == max(SIZES) if read.dealt else heat.deals
    what = "East: 14 tiles" if deals else "not East: 13 tiles"
    canvas.end(0, what if heat.times else f"still to come, {what}", "quiet", margin=left)
    width = canvas.width - 2 * left - _LABEL
    room = min(_FIELD, (width - 1) // 2)
    _line(canvas, left, 2, DEALT, "dealt", model, width)
    if read.dealt:
        canvas.end(2, some(len(read.dealt), "tile"), "good", margin=left)
    y = 4
    for step in heat.passes:
        canvas.put(left, y, step)
        x = _field(canvas, left + _LABEL, y, "out ", out_of(step), model, room)
        _field(canvas, x + 1, y, "in ", into(step), model, room)
        y += 1
    if heat.times:
        y += 1
        _line(canvas, left, y, FINAL, "final rack", model, width)
        if read.is_whole and not model.lines.get(FINAL) and model.line != FINAL:
            canvas.put(left + _LABEL, y, compact(by_suit(read.left)), "quiet")
        y += 1
    rack = read.racks.get(model.line) or (read.final if model.line == FINAL else ()) or read.left or read.dealt
    if rack and y + 2 < canvas.height:
        canvas.put(left, y + 1, _then(model, read), "quiet")
        if left + _CLOSE * len(rack) <= canvas.width:
            draw_chips(canvas, left, y + 2, by_suit(rack))
        else:
            canvas.put(left, y + 2, compact(by_suit(rack)))
    for row, line in enumerate(wrapped(goes_as_far(model), canvas.width - 2 * left), y + 4):
        canvas.put(left, row, line, "good" if read.is_whole else "quiet")


def goes_as_far(model: RacksModel) -> str:
    """Return what the coach can do with what is there."""
    read = model.read
    if read.faults:
        return ""
    if read.is_whole:
        return "All of it is there: F2 reviews the heat."
    if read.passes:
        what = "the first pass" if read.passes == 1 else f"the first {read.passes} passes"
        return f"F2 reviews {what}; every pass makes it whole."
    if read.dealt:
        return "F2: how strong the deal is, and the first pass."
    return "F2: the hand it is nearest to, and the first discard." if read.final else ""


def _then(model: RacksModel, read: TypedHeat) -> str:
    step, _, way = model.line.rpartition(" ")
    if model.line not in read.racks:
        return "the rack"
    return f"the rack before {step}" if way == "out" else f"the rack at {step}, without what went"


def _line(canvas: Canvas, x: int, y: int, line: str, label: str, model: RacksModel, width: int) -> None:
    canvas.put(x, y, label)
    _field(canvas, x + _LABEL, y, "", line, model, width - 12)


def _field(canvas: Canvas, x: int, y: int, label: str, line: str, model: RacksModel, width: int) -> int:
    """Draw a line's text, the one in hand with a cursor, and return the x after its room."""
    here, text = line == model.line, model.lines.get(line, "")
    x = canvas.put(x, y, label, "text" if here else "quiet", bold=here)
    room = width - len(label) - 1
    mark = "..." if canvas.look.ascii else "…"
    shown = text if len(text) <= room else mark + text[len(text) - room + len(mark) :]
    end = canvas.put(x, y, shown, "warn" if line in model.read.faults else "text", bold=here)
    if not text and not here:
        canvas.put(x, y, "." if canvas.look.ascii else "·", "quiet")
    if here:
        canvas.put(end, y, "_", "mark", bold=True)
    canvas.zone(x, y, room, 1, line)
    return x + room

"""The card of hands: every section by name, the hands of one of them or all that were found, and the marked hand.

Draws a CardBrowser; knows no rack.
"""

from dataclasses import dataclass

from rich.cells import cell_len

from client.models.card_browser import CardBrowser
from client.text import wrapped
from client.theme import Ground, Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.hand import HandRow, draw_row, told_rows

_SIDE_BY_SIDE = 60
"""Columns from which sections stand beside their hands; below, the open section stands among the others."""
_ONE_LINE = 84
"""Columns from which the name of a hand and its tiles stand in one line."""
_WIDEST = 88
"""Columns beyond which a value would stand too far from its hand."""
_TALL = 16
"""Rows from which there is room for what a section has in common."""
_NAMES = 17
_WHOLE = 13
"""Cells up to which the name of a section surely stands whole beside its hands; a longer one stands below as well."""
_VALUE = 6
_INDENT, _TILES_AT = 2, 36
_WORDS = 3
"""Lines that the words of the marked hand may take."""


def draw_card(canvas: Canvas, pane: CardBrowser, room_at_end: int = 0) -> None:
    """Draw a line with the title or what is looked for, then as much as there is room for around the marked hand.

    room_at_end cells of the first line are left free for something else.
    """
    canvas.ground = "panel"
    for y in range(canvas.height):
        canvas.put(0, y, " " * canvas.width)
    _top(canvas, pane, room_at_end)
    if pane.card is None:
        for y, line in enumerate(wrapped(pane.missing or "This table has no card that can be read.", canvas.width - 4)):
            canvas.put(2, 2 + y, line, "quiet")
        return
    below = _marked(canvas, pane)
    if canvas.width >= _SIDE_BY_SIDE:
        _beside(canvas, pane, 1, below)
    else:
        _among(canvas, pane, 2, below)


def _top(canvas: Canvas, pane: CardBrowser, room_at_end: int) -> None:
    if pane.typing or pane.query:
        x = canvas.put(1, 0, "find ", "quiet")
        x = canvas.put(x, 0, pane.query + ("_" if pane.typing else ""), "mark", bold=True, key="w")
        found = len(pane.matches())
        if pane.query.strip():
            canvas.put(x + 2, 0, f"{found} found" if found else "nothing found", "quiet")
        return
    title = f"{pane.card.title}, {pane.card.year}" if pane.card else "No card"
    canvas.put(1, 0, canvas.fitted(title, min(canvas.width - 2 - room_at_end, cell_len(title))), bold=True)


def _marked(canvas: Canvas, pane: CardBrowser) -> int:
    """Write what there is to say of the marked hand at the bottom; return the row where that begins."""
    if pane.marked is None:
        return canvas.height
    told, width = pane.told[pane.at], canvas.width - 4
    words = wrapped(told.words.capitalize(), width)
    lines = (
        words if len(words) <= _WORDS else [*words[: _WORDS - 1], canvas.fitted(" ".join(words[_WORDS - 1 :]), width)]
    )
    more = ["concealed"] * told.hand.concealed + ([told.hand.note] if told.hand.note else [])
    lines += wrapped(", ".join(more), width)[:2]
    section = told.hand.section
    about = next((one.about for one in pane.sections if one.name == section), "")
    if canvas.width >= _SIDE_BY_SIDE and cell_len(section) > _WHOLE:
        about = f"{section}: {about}" if about and canvas.height >= _TALL else section
        lines += wrapped(about, width)[:_WORDS]
    elif about and canvas.height >= _TALL:
        lines += ["", *wrapped(about, width)]
    top = canvas.height - len(lines)
    for row, line in enumerate(lines):
        canvas.put(2, top + row, line, "quiet")
    return top


def _beside(canvas: Canvas, pane: CardBrowser, top: int, below: int) -> None:
    """Draw all sections on the left and hands on the right."""
    matches = pane.matches()
    hits = {section.name: 0 for section in pane.sections}
    for number in matches:
        hits[pane.hands[number].section] += 1
    for y in range(top, below):
        canvas.put(_NAMES + 1, y, "|" if canvas.look.ascii else "│", "quiet")
    names = list(hits)
    here = names.index(pane.section) if pane.section in names else 0
    for y, number in enumerate(_window(len(names), [here], below - top), start=top):
        name = names[number]
        count = f" {hits[name]}" if pane.query.strip() else ""
        ground: Ground = "chosen" if name == pane.section else "panel"
        canvas.put(
            1,
            y,
            canvas.fitted(f" {name}", _NAMES - len(count)) + count,
            _ink(hits[name]),
            ground,
            key=f"section {number}",
        )
    x, width = _NAMES + 2, min(canvas.width - _NAMES - 3, _WIDEST)
    rows = [row for number in pane.listed() for row in _hand_rows(pane, number, width)]
    _draw_rows(canvas, x, top, below, width, pane, rows)


def _among(canvas: Canvas, pane: CardBrowser, top: int, below: int) -> None:
    """Draw the sections below each other, the open one with its hands."""
    width = canvas.width - 2
    rows: list[_Row] = []
    if pane.query.strip():
        rows = [row for number in pane.listed() for row in _hand_rows(pane, number, width)]
    else:
        for number, section in enumerate(pane.sections):
            rows.append(_Row(number, section=section.name))
            if section.name == pane.section:
                rows += [row for hand in pane.listed() for row in _hand_rows(pane, hand, width)]
    _draw_rows(canvas, 1, top, below - 1, width, pane, rows)


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of the list: a section, a hand's name, a line of its tiles, or name and tiles together."""

    number: int
    name: str = ""
    tiles: HandRow | None = None
    values: str = ""
    section: str = ""


def _hand_rows(pane: CardBrowser, number: int, width: int) -> list[_Row]:
    """Return the lines of a hand: its name, then its tiles; one line where that is wide enough for both.

    Its value ends the first line, or the second one beside a long name.
    """
    told = pane.told[number]
    values = "/".join(dict.fromkeys(str(way.value) for way in told.rows))
    if width >= _ONE_LINE:
        first, *rest = told_rows(told, width - _TILES_AT - _VALUE)
        return [_Row(number, told.name, first, values), *(_Row(number, "", row) for row in rest)]
    first, *rest = told_rows(told, width - _INDENT)
    room = max(0, width - _INDENT - len(values) - 2)
    is_beside = len(told.name) <= room or first.width > room
    name = told.name
    while is_beside and len(name) > room:
        name = name.rpartition(", ")[0] or name[:room]
    return [
        _Row(number, name, None, values if is_beside else ""),
        _Row(number, "", first, "" if is_beside else values),
        *(_Row(number, "", row) for row in rest),
    ]


def _draw_rows(canvas: Canvas, x: int, top: int, below: int, width: int, pane: CardBrowser, rows: list[_Row]) -> None:
    """Draw as many lines as there is room for, those of the marked hand among them."""
    own = [place for place, row in enumerate(rows) if not row.section and row.number == pane.at]
    shown = _window(len(rows), own, below - top)
    for y, place in enumerate(shown, start=top):
        row = rows[place]
        if row.number != pane.at and (
            _goes_on(row) if place == shown[-1] < len(rows) - 1 else _begun(row, place, shown)
        ):
            continue  # half a hand tells nothing
        if row.section:
            is_open = row.section == pane.section
            role: Role = "text" if is_open else "quiet"
            canvas.put(x, y, canvas.fitted(row.section, width), role, bold=is_open, key=f"section {row.number}")
        else:
            _draw_hand(canvas, x, y, width, pane, row)


def _goes_on(row: _Row) -> bool:
    return bool(row.name) and row.tiles is None


def _begun(row: _Row, place: int, shown: range) -> bool:
    return place == shown[0] and not row.name and not row.section


def _draw_hand(canvas: Canvas, x: int, y: int, width: int, pane: CardBrowser, row: _Row) -> None:
    """Draw one line of a hand: a sign, its name and its value, or its tiles."""
    told, is_marked = pane.told[row.number], row.number == pane.at
    ground: Ground = "chosen" if is_marked else "panel"
    sign = ("*" if canvas.look.ascii else "●") if told.hand.id == pane.pinned else " "
    canvas.put(x, y, " " * width, "text", ground)
    if row.name:
        name = f"{sign} {row.name}"
        canvas.put(x, y, canvas.fitted(name, min(cell_len(name), width)), "text", ground, bold=is_marked)
    if row.tiles:
        draw_row(canvas, x + (_TILES_AT if width >= _ONE_LINE else _INDENT), y, row.tiles, ground)
    if row.values:
        canvas.put(x + width - len(row.values) - 1, y, row.values, "text", ground, bold=is_marked)
    canvas.zone(x, y, width, 1, f"hand {row.number}")


def _ink(hits: int) -> Role:
    return "text" if hits else "quiet"


def _window(count: int, own: list[int], room: int) -> range:
    """Return which of so many lines are shown; the wanted ones, which follow each other, are among them."""
    middle = (own[0] + own[-1] + 1) // 2 if own else 0
    first = max(0, min(middle - room // 2, count - room))
    return range(first, min(count, first + max(0, room)))

"""The card of hands: every section by name, the hands of one of them or all that were found, and the marked hand.

Draws a CardBrowser; knows no rack.
"""

from rich.cells import cell_len

from client.models.card_browser import CardBrowser
from client.text import wrapped
from client.theme import Ground, Role
from client.tui.widgets.canvas import Canvas, fitted
from shared.cards import Hand

_SIDE_BY_SIDE = 60
"""Columns from which sections stand beside their hands; below, the open section stands among the others."""
_NAMES = 17
_VALUE = 5


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
    canvas.put(1, 0, fitted(title, min(canvas.width - 2 - room_at_end, cell_len(title))), bold=True)


def _marked(canvas: Canvas, pane: CardBrowser) -> int:
    """Write what there is to say of the marked hand at the bottom; return the row where that begins."""
    hand = pane.marked
    if hand is None:
        return canvas.height
    facts = [hand.id, f"value {hand.value}"] + (["concealed"] if hand.concealed else [])
    facts += [f"n = {', '.join(map(str, hand.n))}"] if hand.n else []
    lines = wrapped(", ".join(facts), canvas.width - 4)[:3]
    if canvas.width < _SIDE_BY_SIDE:
        about = next((section.about for section in pane.sections if section.name == hand.section), "")
        lines += ["", *wrapped(about, canvas.width - 4)]
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
    for y, number in enumerate(_window(len(names), here, below - top), start=top):
        name = names[number]
        count = f" {hits[name]}" if pane.query.strip() else ""
        ground: Ground = "chosen" if name == pane.section else "panel"
        canvas.put(
            1, y, fitted(f" {name}", _NAMES - len(count)) + count, _ink(hits[name]), ground, key=f"section {number}"
        )
    listed = pane.listed()
    at = listed.index(pane.at) if pane.at in listed else 0
    for y, place in enumerate(_window(len(listed), at, below - top), start=top):
        _line(canvas, _NAMES + 2, y, canvas.width - _NAMES - 3, pane, listed[place])


def _among(canvas: Canvas, pane: CardBrowser, top: int, below: int) -> None:
    """Draw the sections below each other, the open one with its hands; a long hand takes two lines."""
    width = canvas.width - 2
    rows: list[tuple[str, int, str]] = []
    if pane.query.strip():
        for number in pane.listed():
            rows += [("hand", number, line) for line in _broken(pane.hands[number], width)]
    else:
        for number, section in enumerate(pane.sections):
            rows.append(("section", number, section.name))
            if section.name == pane.section:
                for hand in pane.listed():
                    rows += [("hand", hand, line) for line in _broken(pane.hands[hand], width)]
    at = next((row for row, (kind, number, _) in enumerate(rows) if kind == "hand" and number == pane.at), 0)
    for y, row in enumerate(_window(len(rows), at, below - top - 1), start=top):
        kind, number, text = rows[row]
        if kind == "section":
            is_open = text == pane.section
            canvas.put(1, y, fitted(text, width), "text" if is_open else "quiet", bold=is_open, key=f"section {number}")
        else:
            first = row == 0 or rows[row - 1][:2] != (kind, number)
            _line(canvas, 1, y, width, pane, number, text, first)


def _line(
    canvas: Canvas, x: int, y: int, width: int, pane: CardBrowser, number: int, text: str = "", first: bool = True
) -> None:
    """Draw one line of a hand: a sign, its groups, its value."""
    hand, plain = pane.hands[number], canvas.look.ascii
    ground: Ground = "chosen" if number == pane.at else "panel"
    sign = ("*" if plain else "●") if hand.id == pane.pinned else " "
    value = f"{hand.value}{' C' if hand.concealed else '  '}" if first else ""
    room = width - 2 - _VALUE
    groups = text or hand.groups
    cut = groups if cell_len(groups) <= room else groups[: room - 1] + "~"
    canvas.put(
        x, y, f"{sign if first else ' '} {fitted(cut, room)}{value:>{_VALUE}}", "text", ground, bold=number == pane.at
    )
    canvas.zone(x, y, width, 1, f"hand {number}")


def _broken(hand: Hand, width: int) -> list[str]:
    lines = wrapped(hand.groups, width - 2 - _VALUE)
    return [lines[0], *(f"  {line}" for line in lines[1:])]


def _ink(hits: int) -> Role:
    return "text" if hits else "quiet"


def _window(count: int, at: int, room: int) -> range:
    """Return which of so many lines are shown, the one in hand among them."""
    first = max(0, min(at - room // 2, count - room))
    return range(first, min(count, first + max(0, room)))

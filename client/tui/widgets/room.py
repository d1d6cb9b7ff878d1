"""What a club's room reads from its wall. Draws the model; names are plain text."""

from rich.cells import cell_len

from client.models.desk import DeskModel, table_name
from client.tui.widgets.big_text import height, put_middle, wide
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.head import clock_text
from client.tui.widgets.letters import has_letters
from client.tui.widgets.standings import draw_standings
from shared.names import EVENING_CELLS, clean_name
from shared.wire.club_views import TableShown

TURN_MS = 10_000
"""How long each page stays where not all fit at once."""
_STANDINGS = 8
"""Rows from which standings are worth their place."""


def draw_room(canvas: Canvas, model: DeskModel, code: str, addresses: tuple[str, ...], now_ms: int) -> None:
    """Draw how to come in, and below it the tables and the standings, in turns where there is no room for both."""
    view = model.view
    if view is None:
        return
    canvas.middle(0, clean_name(view.name, "evening", EVENING_CELLS), "mark", bold=True)
    starts_in_ms = model.starts_in_ms(now_ms)
    if starts_in_ms is not None:
        canvas.end(0, f"all tables start in {clock_text(starts_in_ms)}", "alarm", margin=2, bold=True)
    if view.over:
        y = put_words(canvas, 2, ("THE EVENING", "IS OVER"))
        _standings(canvas, y + 1, model)
        return
    y = _way_in(canvas, 2, code, addresses)
    tables, room = model.tables, canvas.height - y - 1
    has_ranking = bool(model.ranking.speed or model.ranking.loss or model.ranking.points)
    if has_ranking and len(tables) + 1 + _STANDINGS <= room:
        _tables(canvas, y, model, tables, now_ms)
        _standings(canvas, y + len(tables) + 1, model)
        return
    parts = [tables[first : first + room] for first in range(0, len(tables), max(1, room))]
    turn = now_ms // TURN_MS % max(1, len(parts) + has_ranking)
    if turn < len(parts):
        _tables(canvas, y, model, parts[turn], now_ms)
    elif has_ranking:
        _standings(canvas, y, model)
    else:
        canvas.middle(y + 1, "No table is open yet.", "quiet")


def _standings(canvas: Canvas, y: int, model: DeskModel) -> None:
    canvas.middle(y - 1, model.coach_words(), "quiet")
    draw_standings(canvas, y, model.ranking)


def put_words(canvas: Canvas, y: int, words: tuple[str, ...], scale: int = 1) -> int:
    """Draw words in letters, one below the other, and return the row below them."""
    for word in words:
        put_middle(canvas, y, word, scale, strong=True)
        y += height(scale, canvas.look.ascii)
    return y


def _way_in(canvas: Canvas, y: int, code: str, addresses: tuple[str, ...]) -> int:
    """Draw how guests come in; return the row below it."""
    address = addresses[0] if addresses else ""
    if address:
        asks, how = "Come and play: ", f"racktempo join {address}  and this code"
        canvas.middle(y - 1, how if cell_len(asks + how) > canvas.width else asks + how, bold=True)
    if code:
        most = canvas.height * 2 // 5
        ways = [(scale, _balanced(code.upper(), scale, canvas.width - 4)) for scale in (3, 2, 1)]
        fit = ((scale, rows) for scale, rows in ways if len(rows) * height(scale, canvas.look.ascii) <= most)
        scale, rows = next(fit, ways[-1])
        y = put_words(canvas, y + 1, rows, scale)
        canvas.middle(y, code, "quiet")
        y += 1
    big = address.upper()
    if has_letters(big) and wide(big, 1) <= canvas.width - 4 and y + height(1, canvas.look.ascii) + 8 <= canvas.height:
        y = put_words(canvas, y + 1, (big,))
    if len(addresses) > 1:
        canvas.middle(y, f"or at {'  or  '.join(addresses[1:3])}", "quiet")
        y += 1
    return y + 1


def _balanced(code: str, scale: int, width: int) -> tuple[str, ...]:
    """Return a code in as few rows as fit, of lengths as equal as its words allow."""
    rows = _rows_of(code, scale, width)
    while True:
        widest = max(wide(row, scale) for row in rows)
        narrower = _rows_of(code, scale, widest - 1)
        if len(narrower) > len(rows) or max(wide(row, scale) for row in narrower) >= widest:
            return rows
        rows = narrower


def _rows_of(code: str, scale: int, width: int) -> tuple[str, ...]:
    """Return a code broken at its dashes so that each row fits, the dash kept at the row's end."""
    rows = [""]
    for number, word in enumerate(code.split("-")):
        longer = f"{rows[-1]}-{word}" if number else word
        if not number or wide(f"{longer}-", scale) <= width:
            rows[-1] = longer
        else:
            rows[-1] += "-"
            rows.append(word)
    return tuple(rows)


def _tables(canvas: Canvas, y: int, model: DeskModel, tables: tuple[TableShown, ...], now_ms: int) -> None:
    left = max(1, (canvas.width - 100) // 2)
    wide_enough = canvas.width >= 100
    for row, table in enumerate(tables, start=y):
        canvas.put(left, row, canvas.fitted(table_name(table), 28 if wide_enough else 24), "mark", bold=True)
        x = left + (30 if wide_enough else 26)
        owing = [chair for chair in table.chairs if chair.owes and not chair.answered]
        if table.phase != "heat":
            words = {"seating": "not begun", "over": "set over"}.get(table.phase, f"after heat {table.heat_number}")
            ready = sum(chair.ready for chair in table.chairs if chair.sitter == "person")
            people = sum(chair.sitter == "person" for chair in table.chairs)
            words += f", {ready} of {people} ready" if people and table.phase != "over" else ""
            canvas.put(x, row, words, "quiet")
            continue
        canvas.put(x, row, f"heat {table.heat_number}: {table.step}", "text")
        left_ms = max((model.left_ms(chair, now_ms) for chair in owing), default=0)
        clock = "paused" if table.paused else clock_text(left_ms) if owing else ""
        canvas.put(x + 24, row, clock, "warn" if table.paused else "text", bold=True)
        if not table.paused and len(owing) < 3 and owing:
            names = ", ".join(clean_name(chair.name, "?") for chair in owing)
            room = canvas.width - x - 33
            canvas.put(x + 31, row, canvas.fitted(f"waits for {names}", room) if room > 12 else "", "quiet")

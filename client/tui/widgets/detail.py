"""The route in full: every step with this seat's seconds, what it gave and what came."""

from client.models.table import TableModel
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.head import seconds_text
from shared.rules.steps import SECOND
from shared.rules.tiles import format_tiles
from shared.wire.views import RouteStep

_COLUMNS_FROM = 72
"""Cells from which steps stand in columns, for a broad and low pane; the plan, which moves no tiles, is left out."""
_COLUMNS = 3
_ROWS = 3


def draw_route(canvas: Canvas, model: TableModel) -> None:
    """Draw the steps, three rows each."""
    heat = model.heat
    canvas.ground = "panel"
    for y in range(canvas.height):
        canvas.put(0, y, " " * canvas.width)
    if heat is None:
        return
    canvas.put(2, 0, "Your route: what went and what came", bold=True)
    columns = _COLUMNS if canvas.width >= _COLUMNS_FROM else 1
    width = canvas.width // columns
    route = [step for step in heat.route if columns == 1 or step.step != "plan"]
    deep = -(-len(route) // columns)
    y = 2 if columns == 1 else 1
    for number, step in enumerate(route):
        column, row = divmod(number, deep)
        skipped = heat.stopped and step.state == "ahead" and step.step in SECOND
        if columns > 1:
            y = 1 + row * _ROWS
        y += _step(canvas, column * width, width, y, model, step, skipped)


def _step(canvas: Canvas, left: int, width: int, y: int, model: TableModel, step: RouteStep, skipped: bool) -> int:
    """Draw one step into a column and return how many rows it takes, with one left free."""
    now = step.state == "now"
    sign = ">" if canvas.look.ascii else "▸"
    role: Role = "text" if step.state != "ahead" else "quiet"
    canvas.put(left, y, f"{sign if now else ' '} {step.step}", role, bold=now)
    if skipped:
        _end(canvas, left + width, y, "not played" if width >= 30 else "skipped")
        return 2
    late = step.by == "timeout"
    if step.spent_ms is not None:
        time = f"{'out ' if late else ''}{seconds_text(step.spent_ms)}"
        _end(canvas, left + width, y, time if width < 30 else f"{time} / {step.length_ms / 1000:.1f}", late)
    elif width >= 30:
        _end(canvas, left + width, y, f"/ {step.length_ms / 1000:.1f}")
    rows = 1
    unseen = f"{' + ' if step.given else ''}{step.blind} blind" if step.blind else ""
    if model.stage != "paused":
        for word, text in (("gave", format_tiles(step.given) + unseen), ("came", format_tiles(step.came))):
            if text:
                canvas.put(canvas.put(left + 2, y + rows, f"{word} ", "quiet"), y + rows, text)
                rows += 1
    return rows + 1


def _end(canvas: Canvas, right: int, y: int, text: str, late: bool = False) -> None:
    canvas.put(right - 1 - len(text), y, text, "alarm" if late else "quiet")

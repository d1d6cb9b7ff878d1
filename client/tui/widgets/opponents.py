"""The middle of the table screen: the step clock in large figures, and the other three seats around it."""

from collections.abc import Callable

from rich.cells import cell_len

from client.models.neighbours import Neighbour, neighbours
from client.models.step_clock import StepClock
from client.models.table import TableModel
from client.theme import Role
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.faces import figures
from client.tui.widgets.head import clock_text, seconds_text

_LEAST = 7
"""Rows below which there are no figures, only words."""
_LARGE_FROM = 18
"""Rows from which the clock is drawn in large figures, and all is spread out."""
_WIDE_FROM = 74
"""Columns from which the words beside the clock leave room for large figures and are written out."""


def clock_in_short(model: TableModel, now_ms: int) -> str:
    """Return the step clock in a few characters, with a sign for the last ten seconds."""
    face = model.face(now_ms)
    if model.guided and model.stage != "paused":
        return "no clock"
    stands = " stands still" if model.line else " !!" if face.last_ten else ""
    return "paused" if model.stage == "paused" else f"{clock_text(face.left_ms)}{stands}"


class Opponents(Drawn):
    """Left, across and right of this seat, as they sit; the clock where the table's centre would be."""

    def __init__(self, model: TableModel, now_ms: Callable[[], int]) -> None:
        super().__init__()
        self.model = model
        self.now_ms = now_ms

    def draw(self, canvas: Canvas) -> None:
        """Draw at least seven rows; spare rows go above and below the clock."""
        if self.model.heat is None:
            return
        if canvas.height < _LEAST:
            self._in_lines(canvas)
            return
        large = canvas.height >= _LARGE_FROM and canvas.width >= _WIDE_FROM
        rows = 11 if large else 6
        top = 1 + max(0, (canvas.height - 1 - rows) // 2)
        self._clock(canvas, top, large)
        for seat in neighbours(self.model):
            if seat.relation == "across":
                _across(canvas, max(0, (top - 1) // 2), seat)
            else:
                _beside(canvas, top + rows // 2 - 2, seat)

    def _in_lines(self, canvas: Canvas) -> None:
        """Say the same in a line for each seat, the clock first."""
        face = self.model.face(self.now_ms())
        hurry, text = face.last_ten, clock_in_short(self.model, self.now_ms())
        carried = f"  +{seconds_text(face.carried_ms)} carried" if face.carried_ms else ""
        canvas.put(canvas.put(2, 0, text, "alarm" if hurry and not canvas.look.calm else "text", bold=True), 0, carried)
        for y, seat in enumerate(neighbours(self.model), start=1):
            x = canvas.put(2, y, f"{seat.relation}: ", "quiet")
            x = canvas.put(x, y, seat.name, bold=True)
            x = canvas.put(x + 2, y, seat.status, _status_role(seat))
            canvas.put(x + 2, y, _marks(seat), "mark", bold=True)

    def _clock(self, canvas: Canvas, y: int, large: bool) -> None:
        face = self.model.face(self.now_ms())
        if self.model.stage == "paused":
            canvas.middle(y + 2, "P A U S E D", "warn", bold=True)
            canvas.middle(y + 4, "all clocks are paused", "quiet")
            return
        if self.model.guided:
            canvas.middle(y + 2, "no clock", "quiet")
            return
        draw_clock(canvas, y, face, large)
        if self.model.line:
            canvas.middle(y + (10 if large else 5), " not connected: stands still ", "alarm", bold=True)


def draw_clock(canvas: Canvas, y: int, face: StepClock, large: bool) -> None:
    """Draw a clock in figures in the middle, five rows or ten, and the time that is left as a bar below."""
    tenths = face.last_ten and not canvas.look.calm
    text = f"{face.left_ms // 1000}.{face.left_ms % 1000 // 100}" if tenths else clock_text(face.left_ms)
    rows = figures(text, canvas.look.ascii, large)
    role: Role = "text" if canvas.look.calm or not face.running else "alarm" if face.last_ten else "text"
    x = (canvas.width - len(rows[0])) // 2
    for row, line in enumerate(rows):
        canvas.put(x, y + row, line, role if face.running else "quiet")
        if face.last_ten:
            canvas.put(x - 3, y + row, "!", role, bold=True)
            canvas.put(x + len(line) + 2, y + row, "!", role, bold=True)
    least = len(figures(clock_text(0), canvas.look.ascii, large)[0])
    _bar(canvas, y + len(rows), max(len(rows[0]), least), face)


def _bar(canvas: Canvas, y: int, width: int, face: StepClock) -> None:
    if not face.budget_ms:
        return
    full, empty = ("#", ".") if canvas.look.ascii else ("━", "╌")
    ink = round(face.share * width)
    x = (canvas.width - width) // 2
    canvas.put(canvas.put(x, y, full * ink, "text"), y, empty * (width - ink), "line")
    if face.carried_ms:
        canvas.put(x + width + 1, y, f"+{seconds_text(face.carried_ms)} carried", "good")


def _across(canvas: Canvas, y: int, seat: Neighbour) -> None:
    marks = _marks(seat)
    between = f"  {seat.wind}, across  "
    x = (canvas.width - cell_len(seat.name + between + seat.status) - (len(marks) + 3 if marks else 0)) // 2
    x = canvas.put(x, y, seat.name, bold=True)
    x = canvas.put(x, y, between, "quiet")
    x = canvas.put(x, y, seat.status, _status_role(seat))
    canvas.put(x + 3, y, marks, "mark", bold=True)


def _beside(canvas: Canvas, y: int, seat: Neighbour) -> None:
    marks, on_your = _marks(seat), "on your " if canvas.width >= _WIDE_FROM else ""
    lines: list[tuple[str, Role]] = [
        (seat.name, "text"),
        (f"{seat.wind}, {on_your}{seat.relation}", "quiet"),
        (seat.status, _status_role(seat)),
        (marks, "mark"),
    ]
    for row, (text, role) in enumerate(lines):
        bold = row in (0, 3)
        if seat.relation == "left":
            canvas.put(2, y + row, text, role, bold=bold)
        else:
            canvas.end(y + row, text, role, margin=2, bold=bold)


def _marks(seat: Neighbour) -> str:
    if seat.gives_to_me and seat.gets_from_me:
        return "you swap"
    return "passes to you" if seat.gives_to_me else "you pass here" if seat.gets_from_me else ""


def _status_role(seat: Neighbour) -> Role:
    if seat.away:
        return "alarm"
    return "good" if seat.status.startswith("answered") else "quiet"

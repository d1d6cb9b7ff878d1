"""The lines at the top of the table screen: which heat this is, and the route of its steps."""

from collections.abc import Callable

from rich.cells import cell_len

from client.models.table import TableModel
from client.models.watched import seen_by
from client.setup import fitting_name
from client.theme import Role
from client.tui.widgets.canvas import Canvas, Drawn
from shared.names import clean_name
from shared.rules.seats import Direction, Seat
from shared.rules.steps import SECOND, STEPS, StepName
from shared.wire.views import RouteStep

_ARROWS = {"right": "▸", "across": "▴", "left": "◂"}
_PLAIN_ARROWS = {"right": ">", "across": "^", "left": "<"}
_ARROWS_FROM = 8
"""Cells of a column from which a direction has its arrow, unless the word fills the column."""
_SHORT: dict[StepName, str] = {
    "go on": "go on?",
    "courtesy offer": "offer",
    "courtesy give": "give",
    "side offer": "side?",
    "side give": "side",
    "plan": "plan",
}


def arrow(direction: Direction | None, plain: bool = False) -> str:
    """Return the arrow of a direction, or nothing."""
    return (_PLAIN_ARROWS if plain else _ARROWS)[direction.word] if direction else ""


def clock_text(left_ms: int) -> str:
    """Return minutes and seconds, the running second counted as a whole one.

    >>> clock_text(59_001), clock_text(0)
    ('1:00', '0:00')
    """
    seconds = -(-left_ms // 1000)
    return f"{seconds // 60}:{seconds % 60:02d}"


def seconds_text(spent_ms: int) -> str:
    """Return seconds with one decimal, as spent times are written.

    >>> seconds_text(12_340)
    '12.3'
    """
    return f"{spent_ms / 1000:.1f}"


class Title(Drawn):
    """One line with the name of a screen; at its end a key that the last line has no room for."""

    def __init__(self, text: str | Callable[[], str], key: Callable[[], str] = str) -> None:
        super().__init__()
        self.text, self.key = text, key

    def draw(self, canvas: Canvas) -> None:
        """Draw the line."""
        canvas.ground = "panel"
        canvas.put(0, 0, " " * canvas.width)
        text = self.text if isinstance(self.text, str) else self.text()
        shown = self.key()
        x = canvas.width - cell_len(shown) - 2
        canvas.put(2, 0, canvas.fitted(text, x - 4), "mark", bold=True)
        if shown:
            key, _, does = shown.partition(" ")
            canvas.put(canvas.put(x, 0, key, "mark", bold=True) + 1, 0, does, "text")
            canvas.zone(x, 0, cell_len(shown), 1, key.lower())


class Head(Drawn):
    """One line: the table, the heat, this seat, and whether the line to the table is up."""

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        """Draw the line."""
        canvas.ground = "panel"
        canvas.put(0, 0, " " * canvas.width)
        view, heat = self.model.view, self.model.heat
        if view is None or heat is None:
            return
        told, role = self._besides()
        right = f" {told}" if told else ""
        x = canvas.put(
            1, 0, clean_name(view.table, "table") + (f", chair {view.you + 1}" if view.club else ""), bold=True
        )
        x = canvas.put(x + 2, 0, f"heat {len(view.results) + 1} of {view.settings.heats}", "quiet")
        if laid := self.model.laid(heat.number):
            x = canvas.put(x + 2, 0, laid.what, "warn", bold=True)
        wind = Seat(heat.seat).word
        ways = (f"you are {wind}{', the dealer' if heat.seat == Seat.EAST else ''}", f"you are {wind}")
        room = canvas.width - 1 - cell_len(right) - x - 2
        x = canvas.put(x + 2, 0, next((way for way in ways if len(way) <= room), wind))
        wall = self.model.wall.short()
        if not told and x + len(wall) + 3 < canvas.width:
            right, role = wall, "quiet"
        canvas.end(0, right, role, margin=1, bold=role in ("alarm", "warn"))

    def _besides(self) -> tuple[str, Role]:
        """Return what stands at the right end, the most pressing of all that could."""
        view, heat = self.model.view, self.model.heat
        assert view
        assert heat
        if self.model.line:
            return "not connected", "alarm"
        if seen := seen_by(view):
            return f"{'teacher: watching' if view.club else f'rack seen by {fitting_name(seen, 16)}'} (F9)", "warn"
        if self.model.bot_in_my_seat:
            return "you play from the next heat on" if self.model.plays_next else "a bot plays for you (t)", "warn"
        if heat.stopped:
            return "stopped after first left", "warn"
        return (f"target: {fitting_name(self.model.target, 21)}", "mark") if self.model.target else ("", "quiet")


class Route(Drawn):
    """The steps in order: the current one marked, the done ones with this seat's seconds, the others' lengths."""

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        """Draw two rows, one column a step."""
        heat = self.model.heat
        if heat is None or not heat.route:
            return
        if canvas.width < 7 * len(heat.route):
            self._in_words(canvas, heat.route)
            return
        width = min(10, canvas.width // len(heat.route))
        x = (canvas.width - width * len(heat.route)) // 2
        for step in heat.route:
            skipped = heat.stopped and step.state == "ahead" and step.step in SECOND
            self._column(canvas, x, width, step, skipped)
            x += width

    def _in_words(self, canvas: Canvas, route: tuple[RouteStep, ...]) -> None:
        """Name the running step and the next, where there is no room for all."""
        now = next((number for number, step in enumerate(route) if step.state == "now"), None)
        if now is None:
            return
        x = canvas.put(2, 0, f"step {now + 1} of {len(route)}: {route[now].step}", bold=True)
        x = canvas.put(x, 0, f", {route[now].length_ms / 1000:.0f} s")
        if now + 1 < len(route):
            canvas.put(x, 0, f", then {route[now + 1].step}", "quiet")

    def _column(self, canvas: Canvas, x: int, width: int, step: RouteStep, skipped: bool) -> None:
        plain = canvas.look.ascii
        title = _SHORT.get(step.step) or f"{step.step.split()[-1]}{arrow(STEPS[step.step].direction, plain)}"
        under = "" if self.model.guided else f"of {step.length_ms / 1000:.0f}"
        role: Role = "quiet"
        if skipped:
            under = "not run" if plain else "––"
        elif step.state == "done" and step.spent_ms is None:
            under = "none"
        elif step.spent_ms is not None:
            late = "!" if step.by == "timeout" else ""
            under, role = f"{seconds_text(step.spent_ms)}{late}", "alarm" if late else "good"
        if step.state == "now":
            sign = ">" if plain else "▸"
            shown = f"{sign}{title}"
            shown = shown if cell_len(shown) < width else shown[:-1]  # the arrow goes first
            canvas.put(x, 0, canvas.fitted(shown, width - 1), "text", "chosen", bold=True)
            canvas.put(x, 1, canvas.fitted(f" {under}", width - 1), "text", "chosen")
        else:
            has_room = width >= _ARROWS_FROM and cell_len(title) < width - 1
            shown = title if has_room else title.rstrip(arrow(STEPS[step.step].direction, plain))
            canvas.put(x + 1, 0, shown, "text" if step.state == "done" else "quiet")
            canvas.put(x + 1, 1, under, role)

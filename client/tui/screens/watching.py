"""What somebody beside a single table sees: who plays, whose seconds run, the results, and racks where agreed."""

from client.tui.screens.onlooker import OnlookerScreen
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.head import clock_text
from client.tui.widgets.key_bar import LEAVE, Keys
from client.tui.widgets.seen import draw_chair
from shared.names import clean_name
from shared.wire.club_views import HeatShown, TableShown

_WIDTH, _COLUMN = 78, 17


class WatchScreen(OnlookerScreen):
    """One table, from beside it."""

    ABOUT = (
        "You see what is open to all. A rack is here only while the host lets you see racks and its player agrees. If "
        "you wait for a chair, the next free one is yours; after racks were shown you play from the next heat on."
    )

    def keys(self) -> Keys:
        """Return the way out; nothing else can be done here."""
        return LEAVE

    def press(self, key: str) -> None:
        """Leave, or do nothing."""
        if key in ("q", "f10"):
            self.carry_out(self.model.press("q"))

    def _heading(self) -> str:
        view = self.model.view
        if view is None:
            return ""
        does = "you wait for a chair" if view.role == "waiting" else "you watch"
        return f"{clean_name(view.name, 'table', 32)}   {does}"

    def _words(self) -> str:
        view = self.model.view
        if self.model.line or self.model.note or view is None:
            return self.model.line or self.model.note
        if not view.teacher:
            return "Racks are seen only where the host lets you and a player agrees."
        shown = any(chair.shows for table in view.tables for chair in table.chairs)
        return "" if shown else "The host lets you see racks; no player has agreed yet."

    def _draw(self, canvas: Canvas) -> None:
        table, view = self.model.table, self.model.view
        if table is None or view is None:
            return
        left = max(1, (canvas.width - _WIDTH) // 2)
        canvas.put(left, 0, _stands(table), bold=True)
        gap = 2 if not view.teacher else 4 if canvas.height >= 26 else 3
        for number, chair in enumerate(table.chairs):
            left_ms = self.model.left_ms(chair, self.shell.now_ms())
            draw_chair(canvas, left, 2 + gap * number, table, number, left_ms, view.teacher)
        y = self._results(canvas, left, 2 + 4 * gap, table)
        self._line(canvas, left, y)

    def _results(self, canvas: Canvas, left: int, y: int, table: TableShown) -> int:
        """Draw what the last heats took, as many as fit above two lines; return the line below."""
        room = canvas.height - y - 2
        shown = table.results[-room:] if room > 0 else ()
        for row, heat in enumerate(shown):
            canvas.put(left, y + row, f"heat {heat.number}", "quiet")
            for at, cell in enumerate(_times(heat)):
                canvas.put(left + 9 + at * _COLUMN, y + row, canvas.fitted(cell, _COLUMN - 1))
        return y + len(shown)

    def _line(self, canvas: Canvas, left: int, y: int) -> None:
        """Say who waits for a chair, the first one first."""
        waiting = self.model.waiting
        if waiting and y < canvas.height:
            names = ", ".join(clean_name(one.name, "somebody") for one in waiting)
            words = f"waiting for a chair, the first one first: {names}"
            canvas.put(left, y, canvas.fitted(words, _WIDTH - 1), "quiet")


def _stands(table: TableShown) -> str:
    """Return how the table stands."""
    heat = f"heat {table.heat_number} of {table.heats}"
    match table.phase:
        case "heat":
            return f"{heat}: {table.step}{', paused' if table.paused else ''}"
        case "seating":
            return "The first heat has not begun."
        case "between":
            return f"{heat} is over; the next has not begun"
    return "The set is over."


def _times(heat: HeatShown) -> tuple[str, ...]:
    return tuple(f"{clean_name(chair.name, '?', 9)} {clock_text(chair.total_ms)}" for chair in heat.chairs)

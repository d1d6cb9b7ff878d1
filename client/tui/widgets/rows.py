"""A column of form rows: the selected row is marked, and a value that can be changed has an arrow on each side."""

from collections.abc import Callable, Sequence

from rich.cells import cell_len

from client.models.settings_form import Row
from client.theme import Ground
from client.tui.widgets.canvas import Canvas, Drawn


class Rows(Drawn):
    """Draws rows from first on; pressing a row is "row N", its arrows are "less N" and "more N"."""

    def __init__(
        self,
        rows: Callable[[], Sequence[Row]],
        at: Callable[[], int],
        first: int,
        last: int,
        id: str | None = None,
    ) -> None:
        super().__init__(id=id)
        self.rows, self.at, self.first, self.last = rows, at, first, last

    def draw(self, canvas: Canvas) -> None:
        """Draw one line a row."""
        rows = self.rows()
        room = canvas.width - 4
        less, more = "<>" if canvas.look.ascii else "◂▸"
        shown = self._shown(min(self.last, len(rows)), canvas.height)
        for y, number in enumerate(shown):
            row, here = rows[number], number == self.at()
            ground: Ground = "chosen" if here else canvas.ground
            canvas.put(1, y, " " * (room + 2), "text", ground)
            canvas.put(1, y, (">" if canvas.look.ascii else "▸") if here else " ", "text", ground, bold=True)
            value, end = row.value or ("......" if row.typed else ""), canvas.width - 2
            if not row.changes:  # the label says what the row does: it has room first
                value = canvas.fitted(value, max(0, min(cell_len(value), room - cell_len(row.label) - 2)))
            taken = cell_len(value) + (5 if row.changes else 2)
            canvas.put(3, y, canvas.fitted(row.label, room - taken), "text", ground, bold=here)
            canvas.zone(1, y, room + 2, 1, f"row {number}")
            if row.changes:
                canvas.put(end - 1, y, more, "text", ground, key=f"more {number}")
                canvas.put(end - 3 - cell_len(value) - 1, y, less, "text", ground, key=f"less {number}")
            canvas.put(end - 2 - cell_len(value), y, value, "text", ground, bold=here)
        up, down = "^v" if canvas.look.ascii else "▴▾"
        if shown and shown[0] > self.first:
            canvas.put(0, 0, up, "mark", bold=True, key=f"row {shown[0] - 1}")
        if shown and shown[-1] + 1 < min(self.last, len(rows)):
            canvas.put(0, len(shown) - 1, down, "mark", bold=True, key=f"row {shown[-1] + 1}")

    def _shown(self, last: int, room: int) -> range:
        """Return the rows that fit, including the selected one."""
        at = min(max(self.at(), self.first), last - 1)
        top = max(self.first, min(at - room // 2, last - room))
        return range(top, min(last, top + room))

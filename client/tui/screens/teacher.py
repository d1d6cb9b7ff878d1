"""A teacher's screen: the racks of those who agreed, as they are played, one table at a time."""

from client.models.desk import table_name
from client.tui.screens.onlooker import OnlookerScreen
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.key_bar import LEAVE, Keys
from client.tui.widgets.seen import draw_chair
from client.tui.widgets.standings import draw_standings
from shared.names import EVENING_CELLS, clean_name
from shared.wire.club_views import TableShown


class TeacherScreen(OnlookerScreen):
    """The tables of an evening for a teacher."""

    ABOUT = (
        "You see a rack only while its player agrees, and each of them sees that you are watching. Who watches as a "
        "teacher sits at no table meanwhile, and later at none that is still to play a heat that ran while you watched."
    )

    def keys(self) -> Keys:
        """Return the keys: another table, or the standings."""
        if self.model.page == "standings":
            return (("v", "tables", "v"), ("up down", "more", ""), *LEAVE)
        return (("left right", "table", "right"), ("v", "standings", "v"), *LEAVE)

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        if key in ("up", "down") and self.model.page == "tables":
            key = "left" if key == "up" else "right"
        if key != "w":
            self.carry_out(self.model.press(key))

    def _heading(self) -> str:
        view = self.model.view
        return f"{clean_name(view.name, 'evening', EVENING_CELLS)}   you are here as a teacher" if view else ""

    def _words(self) -> str:
        if said := self.model.line or self.model.note:
            return said
        return "" if self.model.is_over or _seen(self.model.tables) else "Nobody has agreed to show a rack yet."

    def _draw(self, canvas: Canvas) -> None:
        if self.model.page == "standings":
            canvas.middle(0, self.model.coach_words(), "quiet")
            self.model.hidden = draw_standings(canvas, 1, self.model.ranking, self.model.first)
            return
        table = self.model.table
        if table is None:
            canvas.middle(2, "No table is open.", "quiet")
            return
        left = max(1, (canvas.width - 78) // 2)
        end = canvas.put(left, 1, table_name(table), "mark", bold=True)
        state = f"heat {table.heat_number}: {table.step}" if table.phase == "heat" else "no heat is running"
        canvas.put(end + 3, 1, "paused: all racks are covered" if table.paused else state, "quiet")
        gap = 4 if canvas.height >= 22 else 3
        for number, chair in enumerate(table.chairs):
            left_ms = self.model.left_ms(chair, self.shell.now_ms())
            draw_chair(canvas, left, 3 + gap * number, table, number, left_ms)
        self._tables(canvas, left, 3 + 4 * gap)

    def _tables(self, canvas: Canvas, x: int, y: int) -> None:
        """List the tables in as many lines as there are, the one in sight always among them."""
        room, at = max(1, canvas.height - y - 1), max(0, self.model.at.table)
        first = max(0, min(at - room + 1, len(self.model.tables) - room))
        visible = self.model.tables[first : first + room]
        for row, table in enumerate(visible):
            here = first + row == at
            agreed = sum(chair.shows for chair in table.chairs)
            words = f"{agreed} agreed" if agreed else "nobody agreed"
            text = canvas.fitted(f" {table_name(table)}", 32) + canvas.fitted(words, 16)
            canvas.put(x, y + row, text, "text" if agreed or here else "quiet", "chosen" if here else None)
            canvas.zone(x, y + row, 48, 1, f"spot {first + row} 0")
        if rest := len(self.model.tables) - len(visible):
            canvas.put(x, canvas.height - 1, f"and {rest} more", "quiet")


def _seen(tables: tuple[TableShown, ...]) -> bool:
    return any(chair.shows for table in tables for chair in table.chairs)

"""The desk's picture of an evening: every table with its chairs, those who wait, and the standings.

Draws the model; a chair can be pressed, and a person dragged from one to another. Names are plain text.
"""

from collections.abc import Callable

from rich.cells import cell_len
from textual import events

from client.models.desk import DeskModel, Spot
from client.text import some
from client.theme import Ground, Role
from client.tui.widgets.canvas import Canvas, Drawn, Pressed
from client.tui.widgets.head import clock_text, seconds_text
from client.tui.widgets.standings import draw_standings
from shared.names import clean_name
from shared.wire.club_views import ChairShown, TableShown

BLOCK_WIDTH = 39
_BLOCK_HEIGHTS = (6, 5)
"""With a blank line under each table, and, where not all of them fit so, without."""
_BELOW = 3
"""Lines for those who wait."""
_WAITING_SHOWN = 4
"""So many of those who wait fit at any width."""


class Tables(Drawn):
    """All tables in columns, as many side by side as fit; the selected one is always visible."""

    def __init__(self, model: DeskModel, now_ms: Callable[[], int]) -> None:
        super().__init__()
        self.model, self.now_ms = model, now_ms
        self._pressed = ""

    def draw(self, canvas: Canvas) -> None:
        """Draw tables or standings."""
        if self.model.page == "standings":
            looking = self.model.coach_words()
            when = "; write the results (e) when it is through" if looking and self.model.is_desk else ""
            canvas.put(2, 1, f"{looking}{when}", "quiet")
            self.model.hidden = draw_standings(canvas, 2, self.model.ranking, self.model.first)
            return
        columns = max(1, canvas.width // BLOCK_WIDTH)
        needed = -(-len(self.model.tables) // columns)
        room = [max(1, (canvas.height - _BELOW) // height) for height in _BLOCK_HEIGHTS]
        rows, block = (room[0], _BLOCK_HEIGHTS[0]) if needed <= room[0] else (room[1], _BLOCK_HEIGHTS[1])
        self.model.columns = columns
        first = 0
        if self.model.at.table >= 0:
            first = max(0, self.model.at.table // columns - rows + 1) * columns
        left = max(1, (canvas.width - columns * BLOCK_WIDTH) // 2 + 1)
        shown = self.model.tables[first : first + rows * columns]
        for place, table in enumerate(shown, start=first):
            down, across = divmod(place - first, columns)
            self._table(canvas, left + across * BLOCK_WIDTH, down * block, place, table)
        more = len(self.model.tables) - len(shown)
        canvas.put(left, canvas.height - _BELOW, self.model.coach_words(), "quiet")
        if more:
            canvas.end(canvas.height - _BELOW, f"and {some(more, 'more table')}", "quiet", margin=2)
        if not self.model.tables:
            canvas.middle(2, "No table is open.", "quiet")
        self._waiting(canvas, left, canvas.height - _BELOW + 1)

    def _table(self, canvas: Canvas, x: int, y: int, place: int, table: TableShown) -> None:
        width = BLOCK_WIDTH - 2
        canvas.put(x, y, " " * width, "text", "panel")
        end = canvas.put(x, y, f"{table.number:>2} ", "quiet", "panel")
        end = canvas.put(end, y, clean_name(table.name, "table"), "mark", "panel", bold=True)
        state, role = _state_of(table)
        if end + 1 + len(state) > x + width:
            state = state.partition(":")[2].strip() or state
        canvas.put(x + width - len(state) - 1, y, state, role, "panel")
        for number, chair in enumerate(table.chairs):
            self._chair(canvas, x, y + 1 + number, Spot(place, number), table, chair)

    def _chair(self, canvas: Canvas, x: int, y: int, spot: Spot, table: TableShown, chair: ChairShown) -> None:
        width, model = BLOCK_WIDTH - 2, self.model
        here = model.at == spot
        ground: Ground = "chosen" if here else "page"
        canvas.put(x, y, " " * width, "text", ground)
        sign = (">" if canvas.look.ascii else "▸") if here else " "
        canvas.put(x + 1, y, sign, "text", ground, bold=True)
        is_held = bool(chair.person) and chair.person == model.held
        name = clean_name(chair.name) or ("(empty)" if chair.sitter == "nobody" else "(no name)")
        role: Role = "text" if chair.sitter == "person" or here else "quiet"
        canvas.put(
            x + 3, y, canvas.fitted(f"[{name}]" if is_held else name, 18), role, ground, bold=chair.sitter == "person"
        )
        word, word_role = status_of(table, spot.chair, model.left_ms(chair, self.now_ms()))
        canvas.put(x + 22, y, canvas.fitted(word, width - 23), "text" if here else word_role, ground)
        if chair.shows:
            canvas.put(x + width - 1, y, "T", "text" if here else "warn", ground, bold=True)
        canvas.zone(x, y, width, 1, f"spot {spot.table} {spot.chair}")

    def _waiting(self, canvas: Canvas, x: int, y: int) -> None:
        waiting, at, first = self.model.waiting, self.model.at, 0
        end = canvas.put(x, y, "waiting ", "quiet")
        if at.table < 0:  # the selected one stays in sight
            first = max(0, at.chair - _WAITING_SHOWN + 1)
        if not waiting:
            here = at.table < 0
            canvas.put(end, y, "nobody", "text" if here else "quiet", "chosen" if here else None)
            canvas.zone(x, y, canvas.width - x, 1, "spot -1 0")
        for number, one in enumerate(waiting[first:], start=first):
            name = clean_name(one.name, "(no name)")
            shown = f"[{name}]" if one.person and one.person == self.model.held else f" {name} "
            is_last = y == canvas.height - 1
            more = len(f"and {len(waiting)} more ") if is_last else 0
            if end + cell_len(shown) + more > canvas.width - 2:
                if is_last:
                    canvas.put(end, y, f"and {len(waiting) - (number - first)} more", "quiet")
                    break
                y, end = y + 1, x
            here = at == Spot(-1, number)
            role: Role = "text" if one.connected or here else "quiet"
            end = canvas.put(end, y, shown, role, "chosen" if here else None, key=f"spot -1 {number}") + 1

    # ---- the mouse

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Remember where the button went down."""
        self._pressed = self.canvas().key_at(event.x, event.y) or ""

    def on_mouse_up(self, event: events.MouseUp) -> None:
        """On the place where it went down it is a click; on another one a person was dragged there."""
        down, up = self._pressed, self.canvas().key_at(event.x, event.y) or ""
        self._pressed = ""
        if down.startswith("spot ") and up.startswith("spot ") and down != up:
            self.post_message(Pressed(f"drag {down[5:]} {up[5:]}"))
        elif up and up == down:
            self.post_message(Pressed(up))

    def on_click(self, event: events.Click) -> None:
        """Clicks are dealt with when the button comes up."""
        event.stop()


def _state_of(table: TableShown) -> tuple[str, Role]:
    if table.phase == "heat":
        return (f"{'paused' if table.paused else f'heat {table.heat_number}'}: {table.step}", "warn")
    words = {"seating": "not begun", "between": f"after heat {table.heat_number}", "over": "set over"}
    return words[table.phase], "quiet"


def status_of(table: TableShown, number: int, left_ms: int) -> tuple[str, Role]:
    """Return how a chair stands: its clock in a heat, after one what it took."""
    chair = table.chairs[number]
    away = chair.sitter == "person" and not chair.connected
    if chair.sitter == "nobody":
        return "", "quiet"
    if table.phase == "heat":
        if chair.answered:
            return ("away, answered", "alarm") if away else ("answered", "good")
        if chair.owes:
            clock = f"{clock_text(left_ms)} left"
            return (f"away {clock}", "alarm") if away else (f"{'bot ' if chair.sitter == 'bot' else ''}{clock}", "text")
        return ("away", "alarm") if away else ("waits", "quiet")
    if away:
        return "away", "alarm"
    if chair.sitter == "bot":
        return "bot", "quiet"
    if not table.results:
        return ("ready", "good") if chair.ready else ("not ready", "quiet")
    last = table.results[-1].chairs[number]
    took = f"{seconds_text(last.total_ms)} s" if chair.name in last.name.split(" + ") else "new here"
    return (f"{took} ready", "good") if chair.ready else (took, "quiet")

"""The pane at the table that shows one thing: the card, the route in full, the coach's word, or a guided step's words.

It stands beside the table on a wide screen and in place of the upper part on others. Draws what it is given.
"""

from collections.abc import Callable

from textual import events

from client.models.table import TableModel
from client.tui.widgets.canvas import Canvas, Drawn, Pressed
from client.tui.widgets.card import draw_card
from client.tui.widgets.detail import draw_route
from client.tui.widgets.opponents import clock_in_short
from client.tui.widgets.why import draw_guide, draw_why


class Pane(Drawn):
    """The card, unless the model shows another; the wheel moves the mark on it."""

    def __init__(self, model: TableModel, now_ms: Callable[[], int], clock: bool, id: str | None = None) -> None:
        super().__init__(id=id)
        self.model, self.now_ms, self.clock = model, now_ms, clock

    def draw(self, canvas: Canvas) -> None:
        """Draw one of the three; where the pane covers the clock, the clock is in its corner."""
        clock = clock_in_short(self.model, self.now_ms()) if self.clock else ""
        match self.model.shows:
            case "route":
                draw_route(canvas, self.model)
            case "guide":
                draw_guide(canvas, self.model)
            case "why":
                hints = self.model.view is not None and self.model.view.settings.hints == "after each pass"
                draw_why(canvas, self.model.hint, hints, self.model.about_card)
            case _:
                draw_card(canvas, self.model.pane, room_at_end=len(clock) + 2 if clock else 0)
        if clock:
            late = clock.endswith("!!") and not canvas.look.calm
            canvas.end(0, f" {clock}", "alarm" if late else "text", margin=1, bold=True)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Move the mark on."""
        event.stop()
        self.post_message(Pressed("down"))

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Move the mark back."""
        event.stop()
        self.post_message(Pressed("up"))

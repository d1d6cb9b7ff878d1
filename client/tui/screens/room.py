"""The screen for the wall of a club's room: how to come in, in large letters, tables with their clocks, the standings.

It shows nothing that not everybody in the room may know, from a desk too: no desk's or teacher's code, and no tile.
"""

from textual.app import ComposeResult

from client.models.desk import DeskModel
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.room import draw_room


class RoomScreen(BaseScreen):
    """An evening for everybody in the room to read."""

    ABOUT = "For a large screen: where there is no room for all tables and the standings, they take turns."

    def __init__(self, model: DeskModel, at_desk: bool = True) -> None:
        super().__init__()
        self.model, self._at_desk = model, at_desk
        self._drawn_ms = 0

    def compose(self) -> ComposeResult:
        """Build the picture."""
        yield Painting(self._draw)
        yield Note(lambda: self.model.line or (self.model.note if self.model.is_over else ""))
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the way out."""
        return (("o", "look", "o"), ("q", "back to the desk" if self._at_desk else "leave", "q"))

    def press(self, key: str) -> None:
        """Go back to the desk, leave, or change the look."""
        if key in ("q", "escape") and self._at_desk:
            self.app.pop_screen()
        elif key == "q":
            self.shell.leave()
        elif key == "o":
            self.shell.show_looks()

    def tick(self) -> None:
        """Draw the clocks again, twice a second."""
        if self.shell.now_ms() - self._drawn_ms >= 500:
            self._drawn_ms = self.shell.now_ms()
            self.redraw()

    def _draw(self, canvas: Canvas) -> None:
        view, way_in = self.model.view, self.shell.way_in
        code = view.desk.code if view and view.desk else way_in.code
        draw_room(canvas, self.model, code, way_in.addresses, self.shell.now_ms())

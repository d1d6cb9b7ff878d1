"""The card before a heat at a table for one: three lines, and no clock runs before enter."""

from textual.app import ComposeResult

from client.models.seats import ready
from client.models.session import Meant
from client.models.start_card import start_card
from client.models.table import TableModel
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import LEAVE, KeyBar, Keys, Note


class StartScreen(BaseScreen):
    """Which heat, which seat, which clock. Only enter starts."""

    ABOUT = "Nothing runs yet: the heat and its clock start when you press enter."

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model

    def compose(self) -> ComposeResult:
        """Build the card."""
        yield Title("Ready?")
        yield Painting(self._draw)
        yield Note(
            lambda: self.model.line or self.model.note or self.model.about_card,
            lambda: self.model.wall.before_deal() or self.model.wall.short(),
        )
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the one key that starts, and the way out."""
        return (("enter", "start the heat", "enter"), ("o", "look", "o"), *LEAVE)

    def press(self, key: str) -> None:
        """Start, leave, or change the look."""
        meant: dict[str, Meant] = {"q": ("leave",), "o": ("look",)}
        if key == "enter" and not self.model.is_ready:
            self.carry_out(ready(self.model))
        self.carry_out(meant.get(key, ()))

    def _draw(self, canvas: Canvas) -> None:
        view = self.model.view
        if view is None:
            return
        heat, dealt, clock = start_card(view, self.model.laid(view.heat_number + 1), self.model.guided)
        y = max(0, canvas.height // 2 - 4)
        canvas.middle(y, heat, "mark", bold=True)
        canvas.middle(y + 2, dealt, bold=True)
        canvas.middle(y + 4, clock)
        canvas.middle(
            y + 7, "enter starts the heat" if self.model.guided else "enter starts the heat and its clock", "quiet"
        )

"""What screens share that show tables to somebody who plays at none of them: a heading, the tables, a line of words;
clocks are drawn again twice a second."""

from textual.app import ComposeResult

from client.models.desk import DeskModel
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Note

_AGAIN_MS = 500


class OnlookerScreen(BaseScreen):
    """Subclasses say what stands where."""

    def __init__(self, model: DeskModel) -> None:
        super().__init__()
        self.model = model
        self._drawn_ms = 0

    def compose(self) -> ComposeResult:
        """Build the head, what is seen and a line for words."""
        yield Title(self._heading)
        yield Painting(self._draw)
        yield Note(self._words)
        yield KeyBar(self.keys)

    def tick(self) -> None:
        """Draw the clocks again, twice a second."""
        if self.shell.now_ms() - self._drawn_ms >= _AGAIN_MS:
            self._drawn_ms = self.shell.now_ms()
            self.redraw()

    def _heading(self) -> str:
        raise NotImplementedError

    def _words(self) -> str:
        raise NotImplementedError

    def _draw(self, canvas: Canvas) -> None:
        raise NotImplementedError

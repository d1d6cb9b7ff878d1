"""A table of one's own that waits for its host: go on with it, or begin another."""

from textual.app import ComposeResult

from client.tui.screens.base import BaseScreen
from client.tui.screens.host import HostScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from shared.rules.settings import Settings


class GoBackScreen(BaseScreen):
    """The table that waits, and the way to another one; left says which table it is and where it stands."""

    ABOUT = (
        "You left a table for others before its set was over. Going on with it opens it as it was, paused, with the "
        "same code: everybody who sat there has their seat. A new table drops it; heats that are over stay with you."
    )

    def __init__(self, left: str, settings: Settings) -> None:
        super().__init__()
        self._left, self._settings = left, settings

    def compose(self) -> ComposeResult:
        """Build the two ways."""
        yield Title("Host a table")
        yield Painting(self._draw)
        yield Note(lambda: self.told)
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the two ways and the way back."""
        return (("enter", "go on", "enter"), ("n", "a new table", "n"), ("?", "help", "?"), ("q", "back", "q"))

    def press(self, key: str) -> None:
        """Go one of the ways."""
        match key:
            case "enter" if self.shell.openers.go_back is not None:
                self.told = "Opening ..."
                self.shell.open_table(self.shell.openers.go_back())
            case "n":
                self.app.pop_screen()
                self.app.push_screen(HostScreen(self._settings, anew=True))
            case "q" | "escape":
                self.app.pop_screen()

    def _draw(self, canvas: Canvas) -> None:
        left, y = max(2, (canvas.width - 64) // 2), max(1, canvas.height // 2 - 4)
        for row, (key, what, words) in enumerate(
            (
                ("enter", f"Go on with {self._left}", "as you left it, paused, with the same code and seats"),
                ("n", "A new table", "the one that waits is dropped; heats that are over stay yours"),
            )
        ):
            canvas.put(left, y + 3 * row, key, "mark", bold=True, key=key)
            canvas.put(left + 7, y + 3 * row, what, bold=True, key=key)
            canvas.put(left + 7, y + 3 * row + 1, words, "quiet")

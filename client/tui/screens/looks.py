"""The choices of look: theme, plain borders, a calm clock, the bell."""

from textual.app import ComposeResult

from client.models.settings_form import Row
from client.theme import CHOICES
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows


class LookScreen(BaseScreen):
    """Six choices, used and kept at once."""

    ABOUT = (
        "A calm clock changes once a second and never its colour. Plain borders use ASCII only. The bell rings once "
        "when ten seconds are left. With a second try, a review asks you for a better pass before it shows one. With "
        "numbers, the coach adds to its words what tiles are worth, how often a hand wins and how much a gift counts."
    )

    def __init__(self) -> None:
        super().__init__()
        self.at = 0

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Look")
        yield Rows(self.rows, lambda: self.at, 0, 9)
        yield Note(lambda: "")
        yield KeyBar(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return one row a choice."""
        look = self.shell.look
        yes = {True: "yes", False: "no"}
        return (
            Row("theme", "Theme", look.theme),
            Row("ascii", "Plain borders (ASCII)", yes[look.ascii]),
            Row("calm", "Calm clock", yes[look.calm]),
            Row("bell", "One bell at ten seconds", yes[look.bell]),
            Row("second_try", "Second try in reviews", yes[look.second_try]),
            Row("numbers", "Numbers in the coach's words", yes[look.numbers]),
        )

    def keys(self) -> Keys:
        """Return the keys of the rows."""
        return (("up down", "row", ""), ("left right", "change", ""), *BACK)

    def press(self, key: str) -> None:
        """Choose a row, change it, or go back."""
        word, _, number = key.partition(" ")
        if number:
            self.at = int(number)
        if key in ("q", "escape"):
            self.app.pop_screen()
        elif key in ("up", "down"):
            self.at = (self.at + (1 if key == "down" else -1)) % len(CHOICES)
        elif key in ("left", "right", "space", "enter") or word in ("less", "more"):
            self.shell.change_look(self.shell.look.toggled(CHOICES[self.at]))

"""Who is beside the table without a chair: everybody sees it; the host lets them see racks, or sends them away."""

from textual.app import ComposeResult

from client.models.settings_form import Row
from client.models.table import TableModel
from client.models.watched import BesideModel, beside_words
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.names import clean_name


class BesideScreen(BaseScreen):
    """One row for each of them, who has waited longest first."""

    ABOUT = (
        "Who comes to a full table waits here for the next free chair, and others only watch. They see no rack until "
        "the host lets them and its player agrees; both can stop it at any time. Whoever takes a chair after racks of "
        "a heat were shown plays from the next heat on."
    )

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model
        self.people = BesideModel(model)

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Beside the table")
        yield Rows(self.rows, lambda: self.people.at, 0, 40)
        yield Note(self._words)
        yield KeyBar(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return one row for each person."""
        return tuple(
            Row(str(one.place), clean_name(one.name, "somebody"), beside_words(one), changes=False)
            for one in self.people.all
        )

    def _words(self) -> str:
        view = self.model.view
        if self.model.line or self.model.note or view is None:
            return self.model.line or self.model.note
        if not self.people.all:
            return "Nobody is beside the table."
        shown = [self.model.chair_name(number) for number, chair in enumerate(view.chairs) if chair.shows]
        return f"They may see the racks of {', '.join(shown)}." if shown else "Nobody shows them a rack."

    def keys(self) -> Keys:
        """Return the host's keys, and the way back."""
        here = self.people.here
        if here is None or not self.model.is_host:
            return BACK
        does = "show them no racks" if here.sees else "let them see racks"
        return (("up down", "person", ""), ("l", does, "l"), ("f", "send away", "f"), *BACK)

    def keeps(self, key: str) -> bool:
        """The key that leads here leads back, too."""
        return key == "f6"

    def press(self, key: str) -> None:
        """Hand the key to the model, or go back."""
        if key in ("q", "escape", "f10", "f6"):
            self.app.pop_screen()
        else:
            self.carry_out(self.people.press(key))

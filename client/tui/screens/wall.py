"""All that is known of the wall: its commitment in full, how it was made, and the words to read aloud."""

from textual.app import ComposeResult

from client.models.table import TableModel
from client.tui.screens.base import BaseScreen
from client.tui.screens.help import Page
from client.tui.widgets.key_bar import KeyBar, Keys

ABOUT = (
    "Before a deal everybody at the table promises a part of the wall, so that nobody can choose theirs to suit the "
    "others'. Afterwards your program checks the wall by itself. Read the four words to each other after a heat: where "
    "they differ, the table showed you different things; then run racktempo verify A.seat B.seat on two people's files."
)


class WallScreen(BaseScreen):
    """One page over the screen below; any key goes back."""

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model

    def compose(self) -> ComposeResult:
        """Build the page."""
        told = self.model.wall.told(self.model.view) if self.model.view else []
        yield Page("The wall", (*told, ABOUT), ())
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the way back."""
        return (("any key", "back", "q"),)

    def press(self, key: str) -> None:
        """Go back."""
        self.app.pop_screen()

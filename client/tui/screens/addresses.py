"""Which of the machine's addresses are shown to guests; the table is announced on their networks and no others."""

from textual.app import ComposeResult

from client.models.settings_form import Row
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows


class AddressesScreen(BaseScreen):
    """One row an address, shown or not."""

    ABOUT = (
        "Guests type one of the addresses that are shown. A machine has one for each network it is on; those that only "
        "this machine can reach are of no use to others."
    )

    def __init__(self) -> None:
        super().__init__()
        self.at = 0

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Addresses shown to guests")
        yield Rows(self.rows, lambda: self.at, 0, 40)
        yield Note(lambda: self.told or self.shell.way_in.beacon)
        yield KeyBar(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return one row an address, with the name of its network."""
        shown = self.shell.way_in.addresses
        return tuple(
            Row(address, f"{address}  {network}".rstrip(), "shown" if address in shown else "not shown")
            for address, network in self.shell.way_in.all_addresses.items()
        )

    def keys(self) -> Keys:
        """Return the keys of the rows."""
        return (("up down", "row", ""), ("space", "show, or not", "space"), *BACK)

    def press(self, key: str) -> None:
        """Choose a row, show it or not, or go back."""
        every = list(self.shell.way_in.all_addresses)
        word, _, number = key.partition(" ")
        if number:
            self.at = int(number)
        match word:
            case "q" | "escape" | "f10":
                self.app.pop_screen()
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % len(every)
            case "space" | "enter" | "left" | "right" | "row" | "less" | "more":
                self._turn(every[self.at], every)

    def _turn(self, address: str, every: list[str]) -> None:
        shown = self.shell.way_in.addresses
        chosen = tuple(one for one in every if (one in shown) != (one == address))
        self.shell.way_in.show(chosen)

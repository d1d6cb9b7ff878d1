"""The form for joining a table: who one is, where the table is, and the code that its host says.

Tables that announce themselves are listed below; choosing one fills in its address and nothing else. A visitor's form
is fixed to one table: nothing is beneath it, and its address is shown but not typed.
"""

from pathlib import Path

from textual.app import ComposeResult

from client.connection.discovery import Nearby
from client.models.settings_form import Row
from client.setup import fitting_name, next_card
from client.tui.screens.fields import FieldsScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.names import clean_name, too_long
from shared.wire.announce import Found
from shared.wire.messages import PROTOCOL

_ADDRESS = 1
_CARD = 3
"""The row of one's own copy of the card, which comes after those that are typed."""
_COPY = "Used on this machine only, if the table plays by this card. It is never sent."
_LABELS = {"name": "Your name", "address": "Address of the table", "code": "Word code"}


class JoinScreen(FieldsScreen):
    """Name, address, code, one's own copy of the card, and a door: to a chair, or only to watch."""

    ABOUT = "The host's screen shows the address and the word code. Others on the network can read what is sent."
    LONGEST = {"name": 60, "address": 100, "code": 60}  # noqa: RUF012 (never changed)

    def __init__(
        self, address: str = "", code: str = "", card: str = "", *, fixed: bool = False, watches: bool = False
    ) -> None:
        super().__init__({"name": "", "address": address, "code": code})
        self.fixed, self.card, self.watches = fixed, card, watches
        self._door = 3 if fixed else 4
        self._form = self._door + 1
        """Rows of the form; those of the tables found come after them."""
        self.nearby = Nearby()

    def compose(self) -> ComposeResult:
        """Build the form."""
        self.values["name"] = self.shell.player
        self.card = self.card or self.shell.card
        self.at = next((at for at, value in enumerate(self.values.values()) if not value), self._door)
        yield Title("Join a table")
        yield Rows(self.rows, lambda: self.at, 0, self._form)
        yield Rows(self.rows, lambda: self.at, self._form, self._form + 99, id="found")
        yield Note(lambda: self.told or self.nearby.line, lambda: _COPY if self._at_card else "")
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Look for tables while this form is open."""
        if look_around := self.shell.openers.look_around:
            self.run_worker(look_around(self._show), group="nearby")

    def _show(self, nearby: Nearby) -> None:
        """Show the tables found now; the selected one stays selected while it is there."""
        here = self._found_in_hand()
        self.nearby = nearby
        if here is not None:
            instances = [found.instance for found in nearby.tables]
            self.at = self._form + instances.index(here.instance) if here.instance in instances else self._door
        self.redraw()

    def _found_in_hand(self) -> Found | None:
        return self.nearby.tables[self.at - self._form] if self.at >= self._form else None

    def rows(self) -> tuple[Row, ...]:
        """Return the fields, the door, and the tables that were found."""
        fields = [self.typed_row(name, label) for name, label in _LABELS.items()]
        tables = [
            Row(f"found {found.instance}", _label(found), found.address, changes=False) for found in self.nearby.tables
        ]
        card = () if self.fixed else (Row("card", "Your copy of its card", fitting_name(Path(self.card).stem, 30)),)
        door = Row("go", "Join", "only to watch" if self.watches else "to play")
        return (*fields, *card, door, *tables)

    def keys(self) -> Keys:
        """Return the keys of the form."""
        return (
            ("up down", "row", ""),
            *((("left right", "card", ""),) if self._at_card else ()),
            *((("left right", "play or watch", ""),) if self.at == self._door else ()),
            ("enter", "next" if self.at < self._door else "join" if self.at == self._door else "take it", "enter"),
            ("F1", "help", "f1"),
            *(() if self.fixed else (("esc", "back", "escape"),)),
        )

    @property
    def _at_card(self) -> bool:
        return self.at == _CARD and not self.fixed

    def press(self, key: str) -> None:
        """Type into a field, move on, or join."""
        self.told = ""
        word, _, number = key.partition(" ")
        if word == "row" and number:
            if self.fixed and int(number) == _ADDRESS:
                return
            self.at = int(number)
            key = "enter" if self.at >= self._door else ""
        elif word in ("less", "more") and number:
            self.at, key = int(number), "left" if word == "less" else "right"
        match key:
            case "escape" | "f10" if not self.fixed:
                self.app.pop_screen()
            case "up" | "down" | "tab":
                self._go(-1 if key == "up" else 1)
            case "left" | "right" if self._at_card:
                self._change_card(1 if key == "right" else -1)
            case "left" | "right" if self.at == self._door:
                self.watches = not self.watches
            case "enter" if self.at < self._door:
                self.at = self.at + 1 if self.at + 1 < _CARD else self._door  # most need no copy of the card
                if self.fixed and self.at == _ADDRESS:
                    self.at += 1
            case "enter" if found := self._found_in_hand():
                self._choose(found)
            case "enter":
                self._join()
            case _:
                self.type_key(key)

    def _go(self, by: int) -> None:
        rows = self._form + len(self.nearby.tables)
        self.at = (self.at + by) % rows
        if self.fixed and self.at == _ADDRESS:
            self.at += by

    def _choose(self, found: Found) -> None:
        if not found.fits:
            self.told = f"This table uses version {found.protocol} of the protocol; yours is version {PROTOCOL}."
            return
        self.values["address"] = found.address
        self.at = 0 if not self.values["name"] else 2
        self.told = "Now the words that the host's screen shows."

    def _join(self) -> None:
        name, address, code = (value.strip() for value in self.values.values())
        if not clean_name(name):
            self.at, self.told = 0, "Say who you are first."
        elif cut := too_long(name):
            self.at, self.told = 0, cut
        elif not address:
            self.at, self.told = 1, "Type the address that the host's screen shows."
        else:
            self.values = {"name": name, "address": address, "code": code}
            self.knock(name)

    def knock(self, name: str) -> None:
        """Go in by the address and the code of the form."""
        card = "" if self.fixed else self.card_text(self.card or self.shell.card)
        if card is None:
            self.at = _CARD
            return
        self.told = "Knocking ..."
        address, code = self.shell.joined = self.values["address"], self.values["code"]
        self.shell.player = name
        self.shell.open_table(self.shell.openers.join(address, name, code, card, self.watches))

    def _change_card(self, by: int) -> None:
        self.card = next_card(self.shell.storage.card_names(), self.card, by)
        self.shell.choose_card(self.card)


def _label(found: Found) -> str:
    kind = "evening" if found.kind == "club" else "table"
    return f"{found.name}  {kind}{'' if found.fits else ', another version'}"

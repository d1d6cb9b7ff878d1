"""The form for joining a table: who one is, where the table is, and the code that its host says."""

from textual import events
from textual.app import ComposeResult

from client.screens.sheet import Sheet
from client.setup import Row
from client.widgets.foot import Foot, Keys, Note
from client.widgets.head import Title
from client.widgets.rows import Rows
from shared.names import clean_name

_LONGEST = {"name": 60, "address": 100, "code": 60}


class JoinScreen(Sheet):
    """Name, address, code, and a door."""

    ABOUT = "The host's screen shows the address and the word code. What travels can be read by others on the network."

    def __init__(self, address: str = "", code: str = "") -> None:
        super().__init__()
        self.values = {"name": "", "address": address, "code": code}
        self.at = 0

    def compose(self) -> ComposeResult:
        """Build the form."""
        self.values["name"] = self.racktempo.player
        self.at = next((at for at, value in enumerate(self.values.values()) if not value), 3)
        yield Title("Join a table")
        yield Rows(self.rows, lambda: self.at, 0, 9)
        yield Note(lambda: self.told)
        yield Foot(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return the fields and the door."""
        labels = {"name": "Your name", "address": "Address of the table", "code": "Word code"}
        here = list(self.values)[self.at] if self.at < 3 else ""
        fields = [
            Row(name, labels[name], value[-40:] + ("_" if name == here else ""), changes=False, typed=True)
            for name, value in self.values.items()
        ]
        return (*fields, Row("go", "Join", "", changes=False))

    def keys(self) -> Keys:
        """Return the keys of the form."""
        return (
            ("up down", "row", ""),
            ("enter", "next, then join", "enter"),
            ("F1", "help", "f1"),
            ("esc", "back", "escape"),
        )

    @property
    def typing(self) -> bool:
        """Whether characters belong to a field."""
        return self.at < 3

    def press(self, key: str) -> None:
        """Type into a field, move on, or join."""
        self.told = ""
        word, _, number = key.partition(" ")
        if word == "row" and number:
            self.at = int(number)
            key = "enter" if self.at == 3 else ""
        match key:
            case "escape" | "f10":
                self.app.pop_screen()
            case "up" | "down" | "tab":
                self.at = (self.at + (-1 if key == "up" else 1)) % 4
            case "enter" if self.at < 3:
                self.at += 1
            case "enter":
                self._join()
            case "backspace" if self.typing:
                name = list(self.values)[self.at]
                self.values[name] = self.values[name][:-1]
            case "space":
                self._type(" ")
            case _ if len(key) == 1:
                self._type(key)

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text is typed text."""
        event.stop()
        self._type(event.text)
        self.redraw()

    def _type(self, text: str) -> None:
        if self.typing:
            name = list(self.values)[self.at]
            printable = "".join(character for character in text if character.isprintable())
            self.values[name] = (self.values[name] + printable)[: _LONGEST[name]]

    def _join(self) -> None:
        name, address, code = (value.strip() for value in self.values.values())
        if not clean_name(name):
            self.at, self.told = 0, "Say who you are first."
        elif not address:
            self.at, self.told = 1, "Type the address that the host's screen shows."
        else:
            self.told = "Knocking ..."
            self.racktempo.player = name
            self.racktempo.open_table(self.racktempo.doors.join(address, name, code))

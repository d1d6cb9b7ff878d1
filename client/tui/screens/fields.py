"""What forms with fields to type into share: which field is in hand, and what keys and pasted text do to it."""

from collections.abc import Mapping

from client.models.settings_form import Row
from client.tui.screens.base import BaseScreen

_SHOWN_CELLS = 44


class FieldsScreen(BaseScreen):
    """A form whose first rows are fields, by name."""

    LONGEST: Mapping[str, int] = {}
    """How many characters a field takes."""

    def __init__(self, values: dict[str, str]) -> None:
        super().__init__()
        self.values, self.at = values, 0

    @property
    def field(self) -> str:
        """The field in hand, or nothing."""
        names = list(self.values)
        return names[self.at] if self.at < len(names) else ""

    @property
    def typing(self) -> bool:
        """Whether characters belong to a field."""
        return bool(self.field)

    def typed_row(self, name: str, label: str) -> Row:
        """Return the row of a field."""
        value = self.values[name]
        value = value if len(value) <= _SHOWN_CELLS else f"..{value[2 - _SHOWN_CELLS :]}"
        return Row(name, label, value + ("_" if self.field == name else ""), changes=False, typed=True)

    def type_key(self, key: str) -> None:
        """Type a key into the field in hand, if it is one that types."""
        match key:
            case "backspace" if self.typing:
                self.values[self.field] = self.values[self.field][:-1]
            case "space":
                self.paste(" ")
            case _ if len(key) == 1:
                self.paste(key)

    def paste(self, text: str) -> None:
        """Pasted text is typed text."""
        if self.typing:
            printable = "".join(character for character in text if character.isprintable())
            self.values[self.field] = (self.values[self.field] + printable)[: self.LONGEST[self.field]]

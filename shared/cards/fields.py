"""Typed reading of one TOML table: each field checked, each mistake reported, nothing raised.

The sentences name the field and say what to write. A value that fails comes back as a harmless one, so that
reading goes on and all faults are found at once.
"""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fields:
    """The fields of one table and where to report what is wrong with them."""

    values: dict[str, object]
    report: Callable[[str], None]

    def only(self, *known: str) -> None:
        """Report fields that mean nothing, so that a slip of the pen is not taken for a choice."""
        unknown = [shown(name) for name in self.values if name not in known]
        if unknown:
            more = f" and {len(unknown) - 3} more" if len(unknown) > 3 else ""
            self.report(f"{', '.join(unknown[:3])}{more} means nothing here. Write only {', '.join(known)}.")

    def optional_text(self, name: str, limit: int) -> str:
        """Return a line of text as `text` does, or "" if there is none or it is empty."""
        return self.text(name, limit) if self.values.get(name, "") != "" else ""

    def text(self, name: str, limit: int) -> str:
        """Return a line of text of 1 to `limit` printable characters, or "" after reporting."""
        value = self.values.get(name)
        if value is None:
            self.report(f'{name} is missing. Write {name} = "...".')
        elif not isinstance(value, str):
            self.report(f'{name} must be text. Write {name} = "...".')
        elif not value.strip():
            self.report(f"{name} is empty. Write something between the quotes.")
        elif len(value) > limit:
            self.report(f"{name} has {len(value)} characters, more than {limit}. Make it shorter.")
        elif not value.isprintable():
            self.report(f"{name} holds a character that cannot be shown, such as a tab. Type it again without.")
        else:
            return value
        return ""

    def whole(self, name: str, low: int, high: int, otherwise: int) -> int:
        """Return a whole number from `low` to `high`, or `otherwise` after reporting."""
        value = self.values.get(name)
        if type(value) is int and low <= value <= high:
            return value
        problem = "is missing" if value is None else "is no whole number in range"
        self.report(f"{name} {problem}. Write a number from {low} to {high} without quotes.")
        return otherwise

    def values_of_rows(self, name: str, high: int, rows: int, otherwise: int) -> tuple[int, ...]:
        """Return one whole number from 0 to `high`, or one for each of the rows; `otherwise` if nothing is said."""
        value = self.values.get(name, otherwise)
        if not isinstance(value, list):
            return (otherwise if name not in self.values else self.whole(name, 0, high, otherwise),)
        if not all(type(item) is int and 0 <= item <= high for item in value):
            self.report(f"{name} must list whole numbers from 0 to {high}, without quotes.")
        elif len(value) != rows:
            have = "1 row" if rows == 1 else f"{rows} rows"
            self.report(f"{name} lists {len(value)} numbers for {have} of groups. Write one for each row.")
        else:
            return tuple(value)
        return (otherwise,)

    def flag(self, name: str, otherwise: bool = False) -> bool:
        """Return a truth value; `otherwise` if nothing is said or after reporting."""
        value = self.values.get(name, otherwise)
        if isinstance(value, bool):
            return value
        self.report(f"{name} must be true or false. Write {name} = false or {name} = true.")
        return otherwise

    def ranks(self, name: str) -> tuple[int, ...] | None:
        """Return different numbers from 1 to 9, or None if there is no such field or after reporting."""
        value = self.values.get(name)
        if value is None:
            return None
        fits = isinstance(value, list) and all(type(item) is int and 1 <= item <= 9 for item in value)
        if fits and isinstance(value, list) and 0 < len(value) == len(set(value)):
            return tuple(value)
        self.report(f"{name} must list different ranks from 1 to 9. Write {name} = [1, 3, 5], or leave it out.")
        return None

    def tables(self, name: str, heading: str, at_most: int, line: str = "") -> list[dict[str, object]]:
        """Return the tables under a heading, or as many of them as are good after reporting.

        If `line` names a field, a text in the place of a table is one that has this field and no other.
        """
        value = self.values.get(name, [])
        if line and isinstance(value, list):
            value = [{line: item} if isinstance(item, str) else item for item in value]
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.report(f"{name} must be tables. Head each of them with {heading}.")
            return []
        if len(value) > at_most:
            self.report(f"There are {len(value)} {heading} tables, more than {at_most}. Leave some out.")
        return value[:at_most]


def shown(text: str) -> str:
    """Return text from a file in a form that any terminal can print: quoted, escaped and short."""
    return ascii(text if len(text) <= 30 else text[:30] + "...")

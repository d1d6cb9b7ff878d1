"""How the screens look: the player's choices, and the colours of each role.

All colours come from the Okabe-Ito palette. We mix some with black until text has a contrast of 4.5 to 1 on every
ground it is drawn on (WCAG 2.2). Colour must never be the only sign: it repeats what position, shape or a word says.
Pure: must never know a terminal or a screen.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

Theme = Literal["dark", "light"]
Role = Literal[
    "text",
    "quiet",
    "line",
    "mark",
    "good",
    "warn",
    "alarm",
    "bam",
    "crak",
    "dot",
    "honour",
    "flower",
    "joker",
    "edge",
]
Ground = Literal["page", "panel", "face", "lifted", "button", "chosen"]

GROUNDS: dict[Theme, dict[Ground, str]] = {
    "dark": {
        "page": "#12171c",
        "panel": "#1c242c",
        "face": "#f1ecdf",
        "lifted": "#f0e442",
        "button": "#2b3742",
        "chosen": "#f0e442",
    },
    "light": {
        "page": "#f7f5ef",
        "panel": "#e9e6dc",
        "face": "#ffffff",
        "lifted": "#f0e442",
        "button": "#dedace",
        "chosen": "#12171c",
    },
}
CHOICES = ("theme", "ascii", "calm", "bell", "second_try", "numbers")
_ON_DARK: dict[Role, str] = {
    "text": "#eef1f3",
    "quiet": "#a9b4be",
    "line": "#8a97a3",
    "mark": "#f0e442",
    "good": "#33c49b",
    "warn": "#e69f00",
    "alarm": "#ff8a3d",
}
_ON_LIGHT: dict[Role, str] = {
    "text": "#12171c",
    "quiet": "#4a5560",
    "line": "#56606a",
    "mark": "#00507d",
    "good": "#00533d",
    "warn": "#714c00",
    "alarm": "#963f00",
    "bam": "#007236",
    "crak": "#a82800",
    "dot": "#0047b3",
    "honour": "#12171c",
    "flower": "#714c00",
    "joker": "#9a2f8f",
    "edge": "#4a5560",
}
_LIGHT_GROUNDS: dict[Theme, frozenset[Ground]] = {
    "dark": frozenset({"face", "lifted", "chosen"}),
    "light": frozenset({"page", "panel", "face", "lifted", "button"}),
}


def colour(theme: Theme, role: Role, ground: Ground) -> str:
    """Return the hexadecimal colour of a role's text on a ground. Tile roles exist only on tiles."""
    inks = _ON_LIGHT if ground in _LIGHT_GROUNDS[theme] else _ON_DARK
    return inks[role]


@dataclass(frozen=True, slots=True)
class Look:
    """A player's choices: theme, plain borders, a calm clock, one bell for the last ten seconds, whether a review asks
    for a second try before it shows the answer, and whether the coach adds points and chances to its sentences.

    colour is not a choice on the screens: NO_COLOR in the environment switches it off.
    """

    theme: Theme = "dark"
    ascii: bool = False
    calm: bool = False
    bell: bool = False
    second_try: bool = True
    numbers: bool = False
    colour: bool = True

    def toggled(self, field: str) -> "Look":
        """Return the look with one choice switched."""
        if field == "theme":
            return replace(self, theme="light" if self.theme == "dark" else "dark")
        flag: dict[str, Any] = {field: not getattr(self, field)}
        return replace(self, **flag)


def read_look(values: Mapping[str, object]) -> Look:
    """Return the look from stored values; missing and invalid ones use their defaults."""
    look = Look()
    for name in CHOICES:
        value = values.get(name)
        valid = value in ("dark", "light") if name == "theme" else isinstance(value, bool)
        if valid and value != getattr(look, name):
            look = look.toggled(name)
    return look


def write_look(look: Look) -> str:
    """Return the look as TOML; read_look reads it back."""
    yes = {True: "true", False: "false"}
    flags = "".join(f"{name} = {yes[getattr(look, name)]}\n" for name in CHOICES if name != "theme")
    return f'theme = "{look.theme}"\n{flags}'


def contrast(first: str, second: str) -> float:
    """Return the WCAG 2.2 contrast ratio of two hexadecimal colours, 1 to 21.

    >>> round(contrast("#000000", "#ffffff"), 2)
    21.0
    """
    light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue

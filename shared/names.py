"""Names of people as they may be shown: text that can act on no terminal and fits its place.

The server cleans a name when somebody joins; a client cleans it again before it is drawn.
"""

import unicodedata

NAME_CELLS = 16
"""The most terminal cells that a name may take."""


def clean_name(text: str) -> str:
    """Return the name in NFC without control, format, private and surrogate characters, at most 16 cells wide.

    Runs of white space become one space. The result may be empty; whoever asked then says so.

    >>> clean_name("  Anna\\x1b[31m  B ")
    'Anna[31m B'
    """
    kept = "".join(
        " " if character.isspace() else character
        for character in unicodedata.normalize("NFC", text)
        if character.isspace() or unicodedata.category(character)[0] != "C"
    )
    name, cells = "", 0
    for character in " ".join(kept.split()):
        cells += _cells(character)
        if cells > NAME_CELLS:
            break
        name += character
    return name.strip()


def _cells(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1

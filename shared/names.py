"""Names of people and tables as short, harmless text.

Clean a name when you receive it and again when you draw it. Cleaning never fails, and cleaning twice gives the same
text as once. It does not escape markup: a screen must draw names as plain text.
"""

import unicodedata
from collections.abc import Iterable

NAME_CELLS = 16
"""The longest name, in terminal cells."""
EVENING_CELLS = 32
"""The longest name of an evening."""
BOTH_CELLS = 40
"""Room for two names: of a person, and of who played on."""
_MARKS = 2
"""The most combining marks on one letter; more would cover the lines above and below."""
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""Characters that draw nothing (most are Default_Ignorable_Code_Point in the Unicode Standard)."""
# Letters that look like Latin ones: capitals (their small forms may look different), then letters after case folding.
_CAPITALS = str.maketrans("АВЕЅІЈКМНОРСТУХӀ" + "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABESIJKMHOPCTYXL" + "ABEZHIKMNOPTYX")
_SMALL = str.maketrans(
    "авсԁеһіјкӏмнопԛрѕтѵԝхуг" + "αβεικνορτυχωγησ" + "ıi10|",
    "abcdehljklmhonqpstvwxyr" + "abelkvoptuxwyno" + "lllol",
)


def clean_name(text: str, default: str = "", cells: int = NAME_CELLS) -> str:
    """Return the text as a name of at most this many terminal cells, or default if nothing is left.

    Removes control, format, private, surrogate and unassigned characters, turns white space into single spaces, and
    normalizes the rest to Unicode NFC.

    >>> clean_name("  Ann\\x1b[31m  of\\u202e the Boathouse")
    'Ann[31m of the B'
    """
    spaced = "".join(" " if char.isspace() else char for char in text)
    visible = "".join(char for char in spaced if not _hidden(char))
    kept: list[str] = []
    used = marks = 0
    for char in " ".join(unicodedata.normalize("NFC", visible).split()):
        marks = marks + 1 if unicodedata.category(char) in ("Mn", "Me") else 0
        if marks > _MARKS or (marks and (not kept or kept[-1] == " ")):
            continue
        used += cell_width(char)
        if used > cells:
            break
        kept.append(char)
    return " ".join("".join(kept).split()) or default


def own_name(name: str, others: Iterable[str], first: int = 2) -> str:
    """Return a clean name that cannot be taken for one of the others: where need be with a number behind it.

    >>> own_name("Hal", ["Ann", "HAL"])
    'Hal 2'
    """
    taken = {skeleton(other) for other in others}
    ends = ("", *(f" {number}" for number in range(first, first + 1 + len(taken))))
    names = (f"{clean_name(name, cells=NAME_CELLS - len(end))}{end}" for end in ends)
    return next(one for one in names if skeleton(one) not in taken)


def too_long(text: str) -> str:
    """Return in a sentence that a name would be cut, and to what; nothing if it fits.

    >>> too_long("Ann of the Boat")
    ''
    >>> too_long("Ann of the Boathouse")
    'A name has room for 16 letters; this one would be cut to "Ann of the Boath".'
    """
    short = clean_name(text)
    if clean_name(text, cells=200) == short:
        return ""
    return f'A name has room for {NAME_CELLS} letters; this one would be cut to "{short}".'


def skeleton(name: str) -> str:
    """Return a name's skeleton: two names with the same one look alike.

    Removes case, accents, blanks and punctuation, and replaces look-alike characters by one of them. The idea is from
    Unicode Technical Standard 39, section 4; the table is a short one of our own: Cyrillic and Greek letters, digits.

    >>> skeleton("Bill") == skeleton("\u0412i11."), skeleton("Ann") == skeleton("Anna")
    (True, False)
    """
    plain = "".join(char for char in unicodedata.normalize("NFKD", name) if unicodedata.category(char)[0] != "M")
    folded = plain.translate(_CAPITALS).casefold().translate(_SMALL)
    bones = "".join(char for char in folded if char.isalnum())
    return bones.replace("rn", "m").replace("vv", "w") or name


def cell_width(char: str) -> int:
    """Return how many terminal cells a character takes: 0 for a mark, 2 for a wide one (UAX 11), else 1."""
    if unicodedata.category(char) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1


def _hidden(char: str) -> bool:
    selector = "\ufe00" <= char <= "\ufe0f" or "\U000e0100" <= char <= "\U000e01ef"
    return unicodedata.category(char).startswith("C") or char in _BLANKS or selector

"""Names of people and tables as plain, short text: a name is shown, it never acts.

Whoever receives a name cleans it before it is kept, and whoever draws one cleans it again. Cleaning never
fails and is stable: what comes out goes through unchanged. It knows nothing of markup; a screen must draw
names as plain text.
"""

import unicodedata

NAME_CELLS = 16
"""The longest name, in terminal cells."""
_MARKS = 2
"""Combining marks kept on one letter; more would grow into the lines above and below."""
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""Letters, marks and signs that draw nothing (most are Default_Ignorable_Code_Point in the Unicode Standard)."""
# Letters drawn like Latin ones: capitals, whose small forms may look otherwise, and what is left after case folding.
_CAPITALS = str.maketrans("АВЕЅІЈКМНОРСТУХӀ" + "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABESIJKMHOPCTYXL" + "ABEZHIKMNOPTYX")
_SMALL = str.maketrans(
    "авсԁеһіјкӏмнопԛрѕтѵԝхуг" + "αβεικνορτυχωγησ" + "ıi10|",
    "abcdehljklmhonqpstvwxyr" + "abelkvoptuxwyno" + "lllol",
)


def clean_name(text: str, default: str = "", cells: int = NAME_CELLS) -> str:
    """Return the text as a name of at most so many terminal cells, or default if nothing is left.

    Control, format, private, surrogate and unassigned characters go, white space becomes single spaces, the
    rest is in Unicode normal form C.

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


def skeleton(name: str) -> str:
    """Return what an eye keeps of a name: two names with one skeleton could be taken for each other.

    Case, accents, blanks and punctuation go; letters of other scripts and signs that are drawn alike become one. The
    idea is that of Unicode Technical Standard 39, section 4; the list is a short one of our own, of Cyrillic and Greek
    letters and of digits.

    >>> skeleton("Bill") == skeleton("\u0412i11."), skeleton("Ann") == skeleton("Anna")
    (True, False)
    """
    plain = "".join(char for char in unicodedata.normalize("NFKD", name) if unicodedata.category(char)[0] != "M")
    folded = plain.translate(_CAPITALS).casefold().translate(_SMALL)
    bones = "".join(char for char in folded if char.isalnum())
    return bones.replace("rn", "m").replace("vv", "w") or name


def cell_width(char: str) -> int:
    """Return how many terminal cells a character takes at most: 0 for a mark, 2 for a wide one (UAX 11), else 1."""
    if unicodedata.category(char) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1


def _hidden(char: str) -> bool:
    selector = "\ufe00" <= char <= "\ufe0f" or "\U000e0100" <= char <= "\U000e01ef"
    return unicodedata.category(char).startswith("C") or char in _BLANKS or selector

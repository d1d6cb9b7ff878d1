"""What the card writer says of one row of a hand: its tiles, what is free about it, and what each key would turn.

Pure values, remembered: a list of lines is drawn again after every key.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from shared.cards.draft import Draft, DraftLine, DraftSection
from shared.cards.faces import (
    ANY_SUIT_LETTERS,
    Face,
    OtherDragon,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.cards.picture import Picture
from shared.cards.turning import ShownRow
from shared.cards.writer import Writer
from shared.rules.tiles import SUITS, Tile, name, rank

KEY_OF_TURN = {"rank": "r", "suit": "s", "dragon": "d", "wind": "w"}
_SUITED = (Ranked, Relative, YearDigit)
_SUIT_NAMES = {"b": "bams", "c": "craks", "d": "dots"}


@dataclass(frozen=True, slots=True)
class ToldRow:
    """One row as it is shown.

    Attributes:
        typed: what was typed.
        picture: the row in tiles; None while nothing is chosen.
        words: what is free about it; "" while nothing is chosen.
        ways: how many variants it has.
        open: what has to be done before its line is a hand.
        value: what the row counts.
    """

    typed: str
    picture: Picture | None
    words: str
    ways: int
    open: tuple[str, ...]
    value: int

    @property
    def tiles(self) -> str:
        """The row as text: in groups once something is chosen, else as it was typed."""
        return self.picture.text(between=" ") if self.picture else self.typed or "(nothing typed)"


@dataclass(frozen=True, slots=True)
class Turn:
    """Something that a key turns about a group: the key, what it is, and how it stands now."""

    key: str
    what: str
    stands: str


@lru_cache(maxsize=1_024)
def told_row(line: DraftLine, row: int, year: int) -> ToldRow:
    """Return one row of a line as it is shown."""
    writer = Writer(Draft(year=year, sections=(DraftSection(lines=(line,)),)), row=row)
    value = line.values[row] if len(line.values) > 1 else line.values[0]
    words = str(writer.words) if writer.words else ""
    return ToldRow(line.rows[row].typed, writer.picture, words, writer.ways, writer.open, value)


def joker_text(row: ShownRow, takes: tuple[bool, ...]) -> str:
    """Return which groups jokers may stand in: "jokers may stand in FFFF and 2222b only"."""
    able = [group_text(row, at) for at, may in enumerate(takes) if may]
    if not able:
        return "no group may hold jokers"
    if len(able) == len(takes):
        return "jokers may stand in every group"
    return f"jokers may stand in {_listed(able, len(able))} only"


def group_text(row: ShownRow, at: int) -> str:
    """Return one group as somebody types it: "2222b"; a digit of the year in its suit, "0" for the zero."""
    tile = row.tiles[at]
    if isinstance(row.groups[at].face, YearDigit) and tile == "O":
        return "0" * row.groups[at].count
    return tile[0] * row.groups[at].count + tile[1:]


def turns_of(row: ShownRow, at: int, kinds: tuple[str, ...]) -> tuple[Turn, ...]:
    """Return what can be turned about a group and how it stands."""
    stands = {"rank": _rank_stands, "suit": _suit_stands, "dragon": _dragon_stands, "wind": _wind_stands}
    return tuple(Turn(KEY_OF_TURN[kind], kind, stands[kind](row, at)) for kind in kinds)


def free_rank(row: ShownRow, at: int) -> str:
    """Return which of the free ranks, "n" or "m", decides about a group alone; "" if none does."""
    face = row.groups[at].face
    return face.letters if isinstance(face, Relative) and len(face.letters) == 1 else ""


def _others(row: ShownRow, at: int) -> list[tuple[int, Face]]:
    return [(place, group.face) for place, group in enumerate(row.groups) if place != at]


def _rank_stands(row: ShownRow, at: int) -> str:
    face, number = row.groups[at].face, rank(row.tiles[at])
    if isinstance(face, Ranked):
        return f"stays {number}"
    if not isinstance(face, Relative):
        return "is the year's"
    if len(face.letters) > 1 or face.n_times < 0 or face.m_times < 0:
        return "follows from the others"
    with_it = [
        group_text(row, place)
        for place, other in _others(row, at)
        if isinstance(other, Relative) and other.letters == face.letters
    ]
    return f"moves with {_listed(with_it)}" if with_it else "is any"


def _suit_stands(row: ShownRow, at: int) -> str:
    letter = getattr(row.groups[at].face, "suit", "")
    if letter in SUITS:
        return f"{_SUIT_NAMES[letter]} only"
    same = [
        group_text(row, place)
        for place, other in _others(row, at)
        if isinstance(other, _SUITED) and other.suit == letter
    ]
    if letter in ANY_SUIT_LETTERS:
        return f"any, the same as {_listed(same)}" if same else "any, whatever the others are"
    return f"the same as {_listed(same)}" if same else "one of its own"


def _dragon_stands(row: ShownRow, at: int) -> str:
    face = row.groups[at].face
    if isinstance(face, SomeDragon):
        return "any"
    if isinstance(face, SuitDragon | OtherDragon):
        own = [
            group_text(row, place)
            for place, other in _others(row, at)
            if isinstance(other, _SUITED) and other.suit == face.suit
        ]
        if isinstance(face, OtherDragon):
            return f"any but that of {_listed(own[:1])}"
        return f"that of {_listed(own[:1])}" if own else "that of a suit which is not used"
    return f"{_name(row.tiles[at])} only"


def _wind_stands(row: ShownRow, at: int) -> str:
    face = row.groups[at].face
    if not isinstance(face, SomeWind):
        return f"{_name(row.tiles[at])} only"
    same = [group_text(row, place) for place, other in _others(row, at) if other == face]
    return f"any, the same as {_listed(same)}" if same else "any"


def _name(tile: Tile) -> str:
    return name(tile)


def _listed(texts: list[str], most: int = 3) -> str:
    few = list(dict.fromkeys(texts))
    few = [*few[: most - 1], "others"] if len(few) > most else few
    return f"{', '.join(few[:-1])}{' and ' if few[:-1] else ''}{few[-1]}" if few else "none"


def at_row(writer: Writer, section: int, line: int, row: int) -> Writer:
    """Return the writer with the mark on a row, the first group of it in hand."""
    return replace(writer, section=section, line=line, row=row, group=0)

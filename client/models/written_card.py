"""What the card writer tells of a card: its lines, the tiles of each, what is free, and what each key would turn.

Pure values, remembered: a list of lines is drawn again after every key.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from shared.cards.draft import Draft, DraftLine, DraftSection
from shared.cards.expand import count_choices
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
from shared.cards.read import MAX_CHOICES, MAX_VARIANTS
from shared.cards.turning import ShownRow
from shared.cards.writer import Writer
from shared.rules.tiles import SUITS, Tile, name, rank

Level = Literal["card", "heading", "hand"]
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
    """Return the writer with the mark on a row, a group in hand about which something can be turned."""
    return at_first_turn(replace(writer, section=section, line=line, row=row, group=0))


def at_first_turn(writer: Writer) -> Writer:
    """Return the writer at the first group of its row about which something can be turned."""
    row = writer.here_row
    groups = range(len(row.chosen.groups) if row and row.chosen else 0)
    return replace(writer, group=next((at for at in groups if replace(writer, group=at).turns), 0))


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the list: the head of the card, a heading, or a row of a hand with the hand's number from 1."""

    level: Level
    section: int = 0
    line: int = 0
    row: int = 0
    number: int = 0


def entries(draft: Draft) -> tuple[Entry, ...]:
    """Return everything that the mark can stand on, from the top."""
    found, number = [Entry("card")], 0
    for at, section in enumerate(draft.sections):
        found.append(Entry("heading", at))
        for line, one in enumerate(section.lines):
            number += 1
            found += [Entry("hand", at, line, row, number) for row in range(len(one.rows))]
    return tuple(found)


def one_step(before: Writer, there: Writer) -> Writer:
    """Return a writer for which everything since `before` is one change."""
    if there.draft == before.draft:
        return replace(there, past=before.past, ahead=before.ahead)
    return replace(there, past=(*before.past, replace(before, past=(), ahead=())), ahead=())


def too_free(writer: Writer) -> str:
    """Return why a card could not be read again as its line in hand is now; "" if it can."""
    here, draft = writer.here, writer.draft
    if here:
        choices = sum(count_choices(row.chosen.groups, here.n, here.m) for row in here.rows if row.chosen)
        if choices > MAX_CHOICES:
            return "That leaves too much free: no coach could look through it. Fix a rank, a suit or a wind."
    ways = sum(
        told_row(line, row, draft.year).ways
        for section in draft.sections
        for line in section.lines
        for row in range(len(line.rows))
    )
    if ways > MAX_VARIANTS:
        return f"With this the card has {ways} variants; {MAX_VARIANTS} is the most. Fix a rank, a suit or a wind."
    return ""

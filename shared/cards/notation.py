"""The notation of a hand: what tile, "^", how many of it; the groups of a hand side by side.

    F^2 n.p^3 n+1.p^4 n+2.p^5

is two flowers, then three, four and five tiles of three neighbouring ranks in one suit. Reading never stops
at the first mistake: what is wrong comes back as BadGroups, each with its column and how to mend it. This
module knows no file, no card and no variant.
"""

import re
from dataclasses import dataclass
from itertools import accumulate
from typing import cast

from shared.rules.tiles import Tile

SUIT_LETTERS = ("p", "q", "r")
WIND_LETTERS = ("X", "Z")
HAND_SIZE = 14
MAX_GROUPS_LENGTH = 200
"""Characters a line of groups may have; fourteen groups of the longest face need 139."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A rank in a suit: "5.p"."""

    rank: int
    suit: str

    def __str__(self) -> str:
        return f"{self.rank}.{self.suit}"


@dataclass(frozen=True, slots=True)
class Relative:
    """A rank counted from n in a suit: "n.p", "n+2.q"."""

    plus: int
    suit: str

    def __str__(self) -> str:
        return f"n+{self.plus}.{self.suit}" if self.plus else f"n.{self.suit}"


@dataclass(frozen=True, slots=True)
class YearDigit:
    """The first to fourth digit of the card's year in a suit: "Y1.p". The digit 0 is the white dragon."""

    place: int
    suit: str

    def __str__(self) -> str:
        return f"Y{self.place}.{self.suit}"


@dataclass(frozen=True, slots=True)
class SuitDragon:
    """The dragon that goes with a suit: "D(p)"."""

    suit: str

    def __str__(self) -> str:
        return f"D({self.suit})"


@dataclass(frozen=True, slots=True)
class SomeWind:
    """A wind of the player's choice: "X" or "Z", which differ."""

    letter: str

    def __str__(self) -> str:
        return self.letter


@dataclass(frozen=True, slots=True)
class Fixed:
    """One kind and no other: a wind, a dragon or the flower, by the tile's own code."""

    tile: Tile

    def __str__(self) -> str:
        return self.tile


Face = Ranked | Relative | YearDigit | SuitDragon | SomeWind | Fixed


@dataclass(frozen=True, slots=True)
class Group:
    """So many tiles of one face. Groups of three or more may take jokers, singles and pairs may not."""

    face: Face
    count: int

    def __str__(self) -> str:
        return f"{self.face}^{self.count}"


@dataclass(frozen=True, slots=True)
class BadGroup:
    """What is wrong at a column of the text, counted from 1, and how to mend it: one or two sentences."""

    column: int
    text: str


def format_groups(groups: tuple[Group, ...]) -> str:
    """Return the groups as text; the inverse of parse_groups."""
    return " ".join(str(group) for group in groups)


def parse_groups(text: str) -> tuple[tuple[Group, ...], tuple[BadGroup, ...]]:
    """Return the groups that could be read and everything wrong with the text, in order of column.

    Only a text without faults is a pattern: fourteen tiles, at most three suits, every face known.

    >>> groups, faults = parse_groups("F^2 n.p^3 n+1.p^4 n+2.p^5")
    >>> format_groups(groups), faults
    ('F^2 n.p^3 n+1.p^4 n+2.p^5', ())
    """
    if len(text) > MAX_GROUPS_LENGTH:
        return (), (BadGroup(1, f"The groups are longer than {MAX_GROUPS_LENGTH} characters. Write fewer."),)
    groups: list[Group] = []
    faults: list[BadGroup] = []
    for column, word in words(text):
        read = _parse_group(word)
        if isinstance(read, Group):
            groups.append(read)
        else:
            faults.append(BadGroup(column, read))
    total = sum(group.count for group in groups)
    if not faults and total != HAND_SIZE:
        faults.append(_wrong_sum(text, groups, total))
    return tuple(groups), tuple(faults)


def words(text: str) -> list[tuple[int, str]]:
    """Return the groups of the text as written, each with its column counted from 1."""
    return [(found.start() + 1, found.group()) for found in re.finditer(r"[^ ]+", text)]


def _wrong_sum(text: str, groups: list[Group], total: int) -> BadGroup:
    """Point at the group with which the sum passes fourteen, or behind the last one if tiles are missing."""
    if total < HAND_SIZE:
        missing = HAND_SIZE - total
        return BadGroup(
            len(text.rstrip(" ")) + 1,
            f"The counts add up to {total}, not {HAND_SIZE}. Add {missing} {_tiles(missing)}.",
        )
    sums = accumulate(group.count for group in groups)
    column = next(column for (column, _), so_far in zip(words(text), sums, strict=True) if so_far > HAND_SIZE)
    spare = total - HAND_SIZE
    return BadGroup(column, f"The counts add up to {total}, not {HAND_SIZE}. Take {spare} {_tiles(spare)} away.")


def _tiles(count: int) -> str:
    return "tile" if count == 1 else "tiles"


def _parse_group(word: str) -> Group | str:
    """Return the group of one word, or the sentence that says what is wrong with it."""
    shown = ascii(word if len(word) <= 20 else word[:20] + "...")
    face_text, sign, count_text = word.rpartition("^")
    if not sign:
        return f"{shown} has no count. Write a face, ^ and a count, as in 5.p^3."
    if not re.fullmatch(r"[1-9][0-9]?", count_text) or int(count_text) > HAND_SIZE:
        return f"The count of {shown} is no number from 1 to {HAND_SIZE}. Write it after the ^, as in 5.p^3."
    face = _parse_face(face_text, shown)
    return face if isinstance(face, str) else Group(face, int(count_text))


def _parse_face(text: str, shown: str) -> Face | str:
    if text in ("N", "E", "W", "S", "R", "G", "O", "F"):
        return Fixed(cast(Tile, text))
    if text in WIND_LETTERS:
        return SomeWind(text)
    if dragon := re.fullmatch(r"D\(([a-z])\)", text):
        return _in_suit(SuitDragon(dragon[1]), shown)
    if ranked := re.fullmatch(r"(0|[1-9][0-9]{0,2})\.([a-z])", text):
        if not 1 <= int(ranked[1]) <= 9:
            return f"The rank of {shown} is out of range. Ranks go from 1 to 9; write O for white as zero."
        return _in_suit(Ranked(int(ranked[1]), ranked[2]), shown)
    if relative := re.fullmatch(r"n(?:\+([1-9][0-9]{0,2}))?\.([a-z])", text):
        plus = int(relative[1] or 0)
        if plus > 8:
            return f"The rank of {shown} is out of range for every n. Write n+8 at most."
        return _in_suit(Relative(plus, relative[2]), shown)
    if digit := re.fullmatch(r"Y([1-4])\.([a-z])", text):
        return _in_suit(YearDigit(int(digit[1]), digit[2]), shown)
    return (
        f"{shown} has an unknown face. Write 5.p, n.p, n+2.q, Y1.p, D(p), R, G, O, N, E, W, S, X, Z or F before the ^."
    )


def _in_suit(face: Ranked | Relative | YearDigit | SuitDragon, shown: str) -> Face | str:
    if face.suit in SUIT_LETTERS:
        return face
    return f"{shown} asks for a fourth suit. The set has three, so write p, q or r."

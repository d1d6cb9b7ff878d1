"""The notation of a hand: what tile, "^", how many of it; the groups of a hand side by side.

    F^2 n.p^3 n+1.p^4 n+2.p^5

is two flowers, then three, four and five tiles of three neighbouring ranks in one suit. "or" between two rows of
groups makes them two ways to play one hand. Reading never stops at the first mistake: what is wrong comes back as
BadGroups, each with its column and how to mend it. This module knows no file, no card and no variant.
"""

import re
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import cast, get_args

from shared.cards.faces import (
    ANY_SUIT_LETTERS,
    DRAGON_LETTERS,
    SUIT_LETTERS,
    WIND_LETTERS,
    Face,
    Fixed,
    Group,
    Groups,
    InSuit,
    OtherDragon,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.rules.tiles import DRAGON_OF_SUIT, SUITS, Tile

__all__ = [
    "HAND_SIZE",
    "MAX_ALTERNATIVES",
    "MAX_GROUPS_LENGTH",
    "SUIT_LETTERS",
    "WIND_LETTERS",
    "BadGroup",
    "Face",
    "Fixed",
    "Group",
    "Groups",
    "OtherDragon",
    "Ranked",
    "Relative",
    "SomeDragon",
    "SomeWind",
    "SuitDragon",
    "YearDigit",
    "format_groups",
    "format_hand",
    "parse_groups",
    "parse_hand",
    "rows",
    "words",
]

HAND_SIZE = 14
MAX_GROUPS_LENGTH = 200
"""Characters a row of groups may have; fourteen groups of the longest face need fewer."""
MAX_ALTERNATIVES = 6
"""Rows that one hand may join by "or"."""
_OR = "or"
_DRAGON_NAMES = {"R": "red", "G": "green", "O": "white"}
_FACES = "5.p, n.p, n+2.q, m.q, 10-n.p, n+m.p, Y1.p, D(p), D(-p), R, G, O, A, B, C, N, E, W, S, X, Z, V, U or F"


@dataclass(frozen=True, slots=True)
class BadGroup:
    """What is wrong at a column of the text, counted from 1, and how to mend it: one or two sentences."""

    column: int
    text: str


def format_groups(groups: Groups) -> str:
    """Return the groups as text; the inverse of parse_groups."""
    return " ".join(str(group) for group in groups)


def format_hand(alternatives: tuple[Groups, ...]) -> str:
    """Return the rows of a hand as text, with "or" between them; the inverse of parse_hand."""
    return f" {_OR} ".join(format_groups(groups) for groups in alternatives)


def parse_hand(text: str) -> tuple[tuple[Groups, ...], tuple[BadGroup, ...]]:
    """Return the rows of a hand that could be read and everything wrong with the text, in order of column.

    >>> alternatives, faults = parse_hand("F^8 N^6 or F^8 S^6")
    >>> format_hand(alternatives), faults
    ('F^8 N^6 or F^8 S^6', ())
    """
    parts = rows(text)
    if len(parts) > MAX_ALTERNATIVES:
        more = f"The hand has {len(parts)} rows, more than {MAX_ALTERNATIVES}. Make two hands of it."
        offset, row = parts[MAX_ALTERNATIVES]
        return (), (BadGroup(offset + len(row) - len(row.lstrip(" ")) + 1, more),)
    alternatives: list[Groups] = []
    faults: list[BadGroup] = []
    for offset, row in parts:
        if not row.strip(" ") and len(parts) > 1:
            faults.append(BadGroup(offset + 1, 'There are no groups beside this "or". Write some, or delete "or".'))
            continue
        groups, bad = parse_groups(row)
        alternatives.append(groups)
        faults += [replace(fault, column=offset + fault.column) for fault in bad]
    return tuple(alternatives), tuple(faults)


def rows(text: str) -> list[tuple[int, str]]:
    """Return the rows that "or" joins, each with the number of characters before it."""
    found, start = [], 0
    for joint in re.finditer(rf"(?<![^ ]){_OR}(?![^ ])", text):
        found.append((start, text[start : joint.start()]))
        start = joint.end()
    return [*found, (start, text[start:])]


def parse_groups(text: str) -> tuple[Groups, tuple[BadGroup, ...]]:
    """Return the groups of one row that could be read and everything wrong with it, in order of column.

    Only a text without faults is a pattern: fourteen tiles, at most three suits, every face known.

    >>> groups, faults = parse_groups("F^2 n.p^3 n+1.p^4 n+2.p^5")
    >>> format_groups(groups), faults
    ('F^2 n.p^3 n+1.p^4 n+2.p^5', ())
    """
    if len(text) > MAX_GROUPS_LENGTH:
        return (), (BadGroup(1, f"The groups are longer than {MAX_GROUPS_LENGTH} characters. Write fewer."),)
    groups: list[Group] = []
    faults: list[BadGroup] = []
    suits: set[str] = set()
    for column, word in words(text):
        read = _parse_group(word)
        if isinstance(read, str):
            faults.append(BadGroup(column, read))
            continue
        groups.append(read)
        if isinstance(read.face, get_args(InSuit)) and read.face.suit not in (*ANY_SUIT_LETTERS, *suits):
            suits.add(read.face.suit)
            if len(suits) > len(SUITS):
                faults.append(BadGroup(column, _fourth_suit(_shown(word))))
    total = sum(group.count for group in groups)
    if not faults and total != HAND_SIZE:
        faults.append(_wrong_sum(text, groups, total))
    return tuple(groups), tuple(faults)


def words(text: str) -> list[tuple[int, str]]:
    """Return the groups of a row as written, each with its column counted from 1."""
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


def _shown(word: str) -> str:
    return ascii(word if len(word) <= 20 else word[:20] + "...")


def _parse_group(word: str) -> Group | str:
    """Return the group of one word, or the sentence that says what is wrong with it."""
    shown = _shown(word)
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
    if text in DRAGON_LETTERS:
        return SomeDragon(text)
    if dragon := re.fullmatch(r"D\((-?)([a-z])\)", text):
        return _dragon(dragon[1], dragon[2], shown)
    rank_text, _, letter = text.rpartition(".")
    if not re.fullmatch(r"[a-z]", letter):
        return _unknown(shown)
    if re.fullmatch(r"0|[1-9][0-9]{0,2}", rank_text):
        if not 1 <= int(rank_text) <= 9:
            return f"The rank of {shown} is out of range. Ranks go from 1 to 9; write O for white as zero."
        return _in_suit(Ranked(int(rank_text), letter), shown)
    if digit := re.fullmatch(r"Y([1-4])", rank_text):
        return _in_suit(YearDigit(int(digit[1]), letter), shown)
    return _relative(rank_text, letter, shown)


def _relative(text: str, letter: str, shown: str) -> Face | str:
    """Return a rank made of n and m: "n+2", "m-1", "n+m" or "n+m-9" counted up, "10-n" or "15-n-m" counted down."""
    if up := re.fullmatch(r"(n|m|n\+m)([+-][1-9][0-9]{0,2})?", text):
        face = Relative(int(up[2] or 0), letter, int("n" in up[1]), int("m" in up[1]))
    elif down := re.fullmatch(r"([1-9][0-9]{0,2})-(n|m|n-m)", text):
        face = Relative(int(down[1]), letter, -int("n" in down[2]), -int("m" in down[2]))
    else:
        return _unknown(shown)
    if not any(1 <= face.rank(n, m) <= 9 for n in range(1, 10) for m in range(1, 10)):
        every = " and ".join(face.letters)
        mend = f"{face.letters}+8 at most" if text.startswith(f"{face.letters}+") else "a smaller number"
        return f"The rank of {shown} is out of range for every {every}. Write {mend}."
    return _in_suit(face, shown)


def _dragon(sign: str, letter: str, shown: str) -> Face | str:
    if letter not in SUITS:
        return _in_suit(OtherDragon(letter) if sign else SuitDragon(letter), shown)
    own = DRAGON_OF_SUIT[letter]
    if sign:
        first, second = (tile for tile in DRAGON_OF_SUIT.values() if tile != own)
        return (
            f'{shown} is one of two dragons. Write two rows of groups with "or": one with {first}, one with {second}.'
        )
    return f"{shown} is always the {_DRAGON_NAMES[own]} dragon. Write {own} instead."


def _in_suit(face: InSuit, shown: str) -> Face | str:
    if face.suit in (*SUIT_LETTERS, *ANY_SUIT_LETTERS, *SUITS):
        return face
    return _fourth_suit(shown)


def _fourth_suit(shown: str) -> str:
    return f"{shown} asks for a fourth suit. The set has three, so write p, q or r."


def _unknown(shown: str) -> str:
    return f"{shown} has an unknown face. Write {_FACES} before the ^."

"""Turning what is free about one group of a hand: its suit, its rank, its dragon, its wind.

A row here is groups together with the tiles of an example; what a group stands for changes, the example stays. Each
function returns the row with the next sort of freedom for one group, and comes round to where it began.
"""

from dataclasses import dataclass, replace

from shared.cards.example import shows
from shared.cards.faces import (
    ANY_SUIT_LETTERS,
    DRAGON_LETTERS,
    SUIT_LETTERS,
    WIND_LETTERS,
    Face,
    Fixed,
    Group,
    Groups,
    OtherDragon,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.rules.tiles import DRAGON_OF_SUIT, SUITS, Tile, rank, suit

_SUIT_OF_DRAGON = {dragon: own for own, dragon in DRAGON_OF_SUIT.items()}


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row of groups and the tile of each in the example."""

    groups: Groups
    tiles: tuple[Tile, ...]

    def having(self, at: int, face: Face) -> "ShownRow":
        """Return the row with another face for one group."""
        groups = (*self.groups[:at], Group(face, self.groups[at].count), *self.groups[at + 1 :])
        return replace(self, groups=groups)


def kinds_of_turn(row: ShownRow, at: int) -> tuple[str, ...]:
    """Return what can be turned about a group: "rank" and "suit", "dragon", "wind" or nothing."""
    tile = row.tiles[at]
    if rank(tile):
        return ("suit",) if isinstance(row.groups[at].face, YearDigit) else ("rank", "suit")
    if isinstance(row.groups[at].face, YearDigit) or tile in "FJ":
        return ()
    return ("wind",) if tile in "NEWS" else ("dragon",)


def turn(row: ShownRow, at: int, what: str) -> ShownRow:
    """Return the row with the next sort of freedom for a group; the same row if the group has no such freedom."""
    if what not in kinds_of_turn(row, at):
        return row
    turned = row
    for _ in range(4):  # a sort of freedom that the example could not show is left out
        turned = {"rank": turn_rank, "suit": turn_suit, "dragon": turn_dragon, "wind": turn_wind}[what](turned, at)
        if shows(turned.groups, turned.tiles):
            return turned
    return row


def turn_suit(row: ShownRow, at: int) -> ShownRow:
    """Turn a suit: any that the others of its suit have too, then this one by name for all of them, then any at all.

    A suit whose dragon the hand asks for is not called by name: turn the dragon to this one first.
    """
    face, own = row.groups[at].face, suit(row.tiles[at]) or ""
    if not isinstance(face, Ranked | Relative | YearDigit):
        return row
    letter = _tied_letter(row, at)
    alone = next((one for one in ANY_SUIT_LETTERS if not _uses(row, one, but=at)), "")
    if face.suit in SUIT_LETTERS and not _has_dragon(row, face.suit):
        return _renamed(row, face.suit, own)
    if face.suit in SUIT_LETTERS:
        return row.having(at, replace(face, suit=alone or face.suit))
    if face.suit in SUITS:
        free = _unused(row, instead_of=own)
        tied = _renamed(row, own, free) if free else row
        return tied.having(at, replace(face, suit=alone or free or own))
    return row.having(at, replace(face, suit=letter or own))


def _renamed(row: ShownRow, letter: str, other: str) -> ShownRow:
    """Return the row with another letter for one suit, wherever a rank stands in it."""
    for at, group in enumerate(row.groups):
        if isinstance(group.face, Ranked | Relative | YearDigit) and group.face.suit == letter:
            row = row.having(at, replace(group.face, suit=other))
    return row


def _has_dragon(row: ShownRow, letter: str) -> bool:
    return any(isinstance(group.face, SuitDragon | OtherDragon) and group.face.suit == letter for group in row.groups)


def turn_rank(row: ShownRow, at: int) -> ShownRow:
    """Turn a rank: one that moves with the others, then fixed, then one that moves by itself.

    Lists of n and m that the hand has say nothing about the row any more.
    """
    face, number = row.groups[at].face, rank(row.tiles[at]) or 0
    if not isinstance(face, Ranked | Relative):
        return row
    others, alone = _start(row, "n", at, 0), _start(row, "m", at, number)
    if isinstance(face, Relative) and face.letters != "m":
        return _anchored(row.having(at, Ranked(number, face.suit)))
    if isinstance(face, Ranked) and others and others != alone:
        return _anchored(row.having(at, Relative(number - alone, face.suit, 0, 1)))
    if not others and number == _start(row, "m", at, 0):  # n and m are never alike
        moving = Ranked(number, face.suit) if isinstance(face, Relative) else Relative(0, face.suit, 0, 1)
        return _anchored(row.having(at, moving))
    return _anchored(row.having(at, Relative(number - (others or number), face.suit)))


def _anchored(row: ShownRow) -> ShownRow:
    """Return the row with n and m counted from the lowest rank of each, unless the two would then be alike."""
    anchored = row
    for letter in "nm":
        faces = [face for group in row.groups if isinstance(face := group.face, Relative) and letter in face.letters]
        if not faces or any(face.letters != letter or face.n_times + face.m_times < 0 for face in faces):
            continue
        low = min(face.plus for face in faces)
        for at, group in enumerate(row.groups):
            if isinstance(group.face, Relative) and group.face.letters == letter:
                anchored = anchored.having(at, replace(group.face, plus=group.face.plus - low))
    one, other = _start(anchored, "n", -1, 0), _start(anchored, "m", -1, 0)
    return row if one == other and one else anchored


def turn_dragon(row: ShownRow, at: int) -> ShownRow:
    """Turn a dragon: that of a suit, then any but that of a suit, then any, then this one."""
    face, tile = row.groups[at].face, row.tiles[at]
    own = _SUIT_OF_DRAGON[tile]
    letters = {shown: letter for letter, shown in _letters(row, but=at).items()}
    letter = letters[own] if own in letters else _unused(row)
    sorts: list[Face] = [SuitDragon(letter)] if letter and letter not in SUITS else []
    others = [letter for shown, letter in letters.items() if shown != own and letter not in SUITS]
    sorts += [OtherDragon(letter) for letter in others[:1]]
    sorts += [SomeDragon(_letter_of(row, at, SomeDragon, DRAGON_LETTERS)), Fixed(tile)]
    return row.having(at, _next(sorts, face))


def turn_wind(row: ShownRow, at: int) -> ShownRow:
    """Turn a wind: any, then this one."""
    sorts: list[Face] = [SomeWind(_letter_of(row, at, SomeWind, WIND_LETTERS)), Fixed(row.tiles[at])]
    return row.having(at, _next(sorts, row.groups[at].face))


def _next(sorts: list[Face], now: Face) -> Face:
    kinds = [type(sort) for sort in sorts]
    return sorts[(kinds.index(type(now)) + 1) % len(sorts)] if type(now) in kinds else sorts[0]


def _letters(row: ShownRow, but: int = -1) -> dict[str, str]:
    """Return the letters and names of suits in use, with the suit that the example shows for each."""
    found: dict[str, str] = {}
    for place, (group, tile) in enumerate(zip(row.groups, row.tiles, strict=True)):
        face = group.face
        if isinstance(face, Ranked | Relative | YearDigit) and (own := suit(tile)):
            found.setdefault(face.suit, own)
        elif isinstance(face, SuitDragon) and place != but:
            found.setdefault(face.suit, _SUIT_OF_DRAGON[tile])
    return found


def _uses(row: ShownRow, letter: str, but: int) -> bool:
    return any(getattr(group.face, "suit", "") == letter for place, group in enumerate(row.groups) if place != but)


def _tied_letter(row: ShownRow, at: int) -> str:
    """Return the letter or name of the other groups in the suit that the example shows, or a letter not used."""
    own = suit(row.tiles[at])
    shared = (letter for letter, shown in _letters(row).items() if letter not in ANY_SUIT_LETTERS and shown == own)
    return next(shared, "") or _unused(row)


def _unused(row: ShownRow, instead_of: str = "") -> str:
    """Return a suit letter that no group uses; "" if a fourth suit would be needed."""
    used = {getattr(group.face, "suit", "") for group in row.groups} - {"", instead_of, *ANY_SUIT_LETTERS}
    return next((letter for letter in SUIT_LETTERS if letter not in used and len(used) < len(SUITS)), "")


def _start(row: ShownRow, letter: str, at: int, otherwise: int) -> int:
    """Return the value of n or m in the example, from the other groups that use it."""
    for place, (group, tile) in enumerate(zip(row.groups, row.tiles, strict=True)):
        face = group.face
        if place != at and isinstance(face, Relative) and face.letters == letter:
            return ((rank(tile) or 0) - face.plus) * (face.n_times + face.m_times)
    return otherwise


def _letter_of(row: ShownRow, at: int, sort: type[SomeDragon] | type[SomeWind], letters: tuple[str, ...]) -> str:
    """Return the letter of the other groups that show the same tile, or one that is not used."""
    used = {
        group.face.letter: tile
        for place, (group, tile) in enumerate(zip(row.groups, row.tiles, strict=True))
        if place != at and isinstance(group.face, SomeDragon | SomeWind) and isinstance(group.face, sort)
    }
    same = (letter for letter, tile in used.items() if tile == row.tiles[at])
    return next(same, "") or next(letter for letter in letters if letter not in used)

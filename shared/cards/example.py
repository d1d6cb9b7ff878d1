"""One complete hand as the example of a row of groups, chosen so that it tells apart what the notation tells apart.

"1 or 2 in the same place" is easiest said of tiles that differ: where a fixed rank stands beside a free one, the
example shows two different ranks, and the same goes for suits, dragons and winds. Of such examples it is the first.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import get_args

from shared.cards.expand import Choice, Ranks, choices, counts_of, is_possible, ranks_of
from shared.cards.faces import (
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
from shared.rules.tiles import DRAGON_OF_SUIT, Tile, rank, suit

WINDS = ("N", "E", "W", "S")
DRAGONS = tuple(DRAGON_OF_SUIT.values())


@dataclass(frozen=True, slots=True)
class Example:
    """A row of groups with one tile for each.

    Attributes:
        groups: the row.
        tiles: the tile of each group.
        zeros: for each group whether its tile is the white dragon as a zero of the year.
        clear: which of "rank", "suit", "dragon" and "wind" the example tells apart.
    """

    groups: Groups
    tiles: tuple[Tile, ...]
    zeros: tuple[bool, ...]
    clear: frozenset[str]


@dataclass(frozen=True, slots=True)
class Columns:
    """The values of each group under every choice, by what kind of choice it is; "" for groups without.

    Two groups with the same column stand for the same thing, and a column of one value is fixed.
    """

    ranks: tuple[tuple[int, ...], ...]
    suits: tuple[tuple[str, ...], ...]
    dragons: tuple[tuple[str, ...], ...]
    winds: tuple[str, ...]


@lru_cache(maxsize=1024)
def columns_of(groups: Groups, n: Ranks, year: int, m: Ranks = None) -> Columns:
    """Return what each group can stand for; winds by their letter or name."""
    free = ranks_of(groups, n, m)
    zeros = zeros_of(groups, year)
    faces = [group.face for group in groups]
    ranks = tuple(
        () if zero else tuple(_rank(face, one, other, year) for one, other in free) if _is_suited(face) else ()
        for face, zero in zip(faces, zeros, strict=True)
    )
    plain = tuple(Group(_without_rank(face), 1) for face in faces)
    found = list(choices(plain, None)) or [Choice({}, {})]
    suits = tuple(
        tuple(choice.suits[face.suit] for choice in found) if _is_suited(face) and not zero else ()  # type: ignore[union-attr]
        for face, zero in zip(faces, zeros, strict=True)
    )
    dragons = tuple(tuple(choice.tile_of(face, year) for choice in found) if _is_dragon(face) else () for face in faces)
    winds = tuple(str(face) if isinstance(face, SomeWind) or _is_wind(face) else "" for face in faces)
    return Columns(ranks, suits, dragons, winds)


@lru_cache(maxsize=1024)
def example_of(groups: Groups, n: Ranks, year: int, m: Ranks = None, jokers: bool = True) -> Example:
    """Return the example of a row of groups.

    Raises:
        ValueError: the set cannot fill the row under any choice.
    """
    columns = columns_of(groups, n, year, m)
    sizes = tuple(group.count for group in groups)
    faces = [group.face for group in groups]
    best: tuple[int, tuple[Tile, ...], frozenset[str]] | None = None
    for choice in choices(groups, n, m):
        tiles = tuple([choice.tile_of(face, year) for face in faces])
        if not is_possible(counts_of(tiles, sizes, jokers)):
            continue
        clear = _clear(columns, tiles)
        if best is None or len(clear) > best[0]:
            best = len(clear), tiles, clear
            if len(clear) == 4:
                break
    if best is None:
        raise ValueError("no choice can be played with the set")
    return Example(groups, best[1], zeros_of(groups, year), best[2])


def example_with(
    groups: Groups, tiles: tuple[Tile, ...], n: Ranks, year: int, m: Ranks = None, jokers: bool = True
) -> Example:
    """Return the example that shows these tiles, if it tells apart as much as the best one does; else the best one."""
    best = example_of(groups, n, year, m, jokers)
    clear = _clear(columns_of(groups, n, year, m), tiles)
    return Example(groups, tiles, zeros_of(groups, year), clear) if clear >= best.clear else best


def zeros_of(groups: Groups, year: int) -> tuple[bool, ...]:
    """Return for each group whether it is a zero of the year."""
    return tuple(isinstance(face := group.face, YearDigit) and str(year)[face.place - 1] == "0" for group in groups)


def _clear(columns: Columns, tiles: tuple[Tile, ...]) -> frozenset[str]:
    """Return in which respects groups that stand for different things show different tiles."""
    shown: dict[str, list[tuple[object, object]]] = {
        "rank": [(column, rank(tile)) for column, tile in zip(columns.ranks, tiles, strict=True) if column],
        "suit": [(column, suit(tile)) for column, tile in zip(columns.suits, tiles, strict=True) if column],
        "dragon": [(column, tile) for column, tile in zip(columns.dragons, tiles, strict=True) if column],
        "wind": [(column, tile) for column, tile in zip(columns.winds, tiles, strict=True) if column],
    }
    return frozenset(
        what for what, pairs in shown.items() if len({one for one, _ in pairs}) == len({other for _, other in pairs})
    )


def _rank(face: Face, n: int, m: int, year: int) -> int:
    match face:
        case Ranked(number, _):
            return number
        case Relative():
            return face.rank(n, m)
        case YearDigit(place, _):
            return int(str(year)[place - 1])
    raise ValueError(f"{face} has no rank")


def _is_suited(face: Face) -> bool:
    return isinstance(face, Ranked | Relative | YearDigit)


def _is_dragon(face: Face) -> bool:
    return isinstance(face, SuitDragon | OtherDragon | SomeDragon) or (isinstance(face, Fixed) and face.tile in DRAGONS)


def _is_wind(face: Face) -> bool:
    return isinstance(face, Fixed) and face.tile in WINDS


def _without_rank(face: Face) -> Face:
    """Return a face with the same suit whose rank is fixed, and a flower for a wind: only suits and dragons vary."""
    if isinstance(face, SuitDragon | OtherDragon):
        return face
    if isinstance(face, get_args(InSuit)):
        return Ranked(5, face.suit)
    return Fixed("F") if isinstance(face, SomeWind) else face

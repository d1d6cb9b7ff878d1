"""Tiles in sentences: "two 9 dot, north and three flowers". Pure."""

from collections import Counter
from collections.abc import Iterable

from shared.cards.freedom import NUMBERS, listed
from shared.rules.tiles import Tile, name, word


def called(tile: Tile) -> str:
    """Return a tile's name in a sentence; a dragon is called one."""
    return f"{word(tile)} dragon" if tile in ("R", "G") else name(tile)


def many(tile: Tile) -> str:
    """Return the name of several copies of a tile: "9 dot", "flowers"."""
    return called(tile) if len(tile) == 2 else f"{called(tile)}s"


def some(tile: Tile, count: int) -> str:
    """Return so many of a tile: "5 dot", "two red dragons"."""
    return called(tile) if count == 1 else f"{NUMBERS[count] if count < len(NUMBERS) else count} {many(tile)}"


def listed_tiles(tiles: Iterable[Tile]) -> str:
    """Return tiles by name, equal ones counted, in the order in which they come.

    >>> listed_tiles(("9d", "N", "9d"))
    'two 9 dot and north'
    """
    return listed([some(tile, count) for tile, count in Counter(tiles).items()]) or "no tile"

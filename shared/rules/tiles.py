"""The tiles: 36 kinds, how many there are of each, their codes and their order.

A tile is its code, a short string ("5b", "N", "F"); two tiles of one kind cannot be told apart. A rack is a
tuple of tiles in the order in which its owner arranged them.

The set is common practice in the trade and described in the encyclopedia article "American mahjong":
108 suited tiles, 16 winds, 12 dragons, 8 flowers and 8 jokers make 152.
"""

from collections.abc import Iterable
from typing import Literal, get_args

Tile = Literal[
    "1b", "2b", "3b", "4b", "5b", "6b", "7b", "8b", "9b",
    "1c", "2c", "3c", "4c", "5c", "6c", "7c", "8c", "9c",
    "1d", "2d", "3d", "4d", "5d", "6d", "7d", "8d", "9d",
    "N", "E", "W", "S", "R", "G", "O", "F", "J",
]  # fmt: skip
Rack = tuple[Tile, ...]

KINDS: Rack = get_args(Tile)
"""All 36 kinds in the order in which a rack is sorted by suit: bams, craks, dots, winds, dragons, flower, joker."""

JOKER: Tile = "J"
FLOWER: Tile = "F"
SUITS = ("b", "c", "d")
DRAGON_OF_SUIT: dict[str, Tile] = {"b": "G", "c": "R", "d": "O"}
"""Which dragon goes with a suit: green with bams, red with craks, white with dots (common practice)."""

COPIES: dict[Tile, int] = {tile: 8 if tile in ("F", "J") else 4 for tile in KINDS}
INDEX: dict[Tile, int] = {tile: index for index, tile in enumerate(KINDS)}

_SUIT_WORDS = {"b": "bam", "c": "crak", "d": "dot"}
_HONOUR_WORDS = {
    "N": "north",
    "E": "east",
    "W": "west",
    "S": "south",
    "R": "red",
    "G": "green",
    "O": "soap",
    "F": "flower",
    "J": "joker",
}


class TileError(ValueError):
    """Text that names no possible tiles; the message is one sentence for the player."""


class UnknownTile(TileError):
    """No tile has this code."""


def rank(tile: Tile) -> int | None:
    """Return 1-9 for a suited tile and None for all others."""
    return int(tile[0]) if len(tile) == 2 else None


def suit(tile: Tile) -> str | None:
    """Return "b", "c" or "d" for a suited tile and None for all others."""
    return tile[1] if len(tile) == 2 else None


def word(tile: Tile) -> str:
    """Return the suit's or the honour's word: "bam" for "5b", "soap" for "O".

    >>> word("5b"), word("O")
    ('bam', 'soap')
    """
    return _SUIT_WORDS[tile[1]] if len(tile) == 2 else _HONOUR_WORDS[tile]


def name(tile: Tile) -> str:
    """Return the tile's spoken name.

    >>> name("5b"), name("O"), name("N")
    ('5 bam', 'soap', 'north')
    """
    return f"{tile[0]} {word(tile)}" if len(tile) == 2 else word(tile)


def parse_tile(code: str) -> Tile:
    """Return the tile of a code, upper or lower case.

    Raises:
        UnknownTile: no tile has this code.
    """
    text = code.strip()
    for candidate in (text.lower(), text.upper()):
        if candidate in INDEX:
            return KINDS[INDEX[candidate]]
    raise UnknownTile(f"{code!r} is not a tile: write 1b-9b, 1c-9c, 1d-9d, N E W S, R G O, F or J.")


def format_tiles(tiles: Iterable[Tile]) -> str:
    """Return the codes separated by spaces."""
    return " ".join(tiles)


def full_set(jokers: int = 8) -> Rack:
    """Return every tile of the set in kind order, with the given number of jokers (8, or 0 for a plain drill)."""
    return tuple(tile for tile in KINDS for _ in range(jokers if tile == JOKER else COPIES[tile]))


def by_suit(tiles: Iterable[Tile]) -> Rack:
    """Return the tiles sorted by suit, then rank: the order of KINDS."""
    return tuple(sorted(tiles, key=INDEX.__getitem__))


def by_rank(tiles: Iterable[Tile]) -> Rack:
    """Return the tiles sorted by rank, then suit; honours, flowers and jokers after the suited tiles."""
    return tuple(sorted(tiles, key=lambda tile: (rank(tile) or 10, INDEX[tile])))


def remove(rack: Rack, tiles: Iterable[Tile]) -> Rack | None:
    """Return the rack without the tiles, in the same order, or None if it does not hold them all.

    Of equal tiles the rightmost go first, so that a person's arrangement on the left stays.
    """
    left = list(reversed(rack))
    for tile in tiles:
        if tile not in left:
            return None
        left.remove(tile)
    return tuple(reversed(left))

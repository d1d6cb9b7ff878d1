"""The rack as its owner holds it: tiles at places, in the owner's order, some of them lifted.

Two tiles of one kind cannot be told apart, but their places can; so what is lifted is a place. Pure: the table
knows only tiles, and the rack is fitted to whatever the table says it holds.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from shared.rules.tiles import JOKER, Rack, Tile, by_rank, by_suit

Sort = Literal["suit", "rank", "own"]
PLACES = "abcdefghijklmn"
"""The letters that name the places of a rack, from the left."""


@dataclass(frozen=True, slots=True)
class HeldRack:
    """tiles from the left; lifted holds places in the order in which they were lifted; cursor is a place."""

    tiles: Rack = ()
    lifted: tuple[int, ...] = ()
    cursor: int = 0
    sort: Sort = "suit"

    def lifted_tiles(self) -> Rack:
        """Return the lifted tiles in the order in which they were lifted."""
        return tuple(self.tiles[place] for place in self.lifted)

    def toggled(self, place: int) -> "HeldRack":
        """Return the rack with the place lifted or dropped, and the cursor on it."""
        if place in self.lifted:
            lifted = tuple(other for other in self.lifted if other != place)
        else:
            lifted = (*self.lifted, place)
        return replace(self, lifted=lifted, cursor=place)

    def dropped(self, keep: int = 0) -> "HeldRack":
        """Return the rack with only the first so many lifted tiles still lifted."""
        return replace(self, lifted=self.lifted[:keep])

    def moved_cursor(self, by: int) -> "HeldRack":
        """Return the rack with the cursor moved, stopping at the ends."""
        return replace(self, cursor=self._clamped(self.cursor + by))

    def shifted(self, by: int) -> "HeldRack":
        """Return the rack with the tile under the cursor moved by one or more places; the order is now its own."""
        target = self._clamped(self.cursor + by)
        order = list(range(len(self.tiles)))
        order.insert(target, order.pop(self.cursor))
        return replace(self._reordered(order), cursor=target, sort="own")

    def sorted_by(self, sort: Sort) -> "HeldRack":
        """Return the rack sorted by suit or rank; lifted tiles stay lifted. "own" leaves the order as it is."""
        if sort == "own":
            return replace(self, sort="own")
        wanted = by_suit(self.tiles) if sort == "suit" else by_rank(self.tiles)
        places: dict[Tile, list[int]] = {}
        for place, tile in enumerate(self.tiles):
            places.setdefault(tile, []).append(place)
        return replace(self._reordered([places[tile].pop(0) for tile in wanted]), sort=sort)

    def fitted(self, held: Rack) -> "HeldRack":
        """Return the rack with the table's tiles: those passed are gone, those received are put in its order.

        Of equal tiles a lifted one is removed first: lifted tiles are the ones that were passed.
        """
        gone = Counter(self.tiles) - Counter(held)
        came = Counter(held) - Counter(self.tiles)
        leaving = []
        for place in sorted(range(len(self.tiles)), key=lambda place: (place not in self.lifted, -place)):
            if gone[self.tiles[place]]:
                gone[self.tiles[place]] -= 1
                leaving.append(place)
        staying = [place for place in range(len(self.tiles)) if place not in leaving]
        kept = replace(self._reordered(staying), cursor=0)
        grown = replace(kept, tiles=(*kept.tiles, *came.elements()))
        return replace(grown.sorted_by(self.sort), cursor=min(self.cursor, max(0, len(held) - 1)))

    def with_lifted(self, tiles: Iterable[Tile]) -> "HeldRack":
        """Return the rack with exactly these tiles lifted, as far as it holds them."""
        lifted: list[int] = []
        for tile in tiles:
            free = [place for place, held in enumerate(self.tiles) if held == tile and place not in lifted]
            lifted += free[-1:]
        return replace(self, lifted=tuple(lifted))

    def marked(self, tiles: Iterable[Tile]) -> frozenset[int]:
        """Return the places that stand for these tiles; of equal ones the rightmost."""
        return frozenset(self.with_lifted(tiles).lifted)

    def may_lift(self, place: int) -> bool:
        """Say whether the place holds a tile that may be passed."""
        return 0 <= place < len(self.tiles) and self.tiles[place] != JOKER

    def _reordered(self, order: list[int]) -> "HeldRack":
        lifted = tuple(order.index(place) for place in self.lifted if place in order)
        cursor = order.index(self.cursor) if self.cursor in order else 0
        return replace(self, tiles=tuple(self.tiles[place] for place in order), lifted=lifted, cursor=cursor)

    def _clamped(self, place: int) -> int:
        return max(0, min(place, len(self.tiles) - 1))

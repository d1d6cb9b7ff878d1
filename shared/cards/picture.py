"""A hand drawn in tiles: groups apart, each with its suit's letter once behind it, with a rack or without.

    FFFF  111b  2222b  333b            the hand
    FF··  11·b  2···b  3··b            the same against a rack

Pure values: a screen colours the cells, a plain line prints `text()`. The groups stand in the hand's own order.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from shared.cards.card import Hand
from shared.cards.example import Example, example_of, zeros_of
from shared.cards.expand import Counts, Pattern, counts_of, instances, is_possible, pattern_of
from shared.cards.faces import Groups, YearDigit
from shared.cards.freedom import NUMBERS
from shared.cards.said import some
from shared.rules.tiles import JOKER, Tile, rank, suit

CellKind = Literal["tile", "held", "joker", "missing", "gap"]
"""With no rack known all places are tiles. A gap is an empty place whose rank lies between held ranks."""


@dataclass(frozen=True, slots=True)
class Marks:
    """What is printed where no tile stands."""

    missing: str = "·"
    gap: str = "°"
    joker: str = "J"


PLAIN = Marks(missing=".", gap="o")
"""Marks for terminals that show nothing but ASCII."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One place of a hand: the tile that it wants, how that tile is written there, and what fills it."""

    kind: CellKind
    tile: Tile
    sign: str

    def text(self, marks: Marks = Marks()) -> str:
        """Return the one character that stands in this place."""
        match self.kind:
            case "missing":
                return marks.missing
            case "gap":
                return marks.gap
            case "joker":
                return marks.joker
        return self.sign


@dataclass(frozen=True, slots=True)
class Block:
    """Cells that stand together: a group, or the digits of the year. `suit` is the letter behind them, or ""."""

    cells: tuple[Cell, ...]
    suit: str

    def text(self, marks: Marks = Marks()) -> str:
        """Return the block as it is printed."""
        return "".join(cell.text(marks) for cell in self.cells) + self.suit


@dataclass(frozen=True, slots=True)
class Picture:
    """A whole hand as blocks."""

    blocks: tuple[Block, ...]

    @property
    def cells(self) -> tuple[Cell, ...]:
        """All its places, fourteen for a hand."""
        return tuple(cell for block in self.blocks for cell in block.cells)

    def text(self, marks: Marks = Marks(), between: str = "  ") -> str:
        """Return the hand as it is printed."""
        return between.join(block.text(marks) for block in self.blocks)


@dataclass(frozen=True, slots=True)
class AgainstRack:
    """A hand drawn against a rack.

    Attributes:
        row: which row of the hand it is, counted from 0.
        tiles: the tile of each group.
        picture: the drawing; held and missing places and jokers add up to fourteen.
        to_go: what is missing, in the hand's order, each kind once with its count and how it is written.
    """

    row: int
    tiles: tuple[Tile, ...]
    picture: Picture
    to_go: tuple[tuple[str, int], ...]

    @property
    def away(self) -> int:
        """How many tiles are missing."""
        return sum(count for _, count in self.to_go)

    def text(self) -> str:
        """Return what is missing as a line: "8 to go: two F, 1b, three 2b, two 3b"."""
        if not self.to_go:
            return "complete"
        return f"{self.away} to go: " + ", ".join(_counted(code, count) for code, count in self.to_go)


def examples(hand: Hand, year: int) -> tuple[Example, ...]:
    """Return an example of each row of a hand."""
    pattern = pattern_of(hand)
    return tuple(example_of(row, pattern.n, year, pattern.m, pattern.jokers) for row in pattern.rows)


def pictures(hand: Hand, year: int) -> tuple[Picture, ...]:
    """Return a hand drawn with no rack known: an example of each row."""
    return tuple(draw(example.groups, example.tiles, year) for example in examples(hand, year))


def picture_text(hand: Hand, year: int, between: str = "  ") -> str:
    """Return a hand in tiles in one line, its rows joined by "or"."""
    return " or ".join(picture.text(between=between) for picture in pictures(hand, year))


def draw(groups: Groups, tiles: Sequence[Tile], year: int) -> Picture:
    """Return groups drawn with these tiles and no rack."""
    zeros = zeros_of(groups, year)
    cells = [
        tuple(Cell("tile", tile, _sign(tile, zero)) for _ in range(group.count))
        for group, tile, zero in zip(groups, tiles, zeros, strict=True)
    ]
    return Picture(_blocks(groups, tiles, zeros, cells))


def nearest(hand: Hand, rack: Iterable[Tile], year: int) -> AgainstRack:
    """Return the hand against a rack, by the variant that is the fewest tiles away; of equals the first.

    Raises:
        ValueError: the hand's groups cannot be read, or the set cannot fill them.
    """
    pattern, held = pattern_of(hand), tuple(rack)
    counts = Counter(held)
    best: tuple[int, int, tuple[Tile, ...]] | None = None
    for number, row in enumerate(pattern.rows):
        sizes = tuple(group.count for group in row)
        for tiles in instances(row, pattern.n, year, pattern.m):
            away = _away(counts, tiles, sizes, pattern.jokers)
            if (best is None or away < best[0]) and is_possible(counts_of(tiles, sizes, pattern.jokers)):
                best = away, number, tiles
    if best is None:
        raise ValueError(f"{hand.id} cannot be played with the set")
    return against(pattern, best[1], best[2], held, year)


def as_variant(hand: Hand, wanted: Counts, rack: Iterable[Tile], year: int) -> AgainstRack:
    """Return the hand against a rack by one of its variants, as the coach names it.

    Raises:
        ValueError: the hand has no such variant.
    """
    found = _instances_of(hand, year).get(wanted)
    if found is None:
        raise ValueError(f"{hand.id} has no such variant")
    return against(pattern_of(hand), *found, rack, year)


def against(pattern: Pattern, row: int, tiles: Sequence[Tile], rack: Iterable[Tile], year: int) -> AgainstRack:
    """Return one row of a hand, with these tiles for its groups, against a rack of any length."""
    groups = pattern.rows[row]
    zeros = zeros_of(groups, year)
    sizes = [group.count for group in groups]
    takes = [pattern.jokers and size >= 3 for size in sizes]
    counts = Counter(rack)
    held = _held(counts, tiles, sizes, takes)
    jokers = _jokers(counts[JOKER], [size - have for size, have in zip(sizes, held, strict=True)], takes)
    gaps = _gaps(tiles, held)
    cells, to_go = [], Counter[str]()
    for tile, zero, size, have, filled, gap in zip(tiles, zeros, sizes, held, jokers, gaps, strict=True):
        sign, missing = _sign(tile, zero), size - have - filled
        parts: tuple[tuple[CellKind, int], ...] = (
            ("held", have),
            ("joker", filled),
            ("gap" if gap else "missing", missing),
        )
        cells.append(tuple(Cell(kind, tile, sign) for kind, count in parts for _ in range(count)))
        if missing:
            to_go["0" if zero else tile] += missing
    picture = Picture(_blocks(groups, tiles, zeros, cells))
    return AgainstRack(row, tuple(tiles), picture, tuple(to_go.items()))


def spoken(example_picture: Picture) -> str:
    """Return a drawn hand for the ear: "four flowers, three 1 bam, four 2 bam, three 3 bam"."""
    said = []
    for block in example_picture.blocks:
        for tile, count in Counter(cell.tile for cell in block.cells).items() if not _is_year(block) else ():
            said.append(_said(tile, count))
        if _is_year(block):
            digits = " ".join("zero" if cell.sign == "0" else cell.sign for cell in block.cells)
            said.append(f"{digits} {_SUITS[block.suit]}")
    return ", ".join(said)


_SUITS = {"b": "bam", "c": "crak", "d": "dot", "": ""}
_ONE = {"N": "north", "E": "east", "W": "west", "S": "south", "R": "red dragon", "G": "green dragon", "O": "soap"}
_ONE |= {"F": "flower", "J": "joker"}


def _is_year(block: Block) -> bool:
    return len({cell.sign for cell in block.cells}) > 1


def _said(tile: Tile, count: int) -> str:
    if len(tile) == 2:
        one = f"{tile[0]} {_SUITS[tile[1]]}"
        return one if count == 1 else f"{NUMBERS[count]} {one}"
    return f"{NUMBERS[count]} {_ONE[tile]}{'' if count == 1 else 's'}"


def spoken_to_go(drawn: AgainstRack) -> str:
    """Return what is missing, for the ear: "8 to go: two flowers, 1 bam, soap"."""
    missing = Counter(cell.tile for cell in drawn.picture.cells if cell.kind in ("missing", "gap"))
    return f"{drawn.away} to go: {', '.join(some(*each) for each in missing.items())}" if missing else drawn.text()


def _counted(code: str, count: int) -> str:
    return code if count == 1 else f"{NUMBERS[count]} {code}"


def _sign(tile: Tile, zero: bool) -> str:
    return "0" if zero else tile[0]


def _blocks(
    groups: Groups, tiles: Sequence[Tile], zeros: Sequence[bool], cells: Sequence[tuple[Cell, ...]]
) -> tuple[Block, ...]:
    """Return the cells of the groups as blocks; the four digits of the year are one if they are single and in one suit.

    They stand apart if they are all alike, since four twos together would look like a group of four.
    """
    blocks: list[Block] = []
    at = 0
    while at < len(groups):
        end = _year_end(groups, at)
        together = tuple(cell for part in cells[at:end] for cell in part)
        if len({cell.sign for cell in together}) == 1:
            end = at + 1
        together = tuple(cell for part in cells[at:end] for cell in part)
        suits = [suit(tile) or "" for tile, zero in zip(tiles[at:end], zeros[at:end], strict=True) if not zero]
        blocks.append(Block(together, suits[0] if suits else ""))
        at = end
    return tuple(blocks)


def _year_end(groups: Groups, at: int) -> int:
    """Return where the four single digits of the year that begin here end; the next group if none begin here."""
    faces = [group.face for group in groups[at : at + 4] if group.count == 1]
    digits = [face for face in faces if isinstance(face, YearDigit)]
    is_year = [face.place for face in digits] == [1, 2, 3, 4] and len({face.suit for face in digits}) == 1
    return at + 4 if is_year else at + 1


@lru_cache(maxsize=256)
def _instances_of(hand: Hand, year: int) -> dict[Counts, tuple[int, tuple[Tile, ...]]]:
    """Return the row and the tiles of the groups for each variant of a hand; of equals the first.

    Cached, because the coach names variants of the same few hands again and again.
    """
    pattern = pattern_of(hand)
    found: dict[Counts, tuple[int, tuple[Tile, ...]]] = {}
    for number, row in enumerate(pattern.rows):
        sizes = tuple(group.count for group in row)
        for tiles in instances(row, pattern.n, year, pattern.m):
            found.setdefault(counts_of(tiles, sizes, pattern.jokers), (number, tiles))
    return found


def _away(counts: "Counter[Tile]", tiles: Sequence[Tile], sizes: Sequence[int], jokers: bool) -> int:
    takes = [jokers and size >= 3 for size in sizes]
    held = _held(counts, tiles, sizes, takes)
    missing = [size - have for size, have in zip(sizes, held, strict=True)]
    in_groups = sum(count for count, own in zip(missing, takes, strict=True) if own)
    return sum(missing) - min(in_groups, counts[JOKER])


def _held(counts: "Counter[Tile]", tiles: Sequence[Tile], sizes: Sequence[int], takes: Sequence[bool]) -> list[int]:
    """Return how many real tiles of a rack stand in each group: singles and pairs are served first."""
    left: dict[Tile, int] = {tile: counts[tile] for tile in tiles}
    held = [0] * len(tiles)
    for jokers in (False, True):
        for place, tile in enumerate(tiles):
            if takes[place] == jokers:
                held[place] = min(left[tile], sizes[place])
                left[tile] -= held[place]
    return held


def _jokers(jokers: int, missing: list[int], takes: Sequence[bool]) -> list[int]:
    """Return how many jokers stand in each group: the one that lacks the fewest is filled first."""
    filled = [0] * len(missing)
    for place in sorted(range(len(missing)), key=missing.__getitem__):
        if takes[place]:
            filled[place] = min(jokers, missing[place])
            jokers -= filled[place]
    return filled


def _gaps(tiles: Sequence[Tile], held: Sequence[int]) -> list[bool]:
    """Return which groups are gaps: none of their rank is held, but the ranks next below and next above are.

    The next rank is the nearest that the hand wants, at most two away.
    """
    ranks = {number for tile in tiles if (number := rank(tile))}
    have = {number for tile, count in zip(tiles, held, strict=True) if count and (number := rank(tile))}

    def beside(number: int, step: int) -> bool:
        near = next((one for one in (number + step, number + 2 * step) if one in ranks), None)
        return near in have

    return [
        (number := rank(tile)) is not None
        and not count
        and number not in have
        and beside(number, -1)
        and beside(number, 1)
        for tile, count in zip(tiles, held, strict=True)
    ]

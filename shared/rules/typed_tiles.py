"""Tiles as people type them: "1123b 567c 9d NE FF J", "1b1b2b", "5 bam, soap".

The one reader for every line of tiles that somebody types. It never raises and never guesses: what cannot be read comes
back as a fault with its place in the line and how to mend it, and everything else is read all the same.
"""

import re
from collections import Counter
from dataclasses import dataclass, field
from itertools import groupby

from shared.rules.tiles import COPIES, KINDS, SUITS, Rack, Tile, TileError, name, parse_tile, suit

MOST_TYPED = 400
"""Characters that a line of tiles may have."""
_LETTERS: dict[str, Tile] = {kind.lower(): kind for kind in KINDS if len(kind) == 1}
_WORDS: dict[str, Tile] = {
    "north": "N",
    "east": "E",
    "west": "W",
    "south": "S",
    "red": "R",
    "green": "G",
    "white": "O",
    "soap": "O",
    "flower": "F",
    "joker": "J",
}
_WORDS |= {f"{word}s": tile for word, tile in _WORDS.items()}
_AFTER = {"dragon": "RGO", "dragons": "RGO", "wind": "NEWS", "winds": "NEWS"}
"""Words that may stand behind a tile and add nothing: "red dragon", "east wind"."""
_SUIT_WORDS = {"bam": "b", "bams": "b", "crak": "c", "craks": "c", "dot": "d", "dots": "d"}
_PIECE = re.compile(
    rf"(?P<digits>[0-9]+)(?P<suit>{'|'.join(sorted(_SUIT_WORDS, reverse=True))}|[bcd])?|(?P<word>[a-z]+)"
)
_ZERO: Tile = "O"
_HELP = "Write 1b-9b, 1c-9c, 1d-9d, N E W S, R G O, F or J."


@dataclass(frozen=True, slots=True)
class BadTile:
    """What cannot be read: its place in the line, counted from 1, what is wrong and how to mend it."""

    column: int
    text: str

    def __str__(self) -> str:
        """The fault with its place, as one line.

        >>> str(read_tiles("1b 10b").faults[0])
        'At 4: 10b has no such rank. Ranks go from 1 to 9; write 0 alone for a soap.'
        """
        return f"At {self.column}: {self.text}"


@dataclass(frozen=True, slots=True)
class TypedTiles:
    """What a line of tiles says.

    Attributes:
        tiles: all tiles that could be read, as typed.
        groups: the same in groups, as somebody writes a hand: equal tiles side by side without a space, and single
            equal tiles that follow each other. The digits of the year are groups of one.
        years: the places in `groups` where the digits of the year begin.
        faults: what could not be read, in order.
    """

    tiles: Rack
    groups: tuple[tuple[Tile, int], ...]
    years: tuple[int, ...] = ()
    faults: tuple[BadTile, ...] = ()

    def count_of(self, wanted: int) -> str:
        """Return how many tiles are typed: "13 of 14"."""
        return f"{len(self.tiles)} of {wanted}"


def read_tiles(text: str, year: int | None = None, places: Rack | None = None, check_copies: bool = True) -> TypedTiles:
    """Return what a line of tiles says.

    Args:
        text: the line; tiles may be apart or together, in any case.
        year: the year of the card at hand, whose digits may be typed together with a zero: "2026b".
        places: a rack; a single small letter then is a place of it ("a" the first tile) and no tile's code.
        check_copies: whether more of a kind than the set holds is a fault.

    >>> read_tiles("1123b 567c 9d NE FF J").tiles
    ('1b', '1b', '2b', '3b', '5c', '6c', '7c', '9d', 'N', 'E', 'F', 'F', 'J')
    """
    if len(text) > MOST_TYPED:
        return TypedTiles((), (), (), (BadTile(MOST_TYPED + 1, f"The line is longer than {MOST_TYPED}. Write less."),))
    reader = _Reader(year, places)
    reader.read(text)
    if check_copies:
        reader.check_copies()
    tiles = tuple(tile for tile, _ in reader.found)
    groups, years = _groups(reader.parts)
    return TypedTiles(tiles, groups, years, tuple(sorted(reader.faults, key=lambda fault: fault.column)))


def typed(text: str, year: int | None = None, places: Rack | None = None) -> Rack:
    """Return the tiles of a line.

    Raises:
        TileError: the first fault of the line, with its place and how to mend it.
    """
    read = read_tiles(text, year, places)
    if read.faults:
        raise TileError(str(read.faults[0]))
    return read.tiles


def compact(tiles: Rack) -> str:
    """Return tiles as people write them, in the order given: neighbours of one suit share its letter.

    >>> compact(("1b", "1b", "2b", "5c", "N", "E", "F", "F"))
    '112b 5c NE FF'
    """
    words = []
    for key, run in groupby(tiles, key=lambda tile: suit(tile) or ("wind" if tile in "NEWS" else tile)):
        part = tuple(run)
        words.append("".join(tile[0] for tile in part) + (key if key in SUITS else ""))
    return " ".join(words)


def _groups(parts: list[tuple[Rack, bool]]) -> tuple[tuple[tuple[Tile, int], ...], tuple[int, ...]]:
    """Return the groups of the parts of a line, and where a year begins among them."""
    groups: list[tuple[Tile, int]] = []
    years: list[int] = []
    after_single = False
    for tiles, is_year in parts:
        if is_year:
            years.append(len(groups))
            groups += [(tile, 1) for tile in tiles]
            after_single = False
            continue
        if after_single and len(tiles) == 1 and groups[-1][0] == tiles[0]:
            groups[-1] = (tiles[0], groups[-1][1] + 1)
            continue
        groups += [(tile, len(tuple(run))) for tile, run in groupby(tiles)]
        after_single = len(tiles) == 1
    return tuple(groups), tuple(years)


@dataclass(slots=True)
class _Reader:
    """What has been read of a line so far. `found` holds tiles with their columns, `parts` those of each word."""

    year: int | None
    places: Rack | None
    found: list[tuple[Tile, int]] = field(default_factory=list)
    parts: list[tuple[Rack, bool]] = field(default_factory=list)
    faults: list[BadTile] = field(default_factory=list)

    def read(self, text: str) -> None:
        words = [(match.start() + 1, match.group()) for match in re.finditer(r"[^\s,;]+", text)]
        skip = False
        for number, (column, word) in enumerate(words):
            if skip:
                skip = False
                continue
            following = words[number + 1][1].lower() if number + 1 < len(words) else ""
            if word.isascii() and word.isdigit() and following in _SUIT_WORDS:
                self.ranks(column, word, _SUIT_WORDS[following], f"{word} {following}")
                skip = True
            elif not self.place(column, word):
                self.word(column, word)

    def place(self, column: int, word: str) -> bool:
        """Take a single small letter as a place of the rack, if there is a rack."""
        if self.places is None or not re.fullmatch("[a-z]+", word) or word in _WORDS or word in _AFTER:
            return False
        if len(word) > 1:
            if word in _SUIT_WORDS or not set(word) <= set(_LETTERS):
                return False
            apart = " ".join(word)
            self.fault(column, f"{word} could be tiles or places. Write {word.upper()} for tiles, {apart} for places.")
            return True
        at = ord(word) - ord("a")
        if at < len(self.places):
            self.take(column, (self.places[at],))
        else:
            capital = f"; for the tile write {word.upper()}" if word in _LETTERS else ""
            self.fault(column, f"There is no tile at {word}. The rack has {len(self.places)} places{capital}.")
        return True

    def word(self, column: int, word: str) -> None:
        """Read one word piece by piece: "1b1b2b", "567cNE", "0", "soap"."""
        text = word.lower()
        if len(text) != len(word) or not text.isascii():
            self.fault(column, f"{_shown(word)} is no tile. {_HELP}")
            return
        if re.fullmatch("0+", text):
            self.take(column, (_ZERO,) * len(text))
            return
        at = 0
        while at < len(text):
            piece = _PIECE.match(text, at)
            if piece is None:
                self.fault(column + at, f"{_shown(word[at])} is no tile. {_HELP}")
                at += 1
                continue
            if piece["word"]:
                self.letters(column + at, piece["word"])
            elif piece["suit"]:
                letter = _SUIT_WORDS.get(piece["suit"], piece["suit"])
                self.ranks(column + at, piece["digits"], letter, word[at : piece.end()])
            elif (unknown := re.match("[ac-z]+", text[piece.end() :])) and unknown[0][0] not in _LETTERS:
                self.no_such_suit(column + at, piece["digits"], unknown[0])
                at = piece.end() + unknown.end()
                continue
            else:
                self.no_suit(column + at, piece["digits"], text[piece.end() : piece.end() + 1])
            at = piece.end()

    def ranks(self, column: int, digits: str, letter: str, written: str) -> None:
        """Take digits with the suit behind them."""
        if self.year is not None and digits == str(self.year):
            tiles = tuple(parse_tile(f"{digit}{letter}" if digit != "0" else _ZERO) for digit in digits)
            self.take(column, tiles, is_year=len(set(digits)) > 1)
        elif "0" not in digits:
            self.take(column, tuple(parse_tile(f"{digit}{letter}") for digit in digits))
        elif re.fullmatch("0+", digits):
            self.fault(column, f"{_shown(written)} has a suit, but a soap has none. Write {digits} alone.")
        else:
            self.fault(column, f"{written} has no such rank. Ranks go from 1 to 9; write 0 alone for a soap.")

    def no_suit(self, column: int, digits: str, following: str) -> None:
        mend = f"Write {digits[:4]}b, {digits[:4]}c or {digits[:4]}d."
        if following in _LETTERS and digits in ("2", "3", "4", "5", "6", "7", "8"):
            capital = following.upper()
            mend = f"Write {digits}b, {digits}c or {digits}d; {digits} of {capital} are {capital * int(digits)}."
        elif "0" in digits:
            mend = "Write the zero alone, and a suit behind the others."
        self.fault(column, f"{_shown(digits)} has no suit. {mend}")

    def no_such_suit(self, column: int, digits: str, letters: str) -> None:
        mend = f"Write {digits[:4]}b, {digits[:4]}c or {digits[:4]}d."
        self.fault(column, f"{_shown(digits + letters)} is no tile: {_shown(letters)} is no suit. {mend}")

    def letters(self, column: int, word: str) -> None:
        """Take a name, or letters that are a tile each."""
        if word in _WORDS:
            self.take(column, (_WORDS[word],))
        elif word in _AFTER:
            if not self.found or self.found[-1][0] not in _AFTER[word]:
                which = "red, green or white" if word.startswith("d") else "north, east, west or south"
                self.fault(column, f"{word} alone is no tile. Write which one before it: {which}.")
        elif set(word) <= set(_LETTERS):
            self.take(column, tuple(_LETTERS[letter] for letter in word))
        elif word in _SUIT_WORDS or word in SUITS:
            self.fault(column, f"{word} has no rank. Write it before the suit, as in 5{word}.")
        else:
            self.fault(column, f"{_shown(word)} is no tile. {_HELP}")

    def take(self, column: int, tiles: Rack, is_year: bool = False) -> None:
        self.found += [(tile, column) for tile in tiles]
        self.parts.append((tiles, is_year))

    def fault(self, column: int, text: str) -> None:
        self.faults.append(BadTile(column, text))

    def check_copies(self) -> None:
        """Find the tile with which there are more of a kind than the set holds."""
        counts: Counter[Tile] = Counter()
        for tile, column in self.found:
            counts[tile] += 1
            if counts[tile] == COPIES[tile] + 1:
                total = sum(one == tile for one, _ in self.found)
                spare = total - COPIES[tile]
                mend = f"Take {spare} away." if spare > 1 else "Take one away."
                self.fault(column, f"There are {total} of {name(tile)}, but the set holds {COPIES[tile]}. {mend}")


def _shown(text: str) -> str:
    """Return typed text in a form that any terminal can print."""
    short = text if len(text) <= 20 else text[:20] + "..."
    return short if short.isascii() and short.isprintable() else ascii(short)

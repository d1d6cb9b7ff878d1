"""Everything there is to show of the hands of a card: names, tiles, words and what is said for the ear.

This is the one door for screens, plain lines, pages and exports; none of them needs the notation or a hand's id.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from textwrap import wrap

from shared.cards.card import Card, Hand
from shared.cards.digest import hand_numbers
from shared.cards.expand import Counts, expand_hand, pattern_of
from shared.cards.freedom import Freedom, freedom_of
from shared.cards.hand_names import names_of
from shared.cards.picture import AgainstRack, Picture, as_variant, draw, examples, nearest, spoken
from shared.rules.tiles import Rack, Tile


@dataclass(frozen=True, slots=True)
class ToldRow:
    """One way to play a hand: an example in tiles, what is free about it, and what it counts."""

    picture: Picture
    freedom: Freedom
    value: int


@dataclass(frozen=True, slots=True)
class ToldHand:
    """One hand as it is shown.

    Attributes:
        hand: the hand itself.
        name: its name to say, unique on the card.
        number: its number by the card's digest, from 0.
        rows: the ways to play it; most hands have one.
        ways: how many variants it has.
        year: the year of its card.
    """

    hand: Hand
    name: str
    number: int
    rows: tuple[ToldRow, ...]
    ways: int
    year: int

    @property
    def tiles(self) -> str:
        """The hand in tiles in one line: "FFFF  111b  2222b  333b"."""
        return " or ".join(row.picture.text() for row in self.rows)

    @property
    def words(self) -> str:
        """What is free about it: "any three ranks in a row, one suit"."""
        return " or ".join(dict.fromkeys(str(row.freedom) for row in self.rows))

    @property
    def ear(self) -> str:
        """All of it as it is said: tiles by name, then what is free, what it counts, and what else there is to know."""
        ways = "; or ".join(f"{spoken(row.picture)}; {row.freedom}" for row in self.rows)
        values = " or ".join(dict.fromkeys(str(row.value) for row in self.rows))
        more = ["concealed"] * self.hand.concealed + ([self.hand.note] if self.hand.note else [])
        return "; ".join([ways, f"counts {values}", *more])

    def lines(self, width: int, most: int | None = None) -> list[str]:
        """Return its tiles and its words as lines of a width; groups are never torn apart.

        With `most`, lines beyond that many are cut, and the last one ends with a mark.
        """
        found: list[str] = []
        for number, row in enumerate(self.rows):
            blocks = [block.text() for block in row.picture.blocks]
            found += _wrapped(["or", *blocks] if number else blocks, "  ", width)
        found += wrap(self.words, width, break_on_hyphens=False)
        if most is not None and len(found) > most:
            found = [*found[: most - 1], f"{found[most - 1][: width - 2].rstrip()} …"]
        return found

    def nearest(self, rack: Iterable[Tile]) -> AgainstRack:
        """Return the hand against a rack, as near as it can be."""
        return nearest(self.hand, rack, self.year)

    def as_variant(self, wanted: Counts, rack: Iterable[Tile]) -> AgainstRack:
        """Return the hand against a rack by the variant that somebody else has chosen.

        Raises:
            ValueError: the hand has no such variant.
        """
        return as_variant(self.hand, wanted, rack, self.year)


@lru_cache(maxsize=8)
def tell(card: Card) -> tuple[ToldHand, ...]:
    """Return all hands of a card as they are shown, in the order of the card.

    Raises:
        ValueError: a hand's groups cannot be read; a card from `read_card` never does this.
    """
    told = zip(card.hands, names_of(card), hand_numbers(card), strict=True)
    return tuple(
        ToldHand(hand, name, number, rows_of(hand, card.year), len(expand_hand(hand, card.year)), card.year)
        for hand, name, number in told
    )


@lru_cache(maxsize=64)
def nearest_of(card: Card, rack: Rack) -> tuple[ToldHand, AgainstRack]:
    """Return the hand of a card that a rack lacks the fewest tiles of, against the rack; of equals the first.

    Kept, because the end of a heat is drawn again and again.
    """
    return min(((told, told.nearest(rack)) for told in tell(card)), key=lambda found: found[1].away)


def rows_of(hand: Hand, year: int) -> tuple[ToldRow, ...]:
    """Return the ways to play a hand."""
    pattern = pattern_of(hand)
    return tuple(
        ToldRow(
            draw(example.groups, example.tiles, year),
            freedom_of(example, pattern.n, year, pattern.m, pattern.jokers),
            hand.row_value(number),
        )
        for number, example in enumerate(examples(hand, year))
    )


def _wrapped(blocks: list[str], between: str, width: int) -> list[str]:
    """Return blocks in lines of a width, none torn apart unless it is wider than a line."""
    lines: list[str] = []
    for block in blocks:
        if lines and len(lines[-1]) + len(between) + len(block) <= width:
            lines[-1] += between + block
        else:
            lines.append(block)
    return lines

"""How each hand of a card is told: its name, an example in tiles, what is free in words, and the same for the ear.

The one place that puts these together, for screens, plain lines, pages and exports. Pure.
"""

from dataclasses import dataclass
from functools import lru_cache

from shared.cards.card import Card, Hand
from shared.cards.expand import pattern_of
from shared.cards.freedom import freedom_of
from shared.cards.hand_names import names_of
from shared.cards.picture import Picture, examples, pictures, spoken


@dataclass(frozen=True, slots=True)
class ToldHand:
    """A hand as players read it.

    Attributes:
        name: unique on its card, at most 32 characters.
        pictures: an example of each way to play it.
        words: what is free, such as "any three ranks in a row, one suit".
        spoken: example and words for the ear.
    """

    name: str
    pictures: tuple[Picture, ...]
    words: str
    spoken: str

    @property
    def tiles(self) -> str:
        """The examples in one line."""
        return " or ".join(picture.text() for picture in self.pictures)


@lru_cache(maxsize=8)
def told(card: Card) -> tuple[ToldHand, ...]:
    """Return how each hand is told, in the order of the card."""
    return tuple(_told(hand, name, card.year) for hand, name in zip(card.hands, names_of(card), strict=True))


def _told(hand: Hand, name: str, year: int) -> ToldHand:
    pattern, shown = pattern_of(hand), pictures(hand, year)
    free = [str(freedom_of(each, pattern.n, year, pattern.m, pattern.jokers)) for each in examples(hand, year)]
    words = " or: ".join(dict.fromkeys(free)) + (", concealed" if hand.concealed else "")
    by_ear = " or ".join(spoken(picture) for picture in shown)
    return ToldHand(name, shown, words, f"{by_ear}; {words}")

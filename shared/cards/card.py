"""A card as a value: sections of hands, each hand a line of notation, and the concrete variants of a hand.

Nothing here reads a file or does arithmetic; `read` makes cards from bytes and `expand` makes variants.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hand:
    """One hand of a card.

    `id` is unique on the card and stable, because history refers to it. `groups` is its notation, `value` what
    it counts. `n` lists the values that n may take, or is None when every value that fits is allowed.
    """

    id: str
    section: str
    groups: str
    concealed: bool
    value: int
    n: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """Hands with something in common, which `about` says in one sentence."""

    name: str
    about: str
    hands: tuple[Hand, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """A whole card. `year` gives the digits that its hands may ask for."""

    title: str
    year: int
    note: str
    sections: tuple[Section, ...]

    @property
    def hands(self) -> tuple[Hand, ...]:
        """All hands in the order of the card."""
        return tuple(hand for section in self.sections for hand in section.hands)


@dataclass(frozen=True, slots=True)
class Variant:
    """A hand with suits, ranks and winds fixed.

    `hand` is the index into the card's hands. `pairs` and `groups` have one count for each kind in the order
    of `tiles.KINDS`: tiles wanted in singles and pairs, which must be real, and tiles wanted in groups of
    three or more, which may be jokers. The two add up to 14.
    """

    hand: int
    pairs: tuple[int, ...]
    groups: tuple[int, ...]

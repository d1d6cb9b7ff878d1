"""A card as a value: sections of hands, each hand a line of notation, and the concrete variants of a hand.

Nothing here reads a file or does arithmetic; `read` makes cards from bytes and `expand` makes variants.
"""

from dataclasses import dataclass, field

DEFAULT_VALUE = 25
"""What a hand counts if its card does not say."""


@dataclass(frozen=True, slots=True)
class Hand:
    """One hand of a card.

    Attributes:
        id: unique on the card and stable, because history refers to it.
        section: the name of its section.
        groups: its notation; rows joined by "or" are ways to play the same hand.
        concealed: nothing of it may be shown before it is complete.
        value: what it counts; what its first row counts if the rows differ.
        n, m: the values that a free rank may take, or None when every value that fits is allowed.
        values: what each row counts if they differ, else empty.
        note: a remark of whoever wrote the card.
        jokers: whether its groups of three or more may hold jokers.
    """

    id: str
    section: str
    groups: str
    concealed: bool = False
    value: int = DEFAULT_VALUE
    n: tuple[int, ...] | None = None
    m: tuple[int, ...] | None = None
    values: tuple[int, ...] = ()
    note: str = ""
    jokers: bool = True

    def row_value(self, row: int) -> int:
        """Return what the hand counts when it is played by one of its rows, counted from 0."""
        return self.values[row] if self.values else self.value


@dataclass(frozen=True, slots=True)
class Section:
    """Hands with something in common, which `about` says in one sentence if it is not empty."""

    name: str
    about: str
    hands: tuple[Hand, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """A whole card.

    `year` gives the digits that its hands may ask for. `share` says whether the card may be sent to others and kept
    with the heats that are played by it. `hands` are all hands in the order of the card, put together once: screens ask
    for them at every row.
    """

    title: str
    year: int
    note: str
    sections: tuple[Section, ...]
    share: bool = False
    hands: tuple[Hand, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Put all hands together."""
        object.__setattr__(self, "hands", tuple(hand for section in self.sections for hand in section.hands))


@dataclass(frozen=True, slots=True)
class Variant:
    """A hand with suits, ranks, winds and dragons fixed.

    `hand` is the index into the card's hands. `pairs` and `groups` have one count for each kind in the order
    of `tiles.KINDS`: tiles wanted in singles and pairs, which must be real, and tiles wanted in groups of
    three or more, which may be jokers. The two add up to 14. A hand without jokers wants all its tiles as pairs.
    `value` is what it counts; of equal ones in rows of other values, the most.
    """

    hand: int
    pairs: tuple[int, ...]
    groups: tuple[int, ...]
    value: int = DEFAULT_VALUE

"""The faces that a group of a hand can have: what tile it wants, or what is free about it.

Values only: each prints itself as the notation writes it. Reading them is the business of `notation`.
"""

from dataclasses import dataclass

from shared.rules.tiles import Tile

SUIT_LETTERS = ("p", "q", "r")
"""Suits of the player's choice. Different letters are different suits, and none is a suit called by name."""
ANY_SUIT_LETTERS = ("x", "y")
"""Suits of the player's choice that may also be the suit of any other letter."""
WIND_LETTERS = ("X", "Z", "V", "U")
"""Winds of the player's choice, all different."""
DRAGON_LETTERS = ("A", "B", "C")
"""Dragons of the player's choice, all different, whatever suits the hand uses."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A rank in a suit: "5.p"."""

    rank: int
    suit: str

    def __str__(self) -> str:
        return f"{self.rank}.{self.suit}"


@dataclass(frozen=True, slots=True)
class Relative:
    """A rank made of the free ranks n and m, in a suit: "n.p", "n+2.q", "m-1.p", "10-n.p", "n+m.r".

    The rank is plus + n_times * n + m_times * m. The two factors are 0 or 1, or 0 or -1.
    """

    plus: int
    suit: str
    n_times: int = 1
    m_times: int = 0

    def rank(self, n: int, m: int) -> int:
        """Return the rank for values of n and m; it may lie outside 1-9.

        >>> Relative(10, "p", -1).rank(4, 0)
        6
        """
        return self.plus + self.n_times * n + self.m_times * m

    @property
    def letters(self) -> str:
        """The free ranks that it is made of: "n", "m" or "nm"."""
        return ("n" if self.n_times else "") + ("m" if self.m_times else "")

    def __str__(self) -> str:
        if self.n_times < 0 or self.m_times < 0:
            return f"{self.plus}-{'-'.join(self.letters)}.{self.suit}"
        plus = f"{self.plus:+d}" if self.plus else ""
        return f"{'+'.join(self.letters)}{plus}.{self.suit}"


@dataclass(frozen=True, slots=True)
class YearDigit:
    """The first to fourth digit of the card's year in a suit: "Y1.p". The digit 0 is the white dragon."""

    place: int
    suit: str

    def __str__(self) -> str:
        return f"Y{self.place}.{self.suit}"


@dataclass(frozen=True, slots=True)
class SuitDragon:
    """The dragon that goes with a suit: "D(p)"."""

    suit: str

    def __str__(self) -> str:
        return f"D({self.suit})"


@dataclass(frozen=True, slots=True)
class OtherDragon:
    """A dragon of the player's choice that does not go with a suit: "D(-p)"."""

    suit: str

    def __str__(self) -> str:
        return f"D(-{self.suit})"


@dataclass(frozen=True, slots=True)
class SomeDragon:
    """A dragon of the player's choice: "A", "B" or "C", which differ."""

    letter: str

    def __str__(self) -> str:
        return self.letter


@dataclass(frozen=True, slots=True)
class SomeWind:
    """A wind of the player's choice: "X", "Z", "V" or "U", which differ."""

    letter: str

    def __str__(self) -> str:
        return self.letter


@dataclass(frozen=True, slots=True)
class Fixed:
    """One kind and no other: a wind, a dragon or the flower, by the tile's own code."""

    tile: Tile

    def __str__(self) -> str:
        return self.tile


Suited = Ranked | Relative | YearDigit
"""Faces with a rank in a suit; a digit of the year can also be the white dragon."""
InSuit = Suited | SuitDragon | OtherDragon
"""Faces that a suit decides about."""
Face = InSuit | SomeDragon | SomeWind | Fixed


@dataclass(frozen=True, slots=True)
class Group:
    """So many tiles of one face. Groups of three or more may take jokers, singles and pairs may not."""

    face: Face
    count: int

    def __str__(self) -> str:
        return f"{self.face}^{self.count}"


Groups = tuple[Group, ...]

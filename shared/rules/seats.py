"""The four seats of a heat, the directions of a pass, and a container with exactly one value a seat.

East is the dealer of the heat. Seats are numbered in the order of play: a seat's right neighbour plays next, and a
direction is a number to add, never a wind. The table decides which person sits where and who deals next; this module
must not know.
"""

from collections.abc import Callable, Iterable, Iterator
from enum import IntEnum
from typing import Generic, Literal, TypeVar, get_args

T = TypeVar("T")
U = TypeVar("U")


class Seat(IntEnum):
    """A seat of one heat in order of play: the dealer, then each one's right neighbour."""

    EAST = 0
    SOUTH = 1
    WEST = 2
    NORTH = 3

    @property
    def word(self) -> str:
        """The seat's wind in lower case."""
        return self.name.lower()

    def to(self, direction: "Direction") -> "Seat":
        """Return the seat that receives what this seat passes in a direction."""
        return Seat((self + direction) % 4)

    def feeder(self, direction: "Direction") -> "Seat":
        """Return the seat whose pass in this direction comes to this seat."""
        return Seat((self - direction) % 4)


SEATS = tuple(Seat)
Way = Literal["right", "across", "left"]
WAYS: tuple[Way, ...] = get_args(Way)
"""The directions as words, in the order of Direction."""


def chair_of(seat: int, east: int) -> int:
    """Return which chair (0 to 3) a seat is when the chair east deals."""
    return (seat + east) % 4


def seat_of(chair: int, east: int) -> Seat:
    """Return which seat a chair is when the chair east deals; the same for places that are counted from 1.

    >>> [seat_of(1, east).word for east in (1, 2, 3, 4)]
    ['east', 'north', 'west', 'south']
    """
    return Seat((chair - east) % 4)


class Direction(IntEnum):
    """How many places to the right a pass travels; right is the next to play."""

    RIGHT = 1
    ACROSS = 2
    LEFT = 3

    @property
    def word(self) -> "Way":
        """The direction in lower case."""
        return WAYS[self - 1]


class PerSeat(tuple[T, T, T, T], Generic[T]):
    """Exactly one value a seat, indexed by seat; a frozen tuple of four.

    >>> PerSeat.of(lambda seat: seat.word)[Seat.WEST]
    'west'
    """

    __slots__ = ()

    def __new__(cls, values: Iterable[T]) -> "PerSeat[T]":
        """Take four values from East on.

        Raises:
            ValueError: there are not four; that is a bug.
        """
        made = super().__new__(cls, values)
        if len(made) != 4:
            raise ValueError(f"there are four seats, not {len(made)}")
        return made

    @classmethod
    def of(cls, make: Callable[[Seat], T]) -> "PerSeat[T]":
        """Make the value of each seat from its seat."""
        return cls(make(seat) for seat in SEATS)

    @classmethod
    def all(cls, value: T) -> "PerSeat[T]":
        """Give every seat the same value."""
        return cls((value,) * 4)

    def with_(self, seat: Seat, value: T) -> "PerSeat[T]":
        """Return a copy in which one seat has another value."""
        return PerSeat.of(lambda other: value if other == seat else self[other])

    def pairs(self) -> Iterator[tuple[Seat, T]]:
        """Yield each seat with its value in order of play."""
        return zip(SEATS, self, strict=True)

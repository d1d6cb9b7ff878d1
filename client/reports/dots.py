"""A sheet of dots as text: braille with 2 x 4 dots a cell, or ASCII with one.

Pure. The plain form must never use anything but ASCII, so that every terminal, pipe and printer can show it.
"""

from collections import Counter
from dataclasses import dataclass, field
from math import ceil, floor, log10

_COUNTS = (".", "o", "8", "@")
"""ASCII marks for one, two, three, and four or more dots in one cell."""
_BLANK = 0x2800
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


@dataclass(slots=True)
class Dots:
    """width x height cells; x and y count dots from the top left corner."""

    width: int
    height: int
    plain: bool
    _taken: Counter[tuple[int, int]] = field(default_factory=Counter)

    @property
    def across(self) -> int:
        """Return how many dots lie side by side in a cell."""
        return 1 if self.plain else 2

    @property
    def down(self) -> int:
        """Return how many dots lie one below the other in a cell."""
        return 1 if self.plain else 4

    def put(self, x: int, y: int) -> None:
        """Put a dot."""
        self._taken[x, y] += 1

    def line(self, start: tuple[int, int], end: tuple[int, int]) -> None:
        """Put dots from one place to another, with no gap between them."""
        (x, y), (right, low) = start, end
        count = max(abs(right - x), abs(low - y), 1)
        for number in range(count + 1):
            self.put(x + round((right - x) * number / count), y + round((low - y) * number / count))

    def rows(self) -> list[list[str]]:
        """Return the cells of every line."""
        return [[self._cell(column, row) for column in range(self.width)] for row in range(self.height)]

    def _cell(self, column: int, row: int) -> str:
        if self.plain:
            count = self._taken[column, row]
            return _COUNTS[min(count, len(_COUNTS)) - 1] if count else " "
        bits = sum(
            bit
            for y, pair in enumerate(_BITS, start=row * 4)
            for x, bit in enumerate(pair, start=column * 2)
            if self._taken[x, y]
        )
        return chr(_BLANK + bits) if bits else " "


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values from low to high for an axis, at most one more than asked for. Needs low < high.

    >>> ticks(0, 21.6, 5)
    [0.0, 5.0, 10.0, 15.0, 20.0]
    """
    power = 10.0 ** floor(log10((high - low) / most))
    step = next(times * power for times in (1, 2, 5, 10) if times * power * most >= high - low)
    return [round(number * step, 6) for number in range(ceil(low / step), floor(high / step) + 1)]

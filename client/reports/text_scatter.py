"""A scatter plot in characters.

Pure. Must never use anything but ASCII, so that every terminal, pipe and printer can show it.
"""

from collections import Counter
from collections.abc import Sequence

_MARKS = (".", "o", "8", "@")
"""The marks for one, two, three, and four or more points in one cell."""


def scatter(points: Sequence[tuple[float, float]], width: int, height: int) -> list[str]:
    """Return the plot as height lines of at most width cells, with both axes from zero.

    The left edge shows the greatest y, the last line the greatest x. Needs at least 16 x 4 cells; without points it
    returns no lines.
    """
    if not points:
        return []
    top, right = max(y for _, y in points) or 1.0, max(x for x, _ in points) or 1.0
    label = len(f"{top:.1f}")
    columns, rows = width - label - 2, height - 2

    def place(value: float, end: float, cells: int) -> int:
        return min(cells - 1, max(0, int(value / end * cells)))

    taken = Counter((place(x, right, columns), place(y, top, rows)) for x, y in points)

    def row(number: int) -> str:
        marks = (taken[column, number] for column in range(columns))
        return "".join(_MARKS[min(count, len(_MARKS)) - 1] if count else " " for count in marks).rstrip()

    labels = {rows - 1: f"{top:.1f}", 0: "0.0"}
    lines = [f"{labels.get(number, ''):>{label}} |{row(number)}" for number in reversed(range(rows))]
    ends = f"0{f'{right:.1f}':>{columns - 1}}"
    return [*lines, f"{'':>{label}} +{'-' * columns}", f"{'':>{label}}  {ends}"]

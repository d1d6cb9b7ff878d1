"""A scatter plot as text, with both axes from zero. Pure."""

from collections.abc import Sequence

from client.reports.dots import Dots, ticks

_SHORTEST = 0.1
"""The least that an axis shows."""
_APART = 8
"""Cells between two numbers of the lower axis, at least."""


def scatter(points: Sequence[tuple[float, float]], width: int, height: int, plain: bool = False) -> list[str]:
    """Return the plot as height lines of at most width cells.

    In ASCII a mark tells how many points share its cell. Needs at least 16 x 4 cells; without points it returns no
    lines.
    """
    if not points:
        return []
    right, top = (max(_SHORTEST, *values) for values in zip(*points, strict=True))
    rows = height - 2
    up = ticks(0, top, min(rows - 1, max(2, rows // 3)))
    label = max(len(f"{value:g}") for value in up)
    columns = width - label - 2
    dots = Dots(columns, rows, plain)

    def place(value: float, end: float, count: int) -> int:
        return min(count - 1, int(value / end * count))

    for x, y in points:
        dots.put(place(x, right, columns * dots.across), rows * dots.down - 1 - place(y, top, rows * dots.down))
    wall, notch, corner, floor, mark = "|++-+" if plain else "│┤└─┴"
    sides = {rows - 1 - place(value, top, rows): f"{value:g}" for value in up}
    lines = [
        f"{sides.get(row, ''):>{label}} {notch if row in sides else wall}{''.join(cells).rstrip()}"
        for row, cells in enumerate(dots.rows())
    ]
    axis, numbers = [floor] * columns, [" "] * width
    for value in ticks(0, right, max(1, columns // _APART)):
        at, text = place(value, right, columns), f"{value:g}"
        axis[at] = mark
        start = min(label + 2 + at, width - len(text))
        numbers[start : start + len(text)] = text
    return [*lines, f"{'':>{label}} {corner}{''.join(axis)}", "".join(numbers).rstrip()]

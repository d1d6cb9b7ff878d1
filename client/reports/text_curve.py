"""A heat's luck and loss as a curve in text: the worth of the rack before and after each step.

Pure; the lines have exact widths.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from client.reports.dots import Dots, ticks

_LABEL = 6
"""Cells in front of the axis."""
_LEAST_SPAN = 1.0
"""Points from which the axis has more numbers than its ends."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A step: its short name, the worth of the best answer, and the loss of the player's answer; in points."""

    name: str
    best: float
    loss: float


def running_line(
    turns: Sequence[Turn], end: float | None, width: int, height: int, plain: bool = False
) -> list[tuple[str, bool]]:
    """Return the curve as lines, each with whether to draw it dim.

    Every step has a mark for its best answer and one for the player's: the drop between them is loss, the way to the
    next step is luck. Needs at least four rows; end is None while unknown.
    """
    best, chosen, wall, notch = "ox|+" if plain else "●▾│┤"
    values = [value for turn in turns for value in (turn.best, turn.best - turn.loss)]
    values += [] if end is None else [end]
    low, high = min(values), max(values)
    rows = height - 2
    step = max(2, (width - _LABEL - 1) // (len(turns) + 1))
    dots = Dots(width - _LABEL, rows, plain)

    def down(value: float) -> int:
        """Return how many dots below the top a value lies."""
        count = rows * dots.down
        return round((high - value) / (high - low) * (count - 1)) if high > low else count // 2

    def row(value: float) -> int:
        return down(value) // dots.down

    def dot(column: int, value: float) -> tuple[int, int]:
        return column * dots.across, down(value)

    marks: dict[tuple[int, int], str] = {}
    for number, turn in enumerate(turns):
        x = 1 + number * step
        after = turns[number + 1].best if number + 1 < len(turns) else end
        left, own = turn.best - turn.loss, x
        marks[row(turn.best), x] = best
        if row(left) != row(turn.best):
            own = x + 1
            dots.line(dot(x, turn.best), dot(own, left))
            marks[row(left), own] = chosen
        if after is not None:
            dots.line(dot(own, left), dot(x + step, after))
    if end is not None:
        marks[row(end), 1 + len(turns) * step] = best
    cells = dots.rows()
    for (y, x), mark in marks.items():
        if x < dots.width:
            cells[y][x] = mark
    numbers = {row(value): value for value in (ticks(low, high, rows // 3 + 1) if high - low > _LEAST_SPAN else ())}
    close = {1, rows - 2}
    labels = {y: value for y, value in numbers.items() if y not in close} | {0: high, rows - 1: low}
    lines = [
        f"{f'{labels[y]:.1f}' if y in labels else '':>{_LABEL - 1}}{notch if y in labels else wall}{''.join(line)}"
        for y, line in enumerate(cells)
    ]
    names = [" "] * width
    for number, name in enumerate([turn.name for turn in turns] + ([] if end is None else ["end"])):
        at = _LABEL + 1 + number * step
        text = name if len(name) < step else name[: step - 2] + ("." if plain else "…")
        names[at : at + step - 1] = f"{text:<{step - 1}}"
    legends = (
        f"points   {best} best answer   {chosen} yours: the drop is your loss, the rest is luck",
        f"points  {best} best  {chosen} yours: drops are loss",
    )
    legend = next((text for text in legends if len(text) <= width), legends[-1])
    return [*((line.rstrip(), False) for line in lines), ("".join(names[:width]).rstrip(), True), (legend, True)]

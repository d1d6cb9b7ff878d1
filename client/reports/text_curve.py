"""A heat's luck and loss as a curve in text: the worth of the rack before and after each step.

Pure; the lines have exact widths.
"""

from collections.abc import Sequence
from dataclasses import dataclass

_LABEL = 6


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
    best, chosen, link = ("o", "x", ".") if plain else ("●", "▾", "·")
    values = [value for turn in turns for value in (turn.best, turn.best - turn.loss)]
    values += [] if end is None else [end]
    low, high = min(values), max(values)
    rows = height - 2
    step = max(2, (width - _LABEL - 1) // (len(turns) + 1))
    grid = [[" "] * width for _ in range(rows)]

    def row(value: float) -> int:
        return round((high - value) / (high - low) * (rows - 1)) if high > low else rows // 2

    def put(x: int, y: int, mark: str) -> None:
        for offset, character in enumerate(mark):
            if 0 <= x + offset < width:
                grid[y][x + offset] = character

    for number, turn in enumerate(turns):
        x = _LABEL + 1 + number * step
        after = turns[number + 1].best if number + 1 < len(turns) else end
        left = turn.best - turn.loss
        if after is not None:
            for offset in range(2, step):
                put(x + offset, row(left + (after - left) * (offset - 1) / (step - 1)), link)
        put(x, row(turn.best), best)
        if row(left) != row(turn.best):
            put(x + 1, row(left), chosen)
    if end is not None:
        put(_LABEL + 1 + len(turns) * step, row(end), best)
    for y, value in ((0, high), (rows - 1, low)):
        put(0, y, f"{value:>5.1f}")
    names = [" "] * width
    for number, name in enumerate([turn.name for turn in turns] + ([] if end is None else ["end"])):
        at = _LABEL + 1 + number * step
        names[at : at + step - 1] = f"{name[: step - 1]:<{step - 1}}"
    legend = f"{best} best answer   {chosen} yours: the drop is your loss, the rest is luck"
    lines = [("".join(cells).rstrip(), False) for cells in grid]
    return [*lines, ("".join(names[:width]).rstrip(), True), (legend[:width], True)]

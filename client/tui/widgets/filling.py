"""A rack that was played on: hands as bars, or one game draw by draw."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.models.filling import FillModel
from client.text import wrapped
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.hand import draw_against
from client.tui.widgets.rack import draw_chips
from shared.chances import in_hundred
from shared.rules.tiles import by_suit

if TYPE_CHECKING:
    from shared.coach.filling import Bar

_LABEL = 8
_MOST_WIDTH = 112
_LATEST = 6
_LOOKING = "The coach is playing it on ..."
HELD = "if it had to be this one:"


_RARE = 10.0
"""Wins in a hundred below which no bar is full."""


def draw_bars(canvas: Canvas, x: int, y: int, width: int, bars: "Sequence[Bar]") -> int:
    """Draw how often each hand is finished, the longest as long as there is room; return the y after them."""
    names = max((len(bar.name) for bar in bars), default=0)
    room = max(4, width - names - 22)
    most = max([_RARE, *(bar.share for bar in bars)])
    held = False
    for bar in bars:
        if bar.is_held and not held and y < canvas.height:
            y += canvas.height - y > 2 * len(bars)
            canvas.put(x, y, HELD, "quiet")
            held, y = True, y + 1
        if y >= canvas.height:
            break
        canvas.put(x, y, bar.name)
        full = ("=" if canvas.look.ascii else "━") * round(room * bar.share / most)
        end = canvas.put(x + names + 2, y, full, "quiet" if bar.is_held else "good")
        canvas.put(end + (1 if full else 0), y, in_hundred(bar.share), "quiet")
        y += 1
    return y


def draw_filling(canvas: Canvas, model: FillModel) -> None:
    """Draw the rack, and below it many games or one."""
    width = min(canvas.width - 2, _MOST_WIDTH)
    left = (canvas.width - width) // 2
    if model.shows == "one":
        _draw_game(canvas, left, width, model)
        return
    draw_chips(canvas, left, 0, by_suit(model.rack))
    filled = model.filled
    if filled is None:
        canvas.put(left, 2, _LOOKING if model.running else "", "quiet")
        return
    y = _words(canvas, left, 2, filled.headline, width, bold=True)
    y = _words(canvas, left, y, " ".join(filled.said), width)
    draw_bars(canvas, left, y + 1, width, filled.bars)


def _words(canvas: Canvas, x: int, y: int, text: str, width: int, *, bold: bool = False) -> int:
    for line in wrapped(text, width):
        canvas.put(x, y, line, "good" if bold else "text", bold=bold)
        y += 1
    return y


def _draw_game(canvas: Canvas, left: int, width: int, model: FillModel) -> None:
    """Draw the rack as it stands after the draws in sight, the hand that it is nearest to, and the latest draws."""
    turn = model.turns[model.drawn]
    canvas.put(left, 0, "rack", "quiet")
    draw_chips(canvas, left + _LABEL, 0, by_suit(turn.rack))
    y = 1
    if turn.shown:
        canvas.put(left, y, "shown", "quiet")
        draw_chips(canvas, left + _LABEL, y, by_suit(turn.shown))
        y += 1
    y += 1
    x = canvas.put(left, y, "complete " if turn.is_won else "nearest ", "good" if turn.is_won else "quiet")
    canvas.put(x, y, canvas.fitted(turn.name, width - 10).rstrip(), bold=True)
    y = draw_against(canvas, left + 2, y + 1, turn.drawn, width - 2) + 1
    first = max(1, model.drawn - (canvas.height - y) + 1, model.drawn - _LATEST)
    for number in range(first, model.drawn + 1):
        lines = wrapped(f"{number:>2}  {model.turns[number].said}", width)
        for line in lines:
            canvas.put(left, y, line, "text" if number == model.drawn else "quiet")
            y += 1

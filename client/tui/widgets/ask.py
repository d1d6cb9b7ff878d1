"""A typed rack, the questions it allows, and the answer drawn on it."""

from client.models.ask import QUESTIONS, USE_WORDS, AskModel
from client.text import wrapped
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.filling import draw_bars
from client.tui.widgets.hand import against_height, draw_against
from client.tui.widgets.rack import draw_chips
from shared.chances import in_hundred
from shared.rules.tiles import by_suit

_LABEL = 8


def draw_ask(canvas: Canvas, model: AskModel, waiting: bool) -> None:
    """Draw the lines being typed, the rack, the questions, and below them the answer."""
    left = 1 if canvas.width < 100 else 4
    width = canvas.width - 2 * left
    _line(canvas, left, 0, "tiles", model.text, not model.is_before)
    canvas.end(0, model.counted, "quiet", margin=left)
    _line(canvas, left, 1, "passed", model.before or ("" if model.is_before else "-"), model.is_before)
    draw_chips(canvas, left, 3, by_suit(model.rack.tiles))
    y = _questions(canvas, left, 5, width, model)
    _answer(canvas, left, y + 1, width, model, waiting)


def _line(canvas: Canvas, x: int, y: int, name: str, text: str, here: bool) -> None:
    canvas.put(x, y, name, "text" if here else "quiet", bold=here)
    room = canvas.width - x - _LABEL - 26
    shown = text if len(text) <= room else "…" + text[len(text) - room + 1 :]
    end = canvas.put(x + _LABEL, y, shown, bold=here)
    if here:
        canvas.put(end, y, "_", "mark", bold=True)


def _questions(canvas: Canvas, left: int, y: int, width: int, model: AskModel) -> int:
    """Draw the questions, the chosen one marked, then the pass it is asked at; return the y after them."""
    x = left
    for question in model.questions:
        text = f" {QUESTIONS[question]} "
        if x + len(text) > left + width:
            x, y = left, y + 1
        x = canvas.button(x, y, text, question, chosen=question == model.question) + 1
    if model.question in ("pass", "blind"):
        less, more = "<>" if canvas.look.ascii else "◂▸"
        y += 1
        x = canvas.put(left, y, "step ", "quiet")
        x = canvas.put(x, y, less, "mark", key="left")
        x = canvas.put(x + 1, y, model.step, bold=True)
        canvas.put(x + 1, y, more, "mark", key="right")
    return y + 1


def _answer(canvas: Canvas, left: int, y: int, width: int, model: AskModel, waiting: bool) -> None:
    answer = model.answer
    if waiting or answer is None:
        canvas.put(left, y, "Looking ..." if waiting else "", "quiet")
        return
    for line in wrapped(answer.headline, width):
        canvas.put(left, y, line, "good", bold=True)
        y += 1
    for line in wrapped(" ".join(answer.numbers if canvas.look.numbers else answer.said), width):
        canvas.put(left, y, line)
        y += 1
    y += 1
    if answer.bars:
        y = draw_bars(canvas, left, y, width, answer.bars) + 1
    for use, name in USE_WORDS.items():
        tiles = tuple(tile for tile, its in answer.uses if its == use)
        if tiles and y < canvas.height:
            canvas.put(left, y, name, "quiet")
            draw_chips(canvas, left + _LABEL, y, tiles)
            y += 1
    y += 1
    if answer.bars:
        return
    for hand in answer.reading.hands:
        if y + 1 + against_height(hand.drawn, width - 2) > canvas.height:
            return
        end = canvas.put(left, y, canvas.fitted(hand.name, width - 14), bold=True)
        canvas.put(end + 2, y, in_hundred(100 * hand.win), "quiet")
        y = draw_against(canvas, left + 2, y + 1, hand.drawn, width - 2)

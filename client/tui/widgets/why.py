"""The coach's word on the last pass: the leading passes beside the own one, with points, gift and words."""

from client.models.guided import WORDS
from client.models.hint import Hint
from client.models.table import TableModel
from client.text import wrapped
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.ranked_passes import draw_ways


def draw_guide(canvas: Canvas, model: TableModel) -> None:
    """Draw what the running step of the guided heat is, what to look for, and the coach's word on the last pass."""
    canvas.ground = "panel"
    for y in range(canvas.height):
        canvas.put(0, y, " " * canvas.width)
    step, y = model.step, 1
    for words in WORDS.get(step.name, ()) if step else ():
        for line in wrapped(words, canvas.width - 4):
            canvas.put(2, y, line)
            y += 1
    if model.hint:
        for line in wrapped(f"Your last pass, {model.hint.line()}", canvas.width - 4):
            canvas.put(2, y + 1, line, "mark")
            y += 1
    canvas.put(2, canvas.height - 1, "v card   esc table   F6 this page", "quiet")


def draw_why(canvas: Canvas, hint: Hint | None, hints: bool, about_card: str = "") -> None:
    """Draw what is known of the last pass; about_card says why there is nothing where the card is not at hand."""
    canvas.ground = "panel"
    for y in range(canvas.height):
        canvas.put(0, y, " " * canvas.width)
    if hint is None or hint.compared is None:
        known = (hint.trouble or "The coach is looking at your last pass ...") if hint else ""
        nothing = "No pass has been made yet." if hints else "There are no hints while a heat runs."
        canvas.put(2, 0, "The coach", bold=True)
        text = known or (about_card if hints else "") or nothing
        for y, line in enumerate(wrapped(text, canvas.width - 4), 2):
            canvas.put(2, y, line, "quiet")
        return
    canvas.put(2, 0, f"{hint.step.capitalize()}: {hint.compared.count} passes", bold=True)
    draw_ways(canvas, 1, canvas.height, hint.compared.ways, hint.compared.own)

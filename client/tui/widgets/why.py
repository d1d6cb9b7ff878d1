"""The coach's word on the last pass: the leading passes beside the own one, with points, gift and words."""

from client.models.hint import Hint
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.ranked_passes import draw_ways


def draw_why(canvas: Canvas, hint: Hint | None, hints: bool) -> None:
    """Draw what is known of the last pass."""
    canvas.ground = "panel"
    for y in range(canvas.height):
        canvas.put(0, y, " " * canvas.width)
    if hint is None or hint.compared is None:
        known = (hint.trouble or "The coach is looking at your last pass ...") if hint else ""
        nothing = "No pass has been made yet." if hints else "There are no hints while a heat runs."
        canvas.put(2, 0, "The coach", bold=True)
        canvas.put(2, 2, known or nothing, "quiet")
        return
    canvas.put(2, 0, f"{hint.step.capitalize()}: {hint.compared.count} passes", bold=True)
    draw_ways(canvas, 1, canvas.height, hint.compared.ways, hint.compared.own)

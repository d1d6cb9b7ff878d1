"""What is wrong with a card's file: every fault with its place, from a first one on."""

from client.text import wrapped
from client.tui.widgets.canvas import Canvas


def draw_faults(canvas: Canvas, heading: str, faults: tuple[str, ...], first: int) -> None:
    """Draw a heading and as many faults as there is room for; the ends say how many are out of sight."""
    width = canvas.width - 4
    y = 1
    for line in wrapped(heading, width):
        canvas.put(2, y, line, bold=True)
        y += 1
    up, down = "^v" if canvas.look.ascii else "▴▾"
    canvas.put(2, y, f"{up} {first} above" if first else "", "mark", key="up")
    y += 1
    shown = first
    for fault in faults[first:]:
        lines = wrapped(fault, width, later="   ")
        last = shown == len(faults) - 1
        if y + len(lines) > canvas.height - (0 if last else 1) and shown > first:
            break
        for line in lines:
            canvas.put(2, y, line)
            y += 1
        shown += 1
    if shown < len(faults):
        canvas.put(2, canvas.height - 1, " " * width)
        canvas.put(2, canvas.height - 1, f"{down} {len(faults) - shown} below", "mark", key="down")

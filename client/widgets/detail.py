"""The pane on the right of a wide screen: the route in full, with what this seat gave and what came."""

from client.model import Model
from client.widgets.canvas import Canvas, Drawn
from client.widgets.head import SECOND, seconds_text
from shared.tiles import format_tiles
from shared.views import RouteStep


class Detail(Drawn):
    """Three rows a step: name with seconds, tiles given, tiles that came."""

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        """Draw as many steps as there is room for."""
        heat = self.model.heat
        canvas.ground = "panel"
        for y in range(canvas.height):
            canvas.put(0, y, " " * canvas.width)
        if heat is None:
            return
        canvas.put(2, 1, "Your route", bold=True)
        canvas.end(1, "spent / length", "quiet", margin=2)
        y = 3
        for step in heat.route:
            skipped = heat.stopped and step.state == "ahead" and step.step in SECOND
            y += self._step(canvas, y, step, skipped)

    def _step(self, canvas: Canvas, y: int, step: RouteStep, skipped: bool) -> int:
        now = step.state == "now"
        sign = ">" if canvas.look.ascii else "▸"
        canvas.put(2, y, f"{sign if now else ' '} {step.step}", "text" if step.state != "ahead" else "quiet", bold=now)
        if skipped:
            canvas.end(y, "not played", "quiet", margin=2)
            return 2
        spent = "" if step.spent_ms is None else seconds_text(step.spent_ms)
        late = "time ran out  " if step.by == "timeout" else ""
        canvas.end(y, f"{late}{spent:>5} / {step.length_ms / 1000:.1f}", "alarm" if late else "quiet", margin=2)
        rows = 1
        unseen = f"{' + ' if step.given else ''}{step.blind} unseen" if step.blind else ""
        if self.model.stage != "paused":
            for word, text in (("gave", format_tiles(step.given) + unseen), ("came", format_tiles(step.came))):
                if text:
                    canvas.put(6, y + rows, word, "quiet")
                    canvas.put(11, y + rows, text)
                    rows += 1
        return rows + 1

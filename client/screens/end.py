"""After a heat: everybody's seconds by step, the opened racks, ready for the next; after the last: the whole set."""

from textual.app import ComposeResult

from client.look import Role
from client.model import Model
from client.screens.sheet import Sheet
from client.widgets.canvas import Canvas, Drawn, fitted
from client.widgets.faces import role as ink
from client.widgets.foot import Foot, Keys, Note
from client.widgets.head import Title, seconds_text
from shared.events import By
from shared.intents import NewSet, NotReady, Ready, Start
from shared.seats import SEATS
from shared.steps import STEP_NAMES
from shared.tiles import by_suit
from shared.times import write_time
from shared.views import HeatResult, SpentStep

_COLUMN = 13


class _Times(Drawn):
    """Steps down, seats across, each person's seconds against the step's length; below them the racks."""

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        view = self.model.view
        if view is None or not view.results:
            return
        result = view.results[-1]
        left = max(1, (canvas.width - 78) // 2)
        y = self._names(canvas, left, max(0, (canvas.height - 19) // 2), result)
        for step in STEP_NAMES:
            spent = [next((one for one in seat.spent if one.step == step), None) for seat in result.seats]
            if not any(spent):
                continue
            canvas.put(left, y, step)
            canvas.put(left + 16, y, f"{seconds_text(view.settings.length_ms(step)):>6}", "quiet")
            for seat, one in enumerate(spent):
                _time(canvas, left + 24 + seat * _COLUMN, y, one, view.settings.length_ms(step))
            y += 1
        canvas.put(left, y, "whole heat", bold=True)
        canvas.put(left + 16, y, f"{write_time(view.settings.total_ms() // 1000 * 1000):>6}", "quiet")
        for seat in SEATS:
            canvas.put(left + 24 + seat * _COLUMN, y, f"{seconds_text(result.seats[seat].total_ms):>7}", bold=True)
        self._racks(canvas, left, y + (2 if canvas.height > 19 else 1), result)

    def _names(self, canvas: Canvas, left: int, y: int, result: HeatResult) -> int:
        canvas.put(left, y, "seconds", "quiet")
        canvas.put(left + 16, y, "length", "quiet")
        for seat in SEATS:
            chair = result.seats[seat].chair
            you = self.model.view is not None and chair == self.model.view.you
            x = left + 24 + seat * _COLUMN
            name = "you" if you else self.model.chair_name(chair)
            canvas.put(x, y, fitted(name, _COLUMN - 1), "mark" if you else "text", bold=True)
        return y + 1

    def _racks(self, canvas: Canvas, left: int, y: int, result: HeatResult) -> None:
        view = self.model.view
        assert view is not None
        if not result.opened:
            canvas.put(left, y, "The racks stay closed at this table.", "quiet")
            return
        for seat in SEATS:
            owner = result.seats[seat]
            name = "you" if owner.chair == view.you else self.model.chair_name(owner.chair)
            canvas.put(left, y, fitted(name, 16), bold=owner.chair == view.you)
            x = canvas.put(left + 17, y, seat.word.ljust(7), "quiet")
            for tile in by_suit(owner.final):
                canvas.put(x, y, f" {tile} " if len(tile) == 2 else f" {tile}  ", ink(tile), "face", bold=True)
                x += 4 if canvas.width > 84 else 3
            y += 1


def _time(canvas: Canvas, x: int, y: int, one: SpentStep | None, length_ms: int) -> None:
    if one is None:
        canvas.put(x, y, "      -", "quiet")
        return
    over = "over" if one.spent_ms > length_ms else ""
    marks: dict[By, tuple[str, Role]] = {"timeout": ("out", "alarm"), "bot": ("bot", "quiet"), "person": (over, "warn")}
    word, role = marks[one.by]
    end = canvas.put(x, y, f"{seconds_text(one.spent_ms):>7}", role if word in ("out", "over") else "text")
    canvas.put(end + 1, y, word, role)


class HeatEndScreen(Sheet):
    """What the heat took, and ready for the next one."""

    ABOUT = (
        "Seconds by step and seat. 'out': the clock answered; 'over': longer than the step, paid from carried time. "
        "The host may start and wait for nobody."
    )

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model

    def compose(self) -> ComposeResult:
        """Build the table of times and the line about who is ready."""
        yield Title(self.title_text)
        yield _Times(self.model)
        yield Note(self._ready_line)
        yield Foot(self.keys)

    def title_text(self) -> str:
        """Return which heat this was."""
        view = self.model.view
        done = len(view.results) if view else 0
        return f"Heat {done} of {view.settings.heats if view else 0} is over"

    def _ready_line(self) -> str:
        view = self.model.view
        if view is None or self.model.line or self.model.note:
            return self.model.line or self.model.note
        missing = [
            "you" if number == view.you else self.model.chair_name(number)
            for number, chair in enumerate(view.chairs)
            if chair.sitter == "person" and not chair.ready
        ]
        return f"The next heat waits for {', '.join(missing)}." if missing else "All are ready."

    def keys(self) -> Keys:
        """Return ready, and start for the host."""
        view = self.model.view
        ready = view is not None and view.chairs[view.you].ready
        host: Keys = (("s", "start now", "s"),) if view and view.host else ()
        return (("enter", "not ready" if ready else "ready", "enter"), *host, ("?", "help", "?"), ("q", "leave", "q"))

    def press(self, key: str) -> None:
        """Ask the table."""
        app, view = self.racktempo, self.model.view
        self.model.note = ""
        if key == "q":
            app.ask_to_leave()
        elif key in ("enter", "space") and view is not None:
            app.ask(NotReady() if view.chairs[view.you].ready else Ready(contribution=app.random_bytes(16)))
        elif key == "s" and view is not None and view.host:
            app.ask(Start())


class _Set(Drawn):
    """Heats down, people across: each one's seconds, and the sum against the level."""

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        view = self.model.view
        if view is None:
            return
        left = max(1, (canvas.width - 78) // 2)
        canvas.put(left, 1, "whole heats in seconds", "quiet")
        for chair in range(4):
            name = "you" if chair == view.you else self.model.chair_name(chair)
            canvas.put(
                left + 24 + chair * _COLUMN,
                1,
                fitted(name, _COLUMN - 1),
                "mark" if chair == view.you else "text",
                bold=True,
            )
        for y, result in enumerate(view.results, start=3):
            canvas.put(left, y, f"heat {result.number - view.results[0].number + 1}")
            for seat in result.seats:
                outs = sum(one.by == "timeout" for one in seat.spent)
                end = canvas.put(left + 24 + seat.chair * _COLUMN, y, f"{seconds_text(seat.total_ms):>7}")
                canvas.put(end + 1, y, f"{outs} out" if outs else "", "alarm")
        y = 4 + len(view.results)
        canvas.put(left, y, "middle heat", bold=True)
        for chair in range(4):
            totals = sorted(seat.total_ms for result in view.results for seat in result.seats if seat.chair == chair)
            if totals:
                canvas.put(left + 24 + chair * _COLUMN, y, f"{seconds_text(totals[len(totals) // 2]):>7}", bold=True)
        canvas.put(
            left, y + 2, f"One Charleston may take {write_time(view.settings.total_ms())} at this table.", "quiet"
        )


class SetEndScreen(Sheet):
    """The set is over."""

    ABOUT = "Whole heats side by side; the middle heat says more than the best one."

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model

    def compose(self) -> ComposeResult:
        """Build the table of heats over the times of the last one."""
        yield Title("The set is over")
        yield _Set(self.model)
        yield Note(lambda: self.model.line or self.model.note or self._waits())
        yield Foot(self.keys)

    def _waits(self) -> str:
        return "" if self.model.view and self.model.view.host else "The host may begin a new set."

    def keys(self) -> Keys:
        """Return a new set for the host, and the way out."""
        host: Keys = (("n", "new set", "n"),) if self.model.view and self.model.view.host else ()
        return (*host, ("?", "help", "?"), ("q", "leave", "q"))

    def press(self, key: str) -> None:
        """Ask the table."""
        if key == "q":
            self.racktempo.ask_to_leave()
        elif key == "n" and self.model.view and self.model.view.host:
            self.racktempo.ask(NewSet())

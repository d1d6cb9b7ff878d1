"""The board of a shared clock for real tiles: the step in large letters, one's own clock, and who is done.

Draws the model and decides nothing. What the room reads is large; the four places are blocks that fill when somebody
is done, so that a glance from afar counts them.
"""

from collections.abc import Callable

from client.models.shared_clock import PLACES, SharedClockModel
from client.text import some
from client.theme import Ground, Role
from client.tui.widgets.big_text import (
    STEP_WORDS,
    height,
    needed,
    put_letters,
    put_middle,
    scale_for,
    time_letters,
    wide,
)
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.head import clock_text, seconds_text
from shared.times import write_time
from shared.wire.group_views import GroupView

_CAPTION, _BLOCKS = 1, 2
_ROOMY = 17
"""So many cells wide a place shows everything in full."""


class SharedClockBoard(Drawn):
    """way_in are lines on how others come in, shown before the first heat."""

    def __init__(
        self, model: SharedClockModel, now_ms: Callable[[], int], way_in: Callable[[], tuple[tuple[str, str], ...]]
    ) -> None:
        super().__init__()
        self.model, self.now_ms, self.way_in = model, now_ms, way_in

    def draw(self, canvas: Canvas) -> None:
        """Draw the two lines, what stands below them, and the blocks of the places at the foot."""
        view, plain = self.model.view, canvas.look.ascii
        if view is None:
            return
        scale = scale_for(canvas, _CAPTION + _BLOCKS)
        lesser = max(1, scale - 1)
        spare = canvas.height - needed(scale, plain) - _CAPTION - _BLOCKS
        blocks = _BLOCKS + (2 if spare >= 4 else 0)
        small, large = _words(self.model, view)
        top = max(0, canvas.height - needed(scale, plain) - _CAPTION - blocks) // 2
        put_middle(canvas, top, small, lesser)
        put_middle(canvas, top + height(lesser, plain), large, scale, strong=True)
        below = top + height(lesser, plain) + height(scale, plain)
        room = canvas.height - blocks - below
        if view.phase == "step":
            self._clocks(canvas, below, scale)
        elif view.phase == "ready":
            self._before(canvas, below, room)
        elif view.phase == "set-up":
            used = self._pause(canvas, below, lesser)
            self._results(canvas, below + used, room - used)
        else:
            self._results(canvas, below + 1, room - 1)
        self._places(canvas, canvas.height - blocks, blocks)

    def _clocks(self, canvas: Canvas, y: int, scale: int) -> None:
        """Draw one's own clock, or that one is done, and beside it the clock of the whole heat."""
        model, view, now_ms = self.model, self.model.view, self.now_ms()
        assert view
        own, left_ms, is_late = model.own, model.left_ms(view.you, now_ms), model.is_late(view.you, now_ms)
        had = f"of {seconds_text(own.budget_ms)} s"
        heat = time_letters(model.heat_ms(now_ms) // 1000 * 1000)
        match own.stand:
            case "done":
                step, caption = "DONE", f"in {seconds_text(own.budget_ms - left_ms)} s {had}"
            case "thinking":
                shown_ms = abs(left_ms) if is_late else max(0, left_ms)
                step, caption = time_letters(shown_ms, is_late), f"your step, {had}{', late' if is_late else ''}"
            case _:
                step, caption = "-", "this heat began without you; you come in with the next one"
        lesser, gap = max(1, scale - 1), 6 * scale
        x = max(0, (canvas.width - wide(step, scale) - gap - wide(heat, lesser)) // 2)
        beside = max(x + wide(step, scale) + gap, x + len(caption) + 2)
        canvas.put(x, y, caption, "text" if own.stand == "done" else "quiet")
        canvas.put(beside, y, f"whole heat, of {clock_text(view.heat_length_ms)}", "quiet")
        put_letters(canvas, x, y + _CAPTION, step, scale, is_late and own.stand == "thinking")
        put_letters(canvas, beside, y + _CAPTION, heat, lesser)

    def _pause(self, canvas: Canvas, y: int, scale: int) -> int:
        """Draw how long the set-up takes, and who is East; return the rows used."""
        model, view = self.model, self.model.view
        assert view
        setup = time_letters(model.setup_ms(self.now_ms()) // 1000 * 1000)
        east = "EAST YOU" if view.east == view.you else f"EAST {view.east}"
        x = max(0, (canvas.width - wide(setup, scale) - 6 * scale - wide(east, scale)) // 2)
        beside = x + wide(setup, scale) + 6 * scale
        canvas.put(x, y, "set-up", "quiet")
        canvas.put(beside, y, self.east_words(), "text", bold=True)
        put_letters(canvas, x, y + _CAPTION, setup, scale)
        return put_letters(canvas, beside, y + _CAPTION, east, scale) - y

    def east_words(self) -> str:
        """Say whose turn it is to be East."""
        view = self.model.view
        assert view
        if view.east == view.you:
            return "You are East: you take 14 tiles."
        name = self.model.name(view.east)
        return f"East is {name}, at place {view.east}." if name else f"East is the player at place {view.east}."

    def _before(self, canvas: Canvas, y: int, room: int) -> None:
        """Tell before the first heat how others come in, where one sits and who is East."""
        view = self.model.view
        assert view
        left = max(1, (canvas.width - 70) // 2)
        lines: list[tuple[str, str]] = [
            *self.way_in(),
            ("", f"{some(view.settings.heats, 'heat')}, {write_time(view.settings.total_ms())} for each Charleston."),
            ("", "Press 1 to 4 for where you sit; places count to the right."),
            ("", f"{self.east_words()} No joker is ever passed."),
        ]
        for row, (label, text) in enumerate(lines[:room]):
            canvas.put(left, y + row, label, "quiet")
            x = left + (len(label) + 2 if label else 0)
            canvas.put(x, y + row, canvas.fitted(text, canvas.width - x), bold=bool(label))

    def _results(self, canvas: Canvas, y: int, room: int) -> None:
        """Draw the whole times of the last heats above each place."""
        view = self.model.view
        assert view
        for row, result in enumerate(view.results[-room:] if room > 0 else ()):
            for place, total_ms in zip(PLACES, result.places_ms, strict=True):
                if view.places[place - 1].stand != "free":
                    label = f"heat {result.number}" if _width(canvas, place) >= _ROOMY else f"{result.number}:"
                    end = canvas.put(_x(canvas, place) + 1, y + row, label, "quiet")
                    told = "incomplete" if total_ms is None else f"{seconds_text(total_ms):>6} s"
                    canvas.put(end + 1, y + row, told, bold=total_ms is not None)

    def _places(self, canvas: Canvas, y: int, rows: int) -> None:
        for place in PLACES:
            self._block(canvas, place, y, rows)

    def _block(self, canvas: Canvas, place: int, y: int, rows: int) -> None:
        """Draw one place: its name, whether it deals, and where it stands; filled once it is done."""
        model, view = self.model, self.model.view
        assert view
        seat, is_late = view.places[place - 1], model.is_late(place, self.now_ms())
        x, width = _x(canvas, place), _width(canvas, place)
        is_filled = seat.stand in ("done", "ready")
        ground: Ground = "chosen" if is_filled else "page" if seat.stand == "free" else "panel"
        role: Role = "quiet" if seat.stand == "free" else "text"
        for row in range(rows):
            canvas.put(x, y + row, " " * width, role, ground)
        at = y + (rows - _BLOCKS) // 2
        sign = (">" if canvas.look.ascii else "▸") if place == view.you else " "
        name = model.name(place) or "no machine"
        canvas.put(x, at, canvas.fitted(f"{sign}{place} {name}", width), role, ground, bold=place == view.you)
        if place == view.east:
            east = "EAST" if width >= _ROOMY else "E"
            canvas.put(x + width - len(east), at, east, role, ground, bold=True)
        late = is_late and seat.stand == "thinking" and not canvas.look.calm
        words = self._stands(place, is_late)
        if width < _ROOMY and not seat.connected and seat.stand != "free":
            words = "away"
        words = canvas.fitted(f"{' ' * (3 if width >= len(words) + 3 else 1)}{words}", width)
        canvas.put(x, at + 1, words, "alarm" if late else role, ground, bold=is_filled or late)
        if view.phase != "step":
            canvas.zone(x, y, width, rows, str(place))

    def _stands(self, place: int, is_late: bool) -> str:
        """Say in a word or two where a place stands."""
        model, view = self.model, self.model.view
        assert view
        seat, left_ms = view.places[place - 1], model.left_ms(place, self.now_ms())
        away = "" if seat.connected else ", away"
        match seat.stand:
            case "free":
                return ""
            case _ if view.phase == "over":
                return away.removeprefix(", ")
            case "done":
                no = {"vote": "stop, ", "offer": "none, "}.get(model.asks, "") if seat.says_no else ""
                return f"{no or 'done '}{seconds_text(seat.budget_ms - left_ms)} s{away}"
            case "thinking" if is_late:
                return f"late {clock_text(-left_ms)}{away}"
            case stand:
                return f"{stand}{away if stand != 'not waited for' else ''}"


def _x(canvas: Canvas, place: int) -> int:
    """Return where the block of a place begins."""
    return 1 + (canvas.width - 1) * (place - 1) // 4


def _width(canvas: Canvas, place: int) -> int:
    """Return how wide the block of a place is; one cell is left free behind it."""
    return _x(canvas, place + 1) - _x(canvas, place) - 1


def _words(model: SharedClockModel, view: GroupView) -> tuple[str, str]:
    """Return the small and the large line."""
    if view.paused:
        return f"HEAT {view.heat}", "PAUSED"
    if view.step:
        return STEP_WORDS[view.step]
    if view.phase == "over":
        return "", "THE END"
    return f"HEAT {view.heat}", "READY" if model.own.stand == "ready" else "READY?"

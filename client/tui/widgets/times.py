"""Everybody's seconds: of one heat by step, with the opened racks, or of all heats of a set side by side."""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

from client.models.table import TableModel, club_of, club_pages
from client.theme import Role
from client.tui.widgets.canvas import Canvas, Drawn, fitted
from client.tui.widgets.evening import draw_page
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import against_height, draw_against
from client.tui.widgets.head import seconds_text
from shared.cards.tell import nearest_of
from shared.rules.events import By
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import SEATS
from shared.rules.steps import STEP_NAMES
from shared.rules.tiles import by_suit
from shared.times import write_time
from shared.wire.views import HeatResult, SpentStep

_WIDTH = 78


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where the four players' columns stand: cells before the first, of a column, of its figure."""

    first: int
    column: int
    figure: int


_WIDE, _NARROW = _Grid(24, 13, 7), _Grid(16, 10, 5)


def _grid(canvas: Canvas) -> _Grid:
    return _WIDE if canvas.width >= _WIDTH else _NARROW


class Times(Drawn):
    """One page: a heat, or with a page number past the last heat the whole set."""

    def __init__(self, model: TableModel, page: Callable[[], int]) -> None:
        super().__init__()
        self.model, self.page = model, page

    def draw(self, canvas: Canvas) -> None:
        """Draw the page that is asked for."""
        view = self.model.view
        if view is None or not view.results:
            return
        left = max(1, (canvas.width - _WIDTH) // 2)
        beyond = self.page() - len(view.results)
        if beyond < 0:
            self._heat(canvas, left, view.results[self.page()])
        elif beyond == 0:
            self._set(canvas, left)
        else:
            draw_page(canvas, self.model, club_pages(self.model)[beyond - 1])

    def _names(self, canvas: Canvas, left: int, y: int, names: list[str]) -> None:
        grid = _grid(canvas)
        for column, name in enumerate(names):
            x = left + grid.first + column * grid.column
            canvas.put(x, y, fitted(name, grid.column - 1), "mark" if name == "you" else "text", bold=True)

    def _heat(self, canvas: Canvas, left: int, result: HeatResult) -> None:
        view = self.model.view
        assert view is not None
        own = self.model.own.get(result.number)
        settings = own.settings if own else view.settings  # what the host set since does not concern this heat
        y, grid = max(0, (canvas.height - 19) // 2), _grid(canvas)
        canvas.put(left, y, "seconds", "quiet")
        canvas.put(left + 16, y, "length" if grid is _WIDE else "", "quiet")
        self._names(canvas, left, y, [self.model.who_played(seat) for seat in result.seats])
        bots = [all(one.by == "bot" for one in seat.spent) for seat in result.seats]
        for step in STEP_NAMES:
            spent = [next((one for one in seat.spent if one.step == step), None) for seat in result.seats]
            if any(spent):
                y += 1
                length_ms = settings.length_ms(step)
                canvas.put(left, y, step)
                canvas.put(left + 16, y, f"{seconds_text(length_ms):>6}" if grid is _WIDE else "", "quiet")
                for seat, one in enumerate(spent):
                    x = left + grid.first + seat * grid.column
                    _spent(canvas, x, y, grid.figure, one, length_ms, marked=not bots[seat])
        y += 1
        canvas.put(left, y, "whole heat", bold=True)
        canvas.put(left + 16, y, f"{seconds_text(settings.total_ms()):>6}" if grid is _WIDE else "", "quiet")
        for seat in SEATS:
            total = seconds_text(result.seats[seat].total_ms).rjust(grid.figure)
            x = canvas.put(left + grid.first + seat * grid.column, y, total, bold=True)
            canvas.put(x + 1, y, "bot" if bots[seat] else "", "quiet")
        y = self._racks(canvas, left, y + (2 if canvas.height > 19 else 1), result)
        self._nearest(canvas, left, y + 1, own)

    def _nearest(self, canvas: Canvas, left: int, y: int, own: SeatHeat | None) -> None:
        """Draw the hand that the own rack is nearest to, where the host wants hints and there is room."""
        card = self.model.pane.card
        if own is None or card is None or own.settings.hints == "none":
            return
        told, drawn = nearest_of(card, by_suit(own.final))
        room = canvas.width - left - 1
        if y + 1 + against_height(drawn, room) > canvas.height:
            return
        canvas.put(canvas.put(left, y, "nearest hand     ", "quiet"), y, told.name, bold=True)
        draw_against(canvas, left, y + 1, drawn, room)

    def _racks(self, canvas: Canvas, left: int, y: int, result: HeatResult) -> int:
        if not result.opened:
            club = club_of(self.model)
            until = "every table has finished this heat" if club and club.still_playing else "the set is over"
            canvas.put(left, y, f"The racks stay closed until {until}.", "quiet")
            return y + 1
        for seat in SEATS:
            owner = result.seats[seat]
            name = self.model.who_played(owner)
            is_wide = _grid(canvas) is _WIDE
            canvas.put(left, y, fitted(name, 16 if is_wide else 10), bold=name == "you")
            x = canvas.put(left + 17, y, seat.word.ljust(7), "quiet") if is_wide else left + 11
            step = 4 if canvas.width > 84 else 3
            for tile in by_suit(owner.final):
                canvas.put(x, y, f" {tile}".ljust(step), ink(tile), "face", bold=True)
                x += step
            canvas.put(x, y, " ", "text", "face")
            y += 1
        return y

    def _set(self, canvas: Canvas, left: int) -> None:
        view = self.model.view
        assert view is not None
        y, grid = max(0, (canvas.height - len(view.results) - 6) // 2), _grid(canvas)
        canvas.put(left, y, "whole heats", "quiet")
        columns = self.model.columns()
        self._names(canvas, left, y, [name for name, _ in columns])
        y += 2
        for number, result in enumerate(view.results, start=1):
            canvas.put(left, y, f"heat {number}")
            for column, (_, seats) in enumerate(columns):
                if (seat := next((seat for seat in seats if seat in result.seats), None)) is None:
                    continue
                outs = sum(one.by == "timeout" for one in seat.spent)
                x = left + grid.first + column * grid.column
                end = canvas.put(x, y, seconds_text(seat.total_ms).rjust(grid.figure))
                canvas.put(end + 1, y, f"{outs} out" if outs else "", "alarm")
            y += 1
        canvas.put(left, y + 1, "middle heat", bold=True)
        for column, (_, seats) in enumerate(columns):
            middle = seconds_text(round(median(seat.total_ms for seat in seats))).rjust(grid.figure)
            canvas.put(left + grid.first + column * grid.column, y + 1, middle, bold=True)
        total_ms = view.settings.total_ms()
        told = f"One Charleston may take {write_time(total_ms)} at this table: {seconds_text(total_ms)} seconds."
        canvas.put(left, y + 3, told, "quiet")


def _spent(canvas: Canvas, x: int, y: int, figure: int, one: SpentStep | None, length_ms: int, marked: bool) -> None:
    """Put a step's seconds; marked says what is to be said of them, in a seat that was not a bot's all along."""
    if one is None:
        canvas.put(x, y, "-".rjust(figure), "quiet")
        return
    over = "over" if one.spent_ms > length_ms else ""
    marks: dict[By, tuple[str, Role]] = {"timeout": ("out", "alarm"), "bot": ("bot", "quiet"), "person": (over, "warn")}
    word, role = marks[one.by]
    end = canvas.put(x, y, seconds_text(one.spent_ms).rjust(figure), role if word in ("out", "over") else "text")
    canvas.put(end + 1, y, word if marked else "", role)

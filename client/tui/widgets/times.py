"""Everybody's seconds: of one heat by step, with the opened racks, or of all heats of a set side by side."""

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from client.models.played import club_of, columns, standing_words, who_played
from client.models.table import TableModel
from client.text import wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import against_height, draw_against
from client.tui.widgets.head import seconds_text
from shared.cards.tell import nearest_of
from shared.rules.events import By
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import SEATS, Seat
from shared.rules.steps import STEP_NAMES
from shared.rules.tiles import Rack, by_suit
from shared.wire.views import HeatResult, SpentStep

_WIDTH = 78


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where the four players' columns stand: cells before the first, of a column, of its figure."""

    first: int
    column: int
    figure: int


_WIDE, _NARROW = _Grid(24, 13, 7), _Grid(16, 10, 5)


def draw_set(canvas: Canvas, model: TableModel, beside: Iterable[str]) -> None:
    """Draw everybody's seconds of every heat of the set, then sentences about one's own set."""
    _Table(canvas, model).whole_set(beside)


def draw_times(canvas: Canvas, model: TableModel, result: HeatResult, y: int = 0) -> None:
    """Draw everybody's seconds of a heat by step, from a row on."""
    _Table(canvas, model).heat(y, result)


def draw_racks(canvas: Canvas, model: TableModel, result: HeatResult) -> None:
    """Draw the racks of a heat where they have been opened, and the hand that one's own is nearest to."""
    _Table(canvas, model).racks(result)


class _Table:
    """Puts seconds and racks on a canvas: one's own first, the others in seat order after."""

    def __init__(self, canvas: Canvas, model: TableModel) -> None:
        self.canvas, self.model = canvas, model
        self.left = max(1, (canvas.width - _WIDTH) // 2)
        self.grid = _WIDE if canvas.width >= _WIDTH else _NARROW
        self.you = model.view.you if model.view else 0

    def _names(self, y: int, names: Iterable[str]) -> None:
        for column, name in enumerate(names):
            x = self._column(column)
            self.canvas.put(
                x, y, self.canvas.fitted(name, self.grid.column - 1), "mark" if name == "you" else "text", bold=True
            )

    def _column(self, number: int) -> int:
        return self.left + self.grid.first + number * self.grid.column

    def _from_me(self, result: HeatResult) -> list[Seat]:
        """Return the seats from one's own on; from East on for somebody who had none."""
        own = self.model.own.get(result.number)
        chairs = [result.seats[seat].chair for seat in SEATS]
        first = own.seat if own else chairs.index(self.you) if self.you in chairs else Seat.EAST
        return [Seat((first + after) % 4) for after in SEATS]

    def heat(self, y: int, result: HeatResult) -> None:
        canvas, grid = self.canvas, self.grid
        seats = [result.seats[seat] for seat in self._from_me(result)]
        canvas.put(self.left, y, "seconds", "quiet")
        canvas.put(self.left + 16, y, "length" if grid is _WIDE else "", "quiet")
        self._names(y, [who_played(self.model, seat) for seat in seats])
        bots = [all(one.by == "bot" for one in seat.spent) for seat in seats]
        lengths_ms = iter(result.lengths_ms)
        for step in STEP_NAMES:
            spent = [next((one for one in seat.spent if one.step == step), None) for seat in seats]
            if any(spent):
                y += 1
                length_ms = next(lengths_ms, 0)
                canvas.put(self.left, y, step)
                canvas.put(self.left + 16, y, f"{seconds_text(length_ms):>6}" if grid is _WIDE else "", "quiet")
                for column, one in enumerate(spent):
                    _spent(canvas, self._column(column), y, grid.figure, one, length_ms, marked=not bots[column])
        y += 1
        canvas.put(self.left, y, "whole heat", bold=True)
        canvas.put(self.left + 16, y, f"{seconds_text(result.length_ms):>6}" if grid is _WIDE else "", "quiet")
        for column, seat in enumerate(seats):
            total = seconds_text(seat.total_ms).rjust(grid.figure)
            x = canvas.put(self._column(column), y, total, bold=True)
            canvas.put(x + 1, y, "bot" if bots[column] else "", "quiet")

    def racks(self, result: HeatResult) -> None:
        canvas, y = self.canvas, max(0, (self.canvas.height - 9) // 2)
        own = self.model.own.get(result.number)
        if not result.opened:
            club = club_of(self.model)
            until = "every table has finished this heat" if club and club.still_playing else "the set is over"
            canvas.put(self.left, y, f"The other racks stay closed until {until}.", "quiet")
            y = self._rack(y + 2, "you", Seat(own.seat), own.final) if own else y + 1
        else:
            for seat in self._from_me(result):
                y = self._rack(y, who_played(self.model, result.seats[seat]), seat, result.seats[seat].final)
        self._nearest(y + 1, own)

    def _rack(self, y: int, name: str, seat: Seat, rack: Rack) -> int:
        canvas, is_wide = self.canvas, self.grid is _WIDE
        canvas.put(self.left, y, self.canvas.fitted(name, 16 if is_wide else 10), bold=name == "you")
        x = canvas.put(self.left + 17, y, seat.word.ljust(7), "quiet") if is_wide else self.left + 11
        step = 4 if canvas.width > 84 else 3
        for tile in by_suit(rack):
            canvas.put(x, y, f" {tile}".ljust(step), ink(tile), "face", bold=True)
            x += step
        canvas.put(x, y, " ", "text", "face")
        return y + 1

    def _nearest(self, y: int, own: SeatHeat | None) -> None:
        """Draw the hand that the own rack is nearest to, where the host wants hints and there is room."""
        canvas, card = self.canvas, self.model.pane.card
        if own is None or card is None or own.settings.hints == "none":
            return
        told, drawn = nearest_of(card, by_suit(own.final))
        room = canvas.width - self.left - 1
        if y + 1 + against_height(drawn, room) > canvas.height:
            return
        canvas.put(canvas.put(self.left, y, "nearest hand     ", "quiet"), y, told.name, bold=True)
        draw_against(canvas, self.left, y + 1, drawn, room)

    def whole_set(self, beside: Iterable[str]) -> None:
        canvas, grid, view = self.canvas, self.grid, self.model.view
        assert view is not None
        by_player, lengths = columns(self.model), {result.length_ms for result in view.results}
        sentences = (standing_words(view), *beside)
        said = [line for sentence in sentences for line in wrapped(sentence, min(_WIDTH, canvas.width - 2))]
        y = max(0, (canvas.height - len(view.results) - len(said) - 7) // 2)
        canvas.put(self.left, y, "whole heats", "quiet")
        self._names(y, [name for name, _ in by_player])
        for number, result in enumerate(view.results, start=1):
            y += 1
            length = f" of {seconds_text(result.length_ms)}" if len(lengths) > 1 and grid is _WIDE else ""
            canvas.put(canvas.put(self.left, y, f"heat {number}"), y, length, "quiet")
            for column, (_, seats) in enumerate(by_player):
                if (seat := next((seat for seat in seats if seat in result.seats), None)) is None:
                    continue
                outs = sum(one.by == "timeout" for one in seat.spent)
                end = canvas.put(self._column(column), y, seconds_text(seat.total_ms).rjust(grid.figure))
                canvas.put(end + 1, y, f"{outs} out" if outs else "", "alarm")
        if len(view.results) > 1:
            y += 1
            canvas.put(self.left, y, "usually", bold=True)
            for column, (_, seats) in enumerate(by_player):
                middle = seconds_text(round(median(seat.total_ms for seat in seats))).rjust(grid.figure)
                canvas.put(self._column(column), y, middle, bold=True)
            y += 1
            canvas.put(self.left, y, "in all", bold=True)
            for column, (_, seats) in enumerate(by_player):
                total = seconds_text(sum(seat.total_ms for seat in seats)).rjust(grid.figure)
                x = canvas.put(self._column(column), y, total, bold=True)
                canvas.put(x + 1, y, "" if len(seats) == len(view.results) else f"in {len(seats)}", "quiet")
        may_take = " to ".join(dict.fromkeys(map(seconds_text, (min(lengths), max(lengths)))))
        told = f"In seconds; a whole Charleston may take {may_take}."
        for row, line in enumerate(said):
            canvas.put(self.left, y + 2 + row, line, bold=True)
        canvas.put(self.left, y + 2 + len(said) + bool(said), told, "quiet")


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

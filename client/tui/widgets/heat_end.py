"""The end of a heat before anything is pressed: what it cost, why, and what to look for, as there is room.

Draws a HeatEnd. In a high window every step has a bar and the own racks lie there as tiles; in a low one the rack goes
first, then what the sentences say last, with a mark.
"""

from collections.abc import Callable
from dataclasses import dataclass

from rich.cells import cell_len

from client.models.guided import UNTIMED_MS
from client.models.heat_end import HeatEnd
from client.models.table import TableModel
from client.text import wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import against_height, draw_against
from client.tui.widgets.head import seconds_text
from client.tui.widgets.rack import TILE, draw_tile
from shared.cards.picture import AgainstRack
from shared.cards.tell import nearest_of
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.tiles import Rack, by_suit
from shared.wire.views import HeatResult

_MOST_WIDTH = 112
_BAR, _LONG_BAR = 20, 36
_CUT = " ..."
_TILE_ROWS = 4
_STEP, _SPENT = 16, 20


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of the page: how many rows it takes, and what draws it from a row on."""

    height: int
    draw: Callable[[int], None]


def draw_heat_end(canvas: Canvas, end: HeatEnd, own: SeatHeat, result: HeatResult, model: TableModel) -> None:
    """Draw what fits: rows between the parts if there is room, and of a sentence at least its beginning."""
    page = _Page(canvas, own, result, model)
    money = page.lines(end.points) if end.points else page.lines(end.said, "quiet")
    target = page.lines(end.target)
    times = page.slowest(end)
    rest = [part for part in (page.lines(end.plan), target, times) if part.height]
    first = page.head(end)
    spoken = (
        [page.costly(end, canvas.height - sum(part.height for part in (first, money, *rest)))] if end.costly else []
    )
    if end.points and end.said:
        spoken = [page.lines(end.said)]
    parts = [first, money, *spoken, *rest]
    rack = page.rack()
    if rack.height and _height(parts) + rack.height <= canvas.height:
        parts.insert(len(parts) - (1 if times.height else 0), rack)
    if times.height and _height(parts) + (more := page.steps()).height - times.height + 2 <= canvas.height:
        parts[-1] = more
    if (
        rack in parts
        and _height(parts) + 2 * _TILE_ROWS + 2 <= canvas.height
        and canvas.width > TILE * len(own.dealt) + 8
    ):
        parts[parts.index(rack)] = page.racks()
    spare = canvas.height - _height(parts)
    y = 0
    for number, part in enumerate(parts):
        part.draw(y)
        y += part.height
        if number and spare >= len(parts) - 1 - number:
            y, spare = y + 1, spare - 1


def _height(parts: list[_Part]) -> int:
    return sum(part.height for part in parts)


class _Page:
    """Makes the parts for one canvas."""

    def __init__(self, canvas: Canvas, own: SeatHeat, result: HeatResult, model: TableModel) -> None:
        self.canvas, self.own, self.result, self.model = canvas, own, result, model
        self.width = min(canvas.width - 2, _MOST_WIDTH)
        self.left = max(1, (canvas.width - self.width) // 2)

    def head(self, end: HeatEnd) -> _Part:
        """Return the time, and the last heats at its right if they fit there."""
        beside = cell_len(end.time) + 3 + cell_len(end.before) <= self.width

        def draw(y: int) -> None:
            self.canvas.put(self.left, y, end.time, "mark", bold=True)
            x = self.left + self.width - cell_len(end.before) if beside else self.left
            self.canvas.put(x, y + (not beside), end.before, "quiet")

        return _Part(1 + (not beside), draw)

    def lines(self, text: str, role: Role = "text") -> _Part:
        """Return a text in as many lines as it needs."""
        found = wrapped(text, self.width)

        def draw(y: int) -> None:
            for row, line in enumerate(found):
                self.canvas.put(self.left, y + row, line, role)

        return _Part(len(found), draw)

    def costly(self, end: HeatEnd, room: int) -> _Part:
        """Return the costliest decision with its hand; where that is too much, its sentences end with a mark."""
        assert end.costly
        costly, canvas, inner = end.costly, self.canvas, self.width - 2
        hand = (1 + against_height(costly.drawn, inner - 2)) if costly.drawn else 0
        why = wrapped(costly.why, inner)
        most = max(2, room - 1 - hand)
        if len(why) > most:
            why = [*why[: most - 1], wrapped(why[most - 1], inner - len(_CUT))[0] + _CUT]

        def draw(y: int) -> None:
            x = canvas.put(self.left, y, "What cost most: ", "quiet")
            canvas.put(x, y, costly.heading, "warn", bold=True)
            for line in why:
                y += 1
                canvas.put(self.left + 2, y, line)
            if costly.drawn:
                canvas.put(self.left + 2, y + 1, costly.name, bold=True)
                draw_against(canvas, self.left + 4, y + 2, costly.drawn, inner - 2)

        return _Part(1 + len(why) + hand, draw)

    def slowest(self, end: HeatEnd) -> _Part:
        """Return the row of the step that took longest."""
        if end.slowest is None:
            return _Part(0, lambda y: None)
        step = self.own.steps[end.slowest]
        return _Part(1, lambda y: self._times(y, step, _BAR, "slowest: "))

    def steps(self) -> _Part:
        """Return a row for every step."""

        def draw(y: int) -> None:
            for row, step in enumerate(self.own.steps):
                self._times(y + row, step, _LONG_BAR if self.width > 90 else _BAR)

        return _Part(len(self.own.steps), draw)

    def _times(self, y: int, step: SeatStep, bar: int, what: str = "") -> None:
        """Draw a step's seconds, its bar up to the step's length, and what the others took."""
        canvas, plain = self.canvas, self.canvas.look.ascii
        out, over = step.by == "timeout", step.spent_ms > step.length_ms
        role: Role = "alarm" if out else "warn" if over else "text"
        mark = {"timeout": " out", "bot": " bot", "other": " other", "person": " over" if over else ""}[step.by]
        x = max(self.left + _STEP, canvas.put(canvas.put(self.left, y, what, "quiet"), y, step.step) + 2)
        of = f" of {step.length_ms / 1000:.0f}" if step.length_ms < UNTIMED_MS else ""
        canvas.put(x, y, f"{seconds_text(step.spent_ms)}{of} s{mark}", role)
        full, empty = ("#", ".") if plain else ("━", "╌")
        if self.width < _STEP + _SPENT + bar + 30:
            bar = max(0, self.width - _STEP - _SPENT - 30)
        filled = min(bar, round(bar * step.spent_ms / max(1, step.length_ms)))
        x = canvas.put(x + _SPENT, y, full * filled + empty * (bar - filled), role)
        canvas.put(x + 2, y, self._others(step), "quiet")

    def _others(self, step: SeatStep) -> str:
        """Return the others' seconds at a step, in seat order after one's own."""
        seats = [self.result.seats[(self.own.seat + after) % 4] for after in (1, 2, 3)]
        spent = [next((one.spent_ms for one in seat.spent if one.step == step.step), None) for seat in seats]
        return f"others {', '.join('-' if ms is None else f'{ms / 1000:.0f}' for ms in spent)} s"

    def _nearest(self) -> tuple[str, AgainstRack] | None:
        card = self.model.pane.card
        if card is None or self.own.settings.hints == "none":
            return None
        told, drawn = nearest_of(card, by_suit(self.own.final))
        return told.name, drawn

    def rack(self) -> _Part:
        """Return the rack as it is now in small tiles, with the hand that it is nearest to."""
        found, canvas = self._nearest(), self.canvas
        height = 1 + (1 + against_height(found[1], self.width - 4) if found else 0)

        def draw(y: int) -> None:
            x = canvas.put(self.left, y, "Your rack now  " if self.width > 64 else "", "quiet")
            for tile in by_suit(self.own.final):
                canvas.put(x, y, f" {tile}".ljust(3), ink(tile), "face", bold=True)
                x += 3
            canvas.put(x, y, " ", "text", "face")
            self._hand(y + 1, found)

        return _Part(height, draw)

    def racks(self) -> _Part:
        """Return the rack as it was dealt and as it is now as tiles, with the hand that it is nearest to."""
        found = self._nearest()
        height = 2 * _TILE_ROWS + 1 + (1 + against_height(found[1], self.width - 4) if found else 0)

        def draw(y: int) -> None:
            self._tiles(y, "dealt", self.own.dealt)
            self._tiles(y + _TILE_ROWS + 1, "now", self.own.final)
            self._hand(y + 2 * _TILE_ROWS + 1, found)

        return _Part(height, draw)

    def _tiles(self, y: int, name: str, rack: Rack) -> None:
        self.canvas.put(self.left, y + 1, name, "quiet")
        for place, tile in enumerate(by_suit(rack)):
            draw_tile(self.canvas, self.left + 8 + TILE * place, y, tile)

    def _hand(self, y: int, found: tuple[str, AgainstRack] | None) -> None:
        if found:
            x = self.canvas.put(self.left + 2, y, "nearest ", "quiet")
            self.canvas.put(x, y, self.canvas.fitted(found[0], self.width - 10).rstrip(), bold=True)
            draw_against(self.canvas, self.left + 4, y + 1, found[1], self.width - 4)

"""The clock for people with tiles on a table: the step and its arrow in letters that are read across a room.

Draws a RealClock and hands it keys; counts nothing and passes nothing. A heat is kept once it is settled.
"""

import asyncio
from collections.abc import Callable

from textual import work
from textual.app import ComposeResult

from client.models.real_tiles import MINE, TABLE, WHOSE, RealTilesModel
from client.models.session import Action
from client.text import wrapped
from client.tui.ports import AtAsk, AtClock, AtRacks, AtRealSet
from client.tui.screens.base import BaseScreen
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
from client.tui.widgets.head import Title, clock_text, seconds_text
from client.tui.widgets.key_bar import LEAVE, KeyBar, Keys, Note
from shared.clock.real_clock import ClockFace, ClockLeft, RealClock, RealHeat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS

_KEPT_EVERY_MS = 5_000
"""How often a running clock is kept: a kill loses no more than that."""
_BESIDES = 3
"""Rows of the board besides its letters: a gap after each line, and a caption."""
_PLACES = "Place 1 is where this screen stands; places count to the right."
_TILES = "East gets 14 tiles, the others 13. No joker is ever passed."


class RealTilesScreen(BaseScreen):
    """A set of heats with real tiles.

    keep is given each heat once it is settled and returns a sentence if that failed; stamp is the wall time as
    RFC 3339 text.
    """

    ABOUT = (
        "For people with tiles on a table. The clock names the step and counts; you pass the tiles. One key for the "
        "whole table: press it when the last of you is done."
    )

    def __init__(
        self, settings: Settings, keep: Callable[[RealHeat], str], stamp: Callable[[], str], set_id: str = ""
    ) -> None:
        super().__init__()
        self.model = RealTilesModel(RealClock(settings=settings), stamp, set_id=set_id)
        self._keep = keep
        self._kept, self._turn = 0, asyncio.Lock()
        self._clock: RealClock | None = None
        self._clock_ms, self._has_left = 0, False
        self._shown: tuple[object, ...] = ()
        self._up = False

    def compose(self) -> ComposeResult:
        """Build the title, the board that the room reads, and the keys."""
        self.model.may_open = self.shell.openers.together is not None
        whose = self.shell.storage.load_whose()
        self.model.whose = whose if whose in WHOSE.values() else ""
        yield Title(self._title)
        yield RoomBoard(self)
        yield Note(lambda: self.model.note or self._next())
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Look for a set that was cut off."""
        self._look_for_left()

    @work(group="left")
    async def _look_for_left(self) -> None:
        left = await asyncio.to_thread(self.shell.journal.clock_left)
        if not self.model.clock.presses:
            self.model.left = left
            self.redraw()

    @property
    def table_settings(self) -> Settings:
        """The settings of the clock."""
        return self.model.clock.settings

    def face(self) -> ClockFace:
        """Return what is to be shown now."""
        return self.model.clock.face(self.shell.now_ms())

    def tick(self) -> None:
        """Draw when a shown second has changed; ring once when the time of a step is up."""
        face = self.face()
        was_up, self._up = self._up, face.step is not None and face.left_ms <= 0
        if self._up and not was_up and self.shell.look.bell:
            self.app.bell()
        if face.phase == "step" and self.shell.now_ms() - self._clock_ms >= _KEPT_EVERY_MS:
            self._keep_clock()
        shown = (face.step, -(-face.left_ms // 1000), face.heat_ms // 1000, face.setup_ms // 1000, face.paused)
        if shown != self._shown:
            self._shown = shown
            for board in self.query(RoomBoard):  # none yet in the first moment of the screen
                board.redraw()

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        face = self.face()
        back: Keys = (("u", "back", "u"),)
        if face.paused:
            return (("p", "go on", "p"), *LEAVE)
        if face.phase == "step":
            ask = STEPS[face.step].ask if face.step else ""
            no: Keys = (("0", {"vote": "stop", "offer": "none"}.get(ask, ""), "0"),)
            pause: Keys = (("p", "pause", "p"),)
            return (("space", "done", "space"), *(no if no[0][1] else ()), *back, *pause, *LEAVE)
        racks: Keys = (("t", "your rack", "t"),)
        review: Keys = (("r", "review", "r"),)
        if face.phase == "over":
            return (*back, *racks, *review, *LEAVE)
        begin: Keys = (("enter", "begin the heat", "enter"),)
        if face.phase == "ready":
            left: Keys = (("g", f"go on, {self.model.left.words}", "g"),) if self.model.left else ()
            together: Keys = (("m", "a machine each", "m"),) if self.model.may_open else ()
            if not self.model.whose:
                return (*left, ("1", MINE, "1"), ("4", TABLE, "4"), *together, *LEAVE)
            return (*begin, *left, *(() if left else racks), *together, *LEAVE)
        return (*begin, *back, *racks, *review, *LEAVE)

    def help_keys(self) -> Keys:
        """Return every key of the clock."""
        return (
            ("enter n", "begin the first heat, or the next one", "enter"),
            ("g", "before the first heat: go on with a set that was cut off", "g"),
            ("m", "before the first heat: open the clock for others, each with a machine", "m"),
            ("space", "the step is done", "space"),
            ("0", "nobody goes on; no courtesy pass", "0"),
            ("u", "undo the last press; the time runs on as if it had not happened", "u"),
            ("p", "pause, or go on", "p"),
            ("t", "between heats: type the tiles on your rack, and what went and came", "t"),
            ("r", "review the heats whose tiles you typed", "r"),
            ("a", "ask the coach about a rack; the clock runs on", "a"),
            ("1 4", "before the first heat: the times are yours alone, or the whole table's", ""),
            ("b", "one bell when the time of a step is up, or none", "b"),
            ("q", "leave (asks first while a heat is running)", "q"),
        )

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        meant = self.model.press(key, self.shell.now_ms())
        if meant != ("leave",):
            self.carry_out(meant)
            self._keep_settled(self.model.clock.kept)
            if self.model.clock != self._clock:
                self._keep_clock()
            return
        self._has_left = True
        self._keep_clock()
        self._keep_settled(len(self.model.clock.finished()))
        self.app.pop_screen()

    def act(self, action: Action) -> None:
        """Turn the bell on or off, or open the clock for others."""
        if action == "together":
            self.shell.go(AtClock(self.model.clock.settings, together=True))
        elif action == "go on":
            self._keep = self.shell.journal.real_tiles(self.model.clock.settings, self.model.set_id)
        elif action == "ask":
            self.shell.go(AtAsk())
        elif action == "racks":
            self.shell.go(AtRacks(self.model.heats(self.shell.now_ms()), self.model.whose == MINE))
        elif action == "review":
            heats = self.model.heats(self.shell.now_ms())
            self.shell.go(AtRealSet([heat for heat in heats if heat.times], self.model.whose == MINE))
        elif action == "whose":
            self.shell.storage.save_whose(self.model.whose)
        elif action == "bell":
            self.shell.change_look(self.shell.look.toggled("bell"))
            self.model.note = f"One bell at the end of a step: {'yes' if self.shell.look.bell else 'no'}."

    def on_unmount(self) -> None:
        """Keep the finished heats when the program ends."""
        self._keep_settled(len(self.model.clock.finished()))

    def _keep_clock(self) -> None:
        """Keep the clock as it stands, or none once it was left by a key."""
        now_ms = self.shell.now_ms()
        self._clock, self._clock_ms = self.model.clock, now_ms
        if self._has_left or self.model.clock.presses:
            self.shell.keep(self._write_clock(None if self._has_left else self.model.to_keep(now_ms)))

    async def _write_clock(self, left: ClockLeft | None) -> None:
        async with self._turn:
            trouble = await asyncio.to_thread(self.shell.journal.keep_clock, left)
        if trouble and self.is_attached:
            self.model.note = trouble
            self.redraw()

    def _keep_settled(self, count: int) -> None:
        """Keep the heats up to this number that are not kept yet; one that cannot be kept is tried again later."""
        if self._kept < count:
            self.shell.keep(self._keep_up_to(count))

    async def _keep_up_to(self, count: int) -> None:
        async with self._turn:
            for heat in self.model.clock.finished()[self._kept : count]:
                trouble = await asyncio.to_thread(self._keep, heat) if self.model.whose == MINE else ""
                if trouble:
                    self.model.note = trouble
                    break
                self._kept += 1
        if self.is_attached:
            self.redraw()

    def _title(self) -> str:
        face = self.face()
        bell = "   bell on" if self.shell.look.bell else ""
        return f"Real tiles   heat {face.heat} of {face.heats}   East: place {face.east}{bell}"

    def _next(self) -> str:
        face = self.face()
        if face.paused:
            return "The clock is paused."
        if face.phase == "step":
            return f"then: {face.following}" if face.following else "the last step of this heat"
        return ""


class RoomBoard(Drawn):
    """The part of the screen that is read from afar."""

    def __init__(self, screen: RealTilesScreen) -> None:
        super().__init__()
        self.source = screen

    def draw(self, canvas: Canvas) -> None:
        """Draw a small line, a large one and the clocks, as large as there is room for."""
        face, heats, plain = self.source.face(), self.source.model.clock.finished(), canvas.look.ascii
        scale = scale_for(canvas, _BESIDES)
        lesser = max(1, scale - 1)
        small, large = _words(face)
        top = max(0, (canvas.height - needed(scale, plain) - _BESIDES) // 2)
        if small:
            put_middle(canvas, top, small, lesser)
        put_middle(canvas, top + height(lesser, plain) + 1, large, scale, strong=True)
        below = top + height(lesser, plain) + height(scale, plain) + 2
        match face.phase:
            case "step":
                _clocks(canvas, below, face, scale)
            case "ready":
                for line in (*wrapped(_PLACES, canvas.width), *wrapped(_TILES, canvas.width)):
                    canvas.middle(below, line)
                    below += 1
                _whose(canvas, below + 1, self.source.model.whose)
                if left := self.source.model.left:
                    told = f"A set was cut off in {left.words}: g goes on with it, its clock stopped."
                    for row, line in enumerate(wrapped(told, canvas.width)):
                        canvas.middle(below + 3 + row, line)
            case "set-up":
                x, setup = canvas.width // 2, time_letters(face.setup_ms)
                put_letters(canvas, x - 4 - wide(setup, scale), below, setup, scale)
                said = wrapped(f"East moves one to the right: place {face.east}.", canvas.width - x - 3)
                for row, line in enumerate(said):
                    canvas.put(x + 2, below + row, line)
                _results(canvas, x + 2, below + len(said) + 1, heats)
            case "over":
                _results(canvas, canvas.width // 2 - 14, below, heats)


def _whose(canvas: Canvas, y: int, whose: str) -> None:
    """Draw whose times the clock takes, or the question."""
    said = {
        "": "Whose times are these?   1 yours alone   4 the table's",
        MINE: "The times are yours alone and go into your history.   4 the table's",
        TABLE: "The times are the table's and go into nobody's history.   1 yours alone",
    }[whose]
    for row, line in enumerate((said,) if len(said) <= canvas.width else said.split("   ")):
        canvas.middle(y + row, line, "text" if whose else "warn", bold=not whose)


def _results(canvas: Canvas, x: int, y: int, heats: tuple[RealHeat, ...]) -> None:
    """Draw the whole times of the last heats."""
    for row, heat in enumerate(heats[-5:]):
        length_ms = sum(step.length_ms for step in heat.steps if step.step != "plan")
        canvas.put(x, y + row, f"heat {heat.number}", "quiet")
        end = canvas.put(x + 9, y + row, f"{seconds_text(heat.total_ms):>6} s", bold=True)
        over_ms = heat.total_ms - length_ms
        within = f"{seconds_text(over_ms)} over" if over_ms > 0 else "in time"
        of = f"of {seconds_text(length_ms)}, {within}"
        canvas.put(end + 2, y + row, of if end + 2 + len(of) < canvas.width else within, "quiet")


def _words(face: ClockFace) -> tuple[str, str]:
    if face.paused:
        return "", "PAUSED"
    match face.phase:
        case "ready":
            return "REAL TILES", "READY?"
        case "set-up":
            return "SET-UP", f"HEAT {face.heat}"
        case "over":
            return "", "DONE"
    assert face.step is not None
    return STEP_WORDS[face.step]


def _clocks(canvas: Canvas, y: int, face: ClockFace, scale: int) -> None:
    """Draw the step's clock large, and the clock of the whole heat smaller beside it, on one base line."""
    lesser, is_late, gap = max(1, scale - 1), face.left_ms < 0, 6 * scale
    step, heat = time_letters(abs(face.left_ms), is_late), time_letters(face.heat_ms // 1000 * 1000)
    x = max(0, (canvas.width - wide(step, scale) - gap - wide(heat, lesser)) // 2)
    beside = x + wide(step, scale) + gap
    base = put_letters(canvas, x, y, step, scale, is_late)
    put_letters(canvas, beside, base - height(lesser, canvas.look.ascii), heat, lesser)
    canvas.put(x, base, f"this step, of {seconds_text(face.budget_ms)} s", "quiet")
    canvas.put(beside, base, f"whole heat, of {clock_text(face.heat_length_ms)}", "quiet")

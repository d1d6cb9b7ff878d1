"""The clock for people with tiles on a table: the step and its arrow in letters that are read across a room.

Draws a RealClock and hands it keys; counts nothing and passes nothing. A heat is kept once it is settled.
"""

from collections.abc import Callable

from rich.cells import cell_len
from textual.app import ComposeResult

from client.screens.sheet import Sheet
from client.widgets.canvas import Canvas, Drawn
from client.widgets.foot import Foot, Keys, Note
from client.widgets.head import Title, clock_text, seconds_text
from client.widgets.letters import letters
from shared.real_clock import Face, RealClock, RealHeat
from shared.settings import Settings
from shared.steps import STEPS, StepName

TICK_S = 0.1
_WORDS: dict[StepName, tuple[str, str]] = {
    "first right": ("FIRST", "RIGHT >"),
    "first across": ("FIRST", "ACROSS ^"),
    "first left": ("FIRST", "< LEFT"),
    "go on": ("SECOND TIME", "GO ON?"),
    "second left": ("SECOND", "< LEFT"),
    "second across": ("SECOND", "ACROSS ^"),
    "last right": ("LAST", "RIGHT >"),
    "courtesy offer": ("COURTESY", "OFFER ^"),
    "courtesy give": ("COURTESY", "GIVE ^"),
    "plan": ("NO PASS", "PLAN"),
}
"""What the room reads at each step: a small line, and a large one with the arrow."""
_WIDEST = "ACROSS ^"


class RealTilesScreen(Sheet):
    """A set of heats with real tiles.

    keep is given each heat once it is settled and returns a sentence if that failed; stamp is the wall time as
    RFC 3339 text.
    """

    ABOUT = (
        "For people with tiles on a table. The clock names the step and counts; you pass the tiles. One key for the "
        "whole table: press it when the last of you is done."
    )

    def __init__(self, settings: Settings, keep: Callable[[RealHeat], str], stamp: Callable[[], str]) -> None:
        super().__init__()
        self.clock = RealClock(settings=settings)
        self._keep, self._stamp = keep, stamp
        self._kept = 0
        self._shown: tuple[object, ...] = ()
        self._up = False
        self._leaving = False

    def compose(self) -> ComposeResult:
        """Build the title, the board that the room reads, and the keys."""
        yield Title(self._title)
        yield RoomBoard(self)
        yield Note(lambda: self.told or self._next())
        yield Foot(self.keys)

    def on_mount(self) -> None:
        """Look at the time again and again."""
        self.set_interval(TICK_S, self.tick)

    def face(self) -> Face:
        """Return what is to be shown now."""
        return self.clock.face(self.racktempo.now_ms())

    def tick(self) -> None:
        """Draw when a shown second has changed; ring once when the time of a step is up."""
        face = self.face()
        was_up, self._up = self._up, face.step is not None and face.left_ms <= 0
        if self._up and not was_up and self.racktempo.look.bell:
            self.app.bell()
        shown = (face.step, -(-face.left_ms // 1000), face.heat_ms // 1000, face.setup_ms // 1000, face.paused)
        if shown != self._shown:
            self._shown = shown
            for board in self.query(RoomBoard):  # none yet in the first moment of the screen
                board.redraw()

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        face = self.face()
        rest: Keys = (("?", "help", "?"), ("q", "leave", "q"))
        back: Keys = (("u", "back", "u"),)
        if face.paused:
            return (("p", "go on", "p"), *rest)
        if face.phase == "step":
            ask = STEPS[face.step].ask if face.step else ""
            no: Keys = (("0", {"vote": "stop", "offer": "none"}.get(ask, ""), "0"),)
            pause: Keys = (("p", "pause", "p"),)
            return (("space", "done", "space"), *(no if no[0][1] else ()), *back, *pause, *rest)
        if face.phase == "over":
            return (*back, *rest)
        begin: Keys = (("enter", "begin the heat", "enter"),)
        return (*begin, *(() if face.phase == "ready" else (*back, ("p", "pause", "p"))), *rest)

    def help_keys(self) -> Keys:
        """Return every key of the clock."""
        return (
            ("enter n", "begin the first heat, or the next one", ""),
            ("space", "the step is done", ""),
            ("0", "nobody goes on; no courtesy pass", ""),
            ("u", "take the last press back; the time runs on as if it had not been made", ""),
            ("p", "pause, or go on", ""),
            ("b", "one bell when the time of a step is up, or none", ""),
            ("q", "leave (asks first while a heat is running)", ""),
        )

    def press(self, key: str) -> None:
        """Turn a key into a press of the clock."""
        self.told = ""
        leaving, self._leaving = self._leaving, False
        now_ms, clock = self.racktempo.now_ms(), self.clock
        match key:
            case "space":
                self.clock = clock.done(now_ms)
            case "enter" | "n":
                self.clock = clock.begin(now_ms, self._stamp())
            case "0":
                self.clock = clock.decline(now_ms)
            case "u":
                self.clock = clock.back(now_ms)
                self.told = "Nothing to take back: what was before is kept." if self.clock == clock else ""
            case "p":
                self.clock = clock.pause(now_ms)
            case "b":
                self.racktempo.change_look(self.racktempo.look.toggled("bell"))
                self.told = f"One bell at the end of a step: {'yes' if self.racktempo.look.bell else 'no'}."
            case "q" | "escape":
                self._leave(leaving)
        self._keep_settled(self.clock.kept)

    def on_unmount(self) -> None:
        """Whoever ends the program keeps the heats that are over."""
        self._keep_settled(len(self.clock.finished()))

    def _leave(self, asked: bool) -> None:
        if self.face().phase == "step" and not asked:
            self._leaving = True
            self.told = "A heat is running and would not be kept. Leave with q again."
            return
        self._keep_settled(len(self.clock.finished()))
        self.app.pop_screen()

    def _keep_settled(self, count: int) -> None:
        """Keep the heats up to this number that are not kept yet; one that cannot be kept is tried again later."""
        for heat in self.clock.finished()[self._kept : count]:
            trouble = self._keep(heat)
            if trouble:
                self.told = trouble
                return
            self._kept += 1

    def _title(self) -> str:
        face = self.face()
        bell = "   bell on" if self.racktempo.look.bell else ""
        return f"Real tiles   heat {face.heat} of {face.heats}   East: place {face.east}{bell}"

    def _next(self) -> str:
        face = self.face()
        if face.paused:
            return "The clock stands still."
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
        face, heats, scale = self.source.face(), self.source.clock.finished(), _scale(canvas)
        small, large = _words(face)
        rows = _heights(scale, canvas.look.ascii)
        top = max(0, (canvas.height - _needed(scale, canvas.look.ascii)) // 2)
        if small:
            _middle(canvas, top, small, max(1, scale - 1))
        _middle(canvas, top + rows[0] + 1, large, scale, strong=True)
        below = top + rows[0] + rows[1] + 2
        match face.phase:
            case "step":
                _clocks(canvas, below, face, scale)
            case "ready":
                canvas.middle(below, "Place 1 is where this screen stands; places count to the right.")
                canvas.middle(below + 1, "East gets 14 tiles, the others 13. No joker is ever passed.")
            case "set-up":
                _clock(
                    canvas, canvas.width // 2 - 4 - _wide(clock_text(face.setup_ms), scale), below, face.setup_ms, scale
                )
                canvas.put(canvas.width // 2 + 2, below, f"East moves one to the right: place {face.east}.")
                _results(canvas, canvas.width // 2 + 2, below + 2, heats)
            case "over":
                _results(canvas, canvas.width // 2 - 14, below, heats)


def _results(canvas: Canvas, x: int, y: int, heats: tuple[RealHeat, ...]) -> None:
    """Draw the whole times of the last heats."""
    for row, heat in enumerate(heats[-5:]):
        length_ms = sum(step.length_ms for step in heat.steps if step.step != "plan")
        canvas.put(x, y + row, f"heat {heat.number}", "quiet")
        end = canvas.put(x + 9, y + row, f"{seconds_text(heat.total_ms):>6} s", bold=True)
        canvas.put(end + 2, y + row, f"of {seconds_text(length_ms)}", "quiet")


def _words(face: Face) -> tuple[str, str]:
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
    return _WORDS[face.step]


def _heights(scale: int, plain: bool) -> tuple[int, int]:
    """Return the rows of the small and the large line."""
    return len(_rows("A", max(1, scale - 1), plain)), len(_rows("A", scale, plain))


def _needed(scale: int, plain: bool) -> int:
    """Return the rows of the whole board: both lines, the clocks, a gap after each line and a caption."""
    small, large = _heights(scale, plain)
    return small + 2 * large + 3


def _scale(canvas: Canvas) -> int:
    """Return the largest scale at which every step fits, so that the letters never change their size in a heat."""
    for scale in (4, 3, 2):
        if _wide(_WIDEST, scale) <= canvas.width and _needed(scale, canvas.look.ascii) <= canvas.height:
            return scale
    return 1


def _rows(text: str, scale: int, plain: bool) -> tuple[str, ...]:
    """Return a text in letters; ASCII at the smallest scale is too coarse for shapes and stays spaced text."""
    return (" ".join(text),) if plain and scale == 1 else letters(text, scale, plain)


def _wide(text: str, scale: int) -> int:
    return cell_len(letters(text, scale)[0])


def _middle(canvas: Canvas, y: int, text: str, scale: int, strong: bool = False) -> None:
    for row, line in enumerate(_rows(text, scale, canvas.look.ascii)):
        canvas.middle(y + row, line, "mark" if strong else "text", bold=strong)


def _clock(canvas: Canvas, x: int, y: int, counted_ms: int, scale: int, late: bool = False) -> int:
    """Draw a time and return the row below it. A late one has a minus sign; colour only repeats that."""
    text = f"{'-' if late else ''}{clock_text(counted_ms)}"
    rows = _rows(text, scale, canvas.look.ascii)
    for row, line in enumerate(rows):
        canvas.put(x, y + row, line, "alarm" if late and not canvas.look.calm else "text")
    return y + len(rows)


def _clocks(canvas: Canvas, y: int, face: Face, scale: int) -> None:
    """Draw the step's clock large, and the clock of the whole heat smaller beside it, on one base line."""
    lesser, is_late = max(1, scale - 1), face.left_ms < 0
    heat_ms = face.heat_ms // 1000 * 1000
    wide = _wide(f"{'-' if is_late else ''}{clock_text(abs(face.left_ms))}", scale)
    gap = 6 * scale
    x = max(0, (canvas.width - wide - gap - _wide(clock_text(heat_ms), lesser)) // 2)
    base = _clock(canvas, x, y, abs(face.left_ms), scale, is_late)
    height = len(_rows("0", lesser, canvas.look.ascii))
    _clock(canvas, x + wide + gap, base - height, heat_ms, lesser)
    canvas.put(x, base, f"this step, of {seconds_text(face.budget_ms)} s", "quiet")
    canvas.put(x + wide + gap, base, f"whole heat, of {clock_text(face.heat_length_ms)}", "quiet")

"""The home screen: what one can do, one line each. A further screen is one more entry."""

from collections.abc import Callable
from dataclasses import dataclass

from textual.app import ComposeResult

from client.tui.ports import AtClock, AtSolo
from client.tui.screens.base import BaseScreen
from client.tui.screens.cards import CardScreen
from client.tui.screens.drills import DrillScreen
from client.tui.screens.history import HistoryScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.join import JoinScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from shared.rules.settings import LEVELS_MS, Settings
from shared.times import write_time

"""The levels a person practises by: quick, advanced, intermediate, beginner (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class HomeRow:
    """One thing to do: its key, its name, a sentence, and what happens."""

    key: str
    name: str
    words: str
    act: Callable[["HomeScreen"], None]


ENTRIES: tuple[HomeRow, ...] = (
    HomeRow("p", "Practise alone", "three bots, one set of heats, at once", lambda home: home.practise()),
    HomeRow("h", "Host a table", "for people on your network", lambda home: home.host_table()),
    HomeRow("j", "Join a table", "by its address and its word code", lambda home: home.show(JoinScreen())),
    HomeRow("e", "Host an evening", "several tables, run from one desk", lambda home: home.host_evening()),
    HomeRow("d", "Drills", "deals that tempt, your costliest decisions", lambda home: home.show(DrillScreen())),
    HomeRow("t", "Real tiles", "the clock alone, for tiles on a table", lambda home: home.time_real_tiles()),
    HomeRow("y", "Your heats", "seconds, losses, the next clock, reviews", lambda home: home.show(HistoryScreen())),
    HomeRow("c", "Card", "the hands of every card, to look through", lambda home: home.show(CardScreen())),
    HomeRow("o", "Look", "dark or light, plain borders, a calm clock", lambda home: home.shell.show_looks()),
    HomeRow("q", "Quit", "", lambda home: home.app.exit()),
)
_LEVELLED = ("p", "e", "t")
"""Entries that play by the chosen level."""


class HomeScreen(BaseScreen):
    """Where everything begins."""

    ABOUT = "Choose what to do. The level is the time for one whole Charleston."

    def __init__(self) -> None:
        super().__init__()
        self.at = 0
        self.level = LEVELS_MS.index(Settings().level_ms)

    def compose(self) -> ComposeResult:
        """Build the list."""
        yield Painting(self._draw)
        yield Note(lambda: self.told)
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the keys of the list."""
        return (
            ("up down", "choose", ""),
            ("left right", "level", ""),
            ("enter", "do it", "enter"),
            ("?", "help", "?"),
        )

    def press(self, key: str) -> None:
        """Choose, or act."""
        self.told = ""
        match key:
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % len(ENTRIES)
            case "left" | "right":
                self.level = (self.level + (1 if key == "right" else -1)) % len(LEVELS_MS)
            case "enter":
                ENTRIES[self.at].act(self)
            case _:
                for number, entry in enumerate(ENTRIES):
                    if entry.key == key:
                        self.at = number
                        entry.act(self)

    def practise(self) -> None:
        """Open a table with three bots at the chosen level."""
        self.told = "Dealing ..."
        self.shell.go(AtSolo(Settings(level_ms=LEVELS_MS[self.level])))

    def host_table(self) -> None:
        """Set a table for others up, beginning with the chosen level."""
        self.show(HostScreen(Settings(level_ms=LEVELS_MS[self.level])))

    def host_evening(self) -> None:
        """Open an evening of several tables at the chosen level."""
        self.told = "Opening ..."
        if desk := self.shell.openers.desk:
            self.shell.open_table(desk(Settings(level_ms=LEVELS_MS[self.level]), self.shell.port))

    def time_real_tiles(self) -> None:
        """Open the clock for people with tiles on a table, at the chosen level."""
        self.told = ""
        self.shell.go(AtClock(Settings(level_ms=LEVELS_MS[self.level])))

    def show(self, screen: BaseScreen) -> None:
        """Go to another screen."""
        self.told = ""
        self.app.push_screen(screen)

    def _draw(self, canvas: Canvas) -> None:
        """Draw the title and one line for each thing to do."""
        left = max(4, (canvas.width - 64) // 2)
        apart = 2 if 2 * len(ENTRIES) + 6 <= canvas.height else 1
        top = max(1, (canvas.height - apart * len(ENTRIES) - 6) // 2)
        canvas.put(left, top, "r a c k t e m p o", "mark", bold=True)
        canvas.put(left, top + 1, "three tiles, a clock, and no time to dither", "quiet")
        for number, entry in enumerate(ENTRIES):
            y, here = top + 4 + apart * number, number == self.at
            sign = (">" if canvas.look.ascii else "▸") if here else " "
            canvas.put(left - 2, y, sign, "mark", bold=True)
            canvas.put(left, y, entry.key, "mark", bold=True)
            x = canvas.put(left + 3, y, entry.name, bold=here)
            if entry.key in _LEVELLED:
                less, more = "<>" if canvas.look.ascii else "◂▸"
                x = canvas.put(x + 1, y, less, "mark", key="left")
                x = canvas.put(x + 1, y, write_time(LEVELS_MS[self.level]), bold=True)
                x = canvas.put(x + 1, y, more, "mark", key="right")
            canvas.put(left + 28, y, entry.words, "quiet")
            canvas.zone(left, y, 24 if entry.key not in _LEVELLED else 3 + len(entry.name), 1, entry.key)

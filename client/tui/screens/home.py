"""The home screen: what one can do, one line each. A further screen is one more entry."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from textual.app import ComposeResult

from client.setup import ABOUT_CARDS, fitting_name, next_card
from client.tui.ports import AtAsk, AtClock, AtWaiting
from client.tui.screens.base import BaseScreen
from client.tui.screens.cards import CardScreen
from client.tui.screens.drills import DrillScreen
from client.tui.screens.go_back import GoBackScreen
from client.tui.screens.history import HistoryScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.join import JoinScreen
from client.tui.screens.sets import SetsScreen
from client.tui.screens.solo import SoloScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from shared.rules.grouped import groups_of
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


GO_ON = HomeRow("g", "Go on", "", lambda home: home.go_on())
"""The entry on top while a set of one's own waits."""
ENTRIES: tuple[HomeRow, ...] = (
    HomeRow("p", "Practise alone", "three bots that never keep you waiting", lambda home: home.practise()),
    HomeRow("s", "A set to take home", "the same deals for all, each playing alone", lambda home: home.take_home()),
    HomeRow("h", "Host a table", "for people on your network", lambda home: home.host_table()),
    HomeRow("j", "Join a table", "by its address and its word code", lambda home: home.join_table()),
    HomeRow("e", "Host an evening", "several tables, run from one desk", lambda home: home.host_evening()),
    HomeRow("d", "Drills", "one decision at a time, or whole heats", lambda home: home.show(DrillScreen())),
    HomeRow("t", "Real tiles", "a clock for tiles on a table, and your racks", lambda home: home.time_real_tiles()),
    HomeRow("a", "Ask about a rack", "type your tiles: what to pass, keep, discard", lambda home: home.ask()),
    HomeRow("y", "Your heats", "seconds, losses, the next clock, reviews", lambda home: home.show(HistoryScreen())),
    HomeRow("c", "Card", "what you play by; enter: look through it", lambda home: home.show(CardScreen())),
    HomeRow("o", "Look", "dark or light, plain borders, a calm clock", lambda home: home.shell.show_looks()),
    HomeRow("q", "Quit", "", lambda home: home.app.exit()),
)
_LEVELLED = ("p", "e", "t")
"""Entries that play by the chosen level."""
_HOST = "h"
"""The entry of a table for others."""
_CARD = "c"
"""The entry whose arrows choose the card."""
_CARD_CELLS = 15
_WITH_WORDS = 74
"""Columns from which each line has its words beside it; below, those of the marked line stand at the bottom."""


class HomeScreen(BaseScreen):
    """Where everything begins."""

    ABOUT = (
        "Choose what to do. The level is the time for one whole Charleston. On the line of the card, left and right "
        "choose the card that you play by; it is remembered."
    )

    def __init__(self) -> None:
        super().__init__()
        self.at, self.waiting, self.entries = 0, "", ENTRIES
        self.level = LEVELS_MS.index(Settings().level_ms)

    def compose(self) -> ComposeResult:
        """Build the list."""
        yield Painting(self._draw)
        yield Note(lambda: self.told, self._about_entry)
        yield KeyBar(self.keys)

    def _about_entry(self) -> str:
        """Return what the marked line cannot say of itself."""
        if self._at_card:
            return ABOUT_CARDS
        return "" if self.size.width >= _WITH_WORDS else self.entries[self.at].words

    def keys(self) -> Keys:
        """Return the keys of the list."""
        return (
            ("up down", "choose", ""),
            ("left right", "card" if self._at_card else "level", ""),
            ("enter", "do it", "enter"),
            ("?", "help", "?"),
        )

    def press(self, key: str) -> None:
        """Choose, or act."""
        self.told = ""
        match key:
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % len(self.entries)
            case "left" | "right" if self._at_card:
                self.choose_card(1 if key == "right" else -1)
            case "less card" | "more card":
                self.at = self._card_row
                self.choose_card(1 if key == "more card" else -1)
            case "left" | "right" | "less level" | "more level":
                self.level = (self.level + (1 if key in ("right", "more level") else -1)) % len(LEVELS_MS)
            case "enter":
                self.entries[self.at].act(self)
            case _:
                for number, entry in enumerate(self.entries):
                    if entry.key == key:
                        self.at = number
                        entry.act(self)

    def on_screen_resume(self) -> None:
        """Look again whether a set waits: one may have been left just now."""
        self.look_for_waiting()
        self.redraw()

    def look_for_waiting(self) -> None:
        """Offer the set of one's own that waits, if there is one, and name the table that waits for its host."""
        self.waiting, left = self.shell.openers.waiting(), self.shell.openers.left()
        going_on = (replace(GO_ON, words=f"{self.waiting} waits as you left it"),) if self.waiting else ()
        hosting = {_HOST: f"{left} waits for you"} if left else {}
        entries = tuple(replace(entry, words=hosting.get(entry.key, entry.words)) for entry in ENTRIES)
        self.entries = going_on + entries

    def go_on(self) -> None:
        """Go on with the set that waits."""
        self.told = "Opening ..."
        self.shell.go(AtWaiting())

    @property
    def _card_row(self) -> int:
        return next(number for number, entry in enumerate(self.entries) if entry.key == _CARD)

    @property
    def _at_card(self) -> bool:
        return self.at == self._card_row

    def choose_card(self, by: int) -> None:
        """Choose the next card, or the one before."""
        shell = self.shell
        shell.choose_card(next_card(shell.storage.card_names(), shell.card, by))

    def practise(self) -> None:
        """Choose how to play with three bots, beginning with the chosen level."""
        self.show(SoloScreen(LEVELS_MS[self.level]))

    def host_table(self) -> None:
        """Set a table for others up, beginning with the chosen level; before that offer the one that waits."""
        settings = Settings(level_ms=LEVELS_MS[self.level])
        left = self.shell.openers.left()
        self.show(GoBackScreen(left, settings) if left else HostScreen(settings))

    def join_table(self) -> None:
        """Come to a table: at first the one that was joined last."""
        self.show(JoinScreen(*self.shell.joined))

    def host_evening(self) -> None:
        """Open an evening of several tables at the chosen level, by the chosen card."""
        card = self.card_text(self.shell.card)
        desk = self.shell.openers.desk
        if card is not None and desk is not None:
            self.told = "Opening ..."
            self.shell.open_table(desk(Settings(level_ms=LEVELS_MS[self.level]), self.shell.port, card))

    def ask(self) -> None:
        """Answer questions about a typed rack, by the chosen card."""
        self.told = ""
        self.shell.go(AtAsk())

    def take_home(self, text: str = "") -> None:
        """Show the sets to take home, with a line that was pasted."""
        self.show(SetsScreen(LEVELS_MS[self.level], text))

    def paste(self, text: str) -> None:
        """A pasted line is that of a set."""
        if len(groups_of(text)) > 1:
            self.take_home(text)

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
        apart = 2 if 2 * len(self.entries) + 6 <= canvas.height else 1
        top = max(1, (canvas.height - apart * len(self.entries) - 6) // 2)
        canvas.put(left, top, "r a c k t e m p o", "mark", bold=True)
        canvas.put(left, top + 1, "three tiles, a clock, and no time to dither", "quiet")
        for number, entry in enumerate(self.entries):
            y, here = top + 4 + apart * number, number == self.at
            sign = (">" if canvas.look.ascii else "▸") if here else " "
            canvas.put(left - 2, y, sign, "mark", bold=True)
            canvas.put(left, y, entry.key, "mark", bold=True)
            x = canvas.put(left + 3, y, entry.name, bold=here)
            if canvas.width >= _WITH_WORDS:
                canvas.put(left + 28, y, entry.words, "quiet")
            value, what = write_time(LEVELS_MS[self.level]) if entry.key in _LEVELLED else "", "level"
            if entry.key == _CARD:
                value, what = fitting_name(self.shell.card, _CARD_CELLS), "card"
            canvas.zone(left, y, 3 + len(entry.name) if value else 24, 1, entry.key)
            if value:
                less, more = "<>" if canvas.look.ascii else "◂▸"
                x = canvas.put(x + 1, y, less, "mark", key=f"less {what}")
                x = canvas.put(x + 1, y, value, bold=True)
                canvas.put(x + 1, y, more, "mark", key=f"more {what}")

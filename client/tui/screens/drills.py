"""Drills: deals made to tempt you, and one's own costliest decisions again, at the chosen level."""

import asyncio

from textual import work
from textual.app import ComposeResult

from client.models.settings_form import Row
from client.storage.costliest import lay_costliest
from client.tui.ports import AtDrill
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.cards.play import shipped_text
from shared.rules.drills import TEMPTING
from shared.rules.settings import LEVELS_MS, Settings
from shared.times import write_time

KEY_BYTES = 32


class DrillScreen(BaseScreen):
    """A row for the level, then one for each drill."""

    ABOUT = (
        "A drill's tiles were laid for practice and not dealt. What comes in serves your second best hand; three of "
        "one dragon come twice; flowers come at the end; or you decide again what cost most. Drills count apart."
    )

    def __init__(self) -> None:
        super().__init__()
        self.level, self.at = LEVELS_MS.index(Settings().level_ms), 1

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Drills")
        yield Rows(self.rows, lambda: self.at, 0, 9)
        yield Note(lambda: self.told)
        yield KeyBar(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return the level and the drills."""
        return (
            Row("level", "Whole Charleston", write_time(LEVELS_MS[self.level])),
            *(Row(kind, deal.happens, deal.question, changes=False) for kind, deal in TEMPTING.items()),
            Row("costliest", "Your costliest decisions", "by the clock they had", changes=False),
        )

    def keys(self) -> Keys:
        """Return the keys of the rows."""
        return (
            ("up down", "drill", "down"),
            ("left right", "level", "right"),
            ("enter", "begin", "enter"),
            *BACK,
        )

    def press(self, key: str) -> None:
        """Choose a drill or a level, or begin."""
        self.told = ""
        word, _, number = key.partition(" ")
        if number:
            self.at = int(number)
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "up" | "down":
                self.at = 1 + (self.at - 1 + (1 if word == "down" else -1)) % (len(self.rows()) - 1)
            case "left" | "right" | "less" | "more":
                self.level = (self.level + (1 if word in ("right", "more") else -1)) % len(LEVELS_MS)
                self.at = max(1, self.at)
            case "enter" | "row" if self.at > 0:
                self.told = "Laying the tiles ..."
                self._begin(self.rows()[self.at].name)

    @work(exclusive=True, group="drill")
    async def _begin(self, name: str) -> None:
        shell = self.shell
        try:
            if name in TEMPTING:
                settings, card = Settings(level_ms=LEVELS_MS[self.level]), shipped_text()
                laid = await shell.coaching.lay(card, name, settings, shell.random_bytes(KEY_BYTES))
                shell.go(AtDrill((laid,), card))
            else:
                read = await asyncio.to_thread(shell.journal.read)
                found = await asyncio.to_thread(lay_costliest, read, shell.journal.whole)
                if isinstance(found, str):
                    self.told = found
                else:
                    shell.go(AtDrill(*found))
        except ValueError as error:
            self.told = str(error)
        self.redraw()

"""Whole heats as drills: deals made to tempt you, at the chosen level and by the chosen card; one's own costliest
decisions played on with bots."""

import asyncio

from textual import work
from textual.app import ComposeResult

from client.models.settings_form import Row
from client.setup import ABOUT_CARDS, fitting_name, next_card
from client.storage.costliest import lay_costliest
from client.tui.ports import AtDrill
from client.tui.screens.base import BaseScreen
from client.tui.screens.deal_sheet import DealSheetScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.rules.drills import TEMPTING
from shared.rules.laid_out import of_drill, of_seed
from shared.rules.settings import LEVELS_MS, Settings
from shared.rules.wall import seeded_secret
from shared.times import write_time

KEY_BYTES = 32
_SEEDS = 1_000_000
_CARD, _FIRST = 1, 2
"""The row of the card, and that of the first drill."""


class WholeHeatsScreen(BaseScreen):
    """Rows for the level and the card, then one for each drill."""

    ABOUT = (
        "A drill's tiles were laid for practice and not dealt. What comes in serves your second best hand; three of "
        "one dragon come twice; flowers come at the end; or you decide again what cost most. Drills count apart."
    )

    def __init__(self) -> None:
        super().__init__()
        self.level, self.at = LEVELS_MS.index(Settings().level_ms), _FIRST

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Drills: whole heats")
        yield Rows(self.rows, lambda: self.at, 0, 9)
        yield Note(lambda: self.told, lambda: ABOUT_CARDS if self.at == _CARD else "")
        yield KeyBar(self.keys)

    def rows(self) -> tuple[Row, ...]:
        """Return the level, the card and the drills."""
        return (
            Row("level", "Whole Charleston", write_time(LEVELS_MS[self.level])),
            Row("card", "Card", fitting_name(self.shell.card, 40)),
            *(Row(kind, deal.happens, deal.question, changes=False) for kind, deal in TEMPTING.items()),
            Row("real", "A deal for real tiles", "which to take, which to lay", changes=False),
            Row("costliest", "Your costliest decisions", "by clock and card they had", changes=False),
        )

    def keys(self) -> Keys:
        """Return the keys of the rows."""
        return (
            ("up down", "choose", "down"),
            ("left right", "card" if self.at == _CARD else "level", "right"),
            ("enter", "begin", "enter"),
            *((("t", "lay out", "t"),) if self.rows()[self.at].name in TEMPTING else ()),
            *BACK,
        )

    def press(self, key: str) -> None:
        """Choose a drill or a level, or begin."""
        self.told = ""
        word, _, number = key.partition(" ")
        if number:
            self.at = max(_CARD, int(number))
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "up" | "down":
                self.at = _CARD + (self.at - _CARD + (1 if word == "down" else -1)) % (len(self.rows()) - _CARD)
            case "left" | "right" | "less" | "more":
                self._change(1 if word in ("right", "more") else -1, int(number) if number else self.at)
            case "enter" if self.at == _CARD:
                self._change(1, _CARD)
            case "enter" | "row" if self.at >= _FIRST and number != "0":
                self.told = "Laying the tiles ..."
                self._begin(self.rows()[self.at].name)
            case "t" if self.rows()[self.at].name in TEMPTING:
                self.told = "Laying the tiles ..."
                self._begin(self.rows()[self.at].name, on_paper=True)

    def _change(self, by: int, row: int) -> None:
        """Change the card on its own row, else the level."""
        shell = self.shell
        if row == _CARD:
            shell.choose_card(next_card(shell.storage.card_names(), shell.card, by))
        else:
            self.level = (self.level + by) % len(LEVELS_MS)

    @work(exclusive=True, group="drill")
    async def _begin(self, name: str, on_paper: bool = False) -> None:
        shell = self.shell
        seed = int.from_bytes(shell.random_bytes(4)) % _SEEDS
        try:
            if name == "real":
                self.told = ""
                self.app.push_screen(DealSheetScreen(of_seed(seed), f"racktempo deal --real --seed {seed}"))
            elif on_paper and name in TEMPTING:
                await self._lay_out(name, seed)
            elif name in TEMPTING:
                settings, card = Settings(level_ms=LEVELS_MS[self.level]), self.card_text(shell.card)
                if card is None:
                    return
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

    async def _lay_out(self, kind: str, seed: int) -> None:
        """Show a tempting deal for tiles on a table."""
        card = self.card_text(self.shell.card)
        if card is not None:
            laid = await self.shell.coaching.lay(card, kind, Settings(), seeded_secret(seed, 1))
            self.told = ""
            paper = f"racktempo deal {kind} --real --seed {seed}"
            self.app.push_screen(DealSheetScreen(of_drill(laid, f"deal {seed}"), paper))

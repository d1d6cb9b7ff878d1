"""The tiles of heats with real tiles, typed between heats or afterwards; what is there goes to the coach.

Every change is on the disk at once, and nothing is sent to anybody. Counts no time: the clock beneath runs on.
"""

import asyncio
from collections.abc import Callable, Sequence

from textual import work
from textual.app import ComposeResult

from client.models.real_racks import ClockedHeat, RacksModel, TypedHeat, last_question, with_racks
from client.tui.ports import AtAsk
from client.tui.screens.base import BaseScreen
from client.tui.screens.review import ReviewScreen
from client.tui.widgets.canvas import Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.real_racks import draw_racks
from shared.cards.owned import told_card
from shared.rules.seat_heat import SeatHeat
from shared.rules.tiles import by_suit
from shared.rules.typed_tiles import compact


class RacksScreen(BaseScreen):
    """heats are those that can be typed, the coming one last; keeps says whether whole ones go into the history;
    may_stay says whether there is still time: when a heat begins, the clock comes back."""

    ABOUT = (
        "The tiles that lay before you, as far as you know them: 13 or 14 that were dealt, and at each pass what went "
        "and what came. Type them as in 1123b 567c 9d NE FF J; enter goes on, also past an empty line; - stands for no "
        "tile. The deal alone gives the first pass; with every pass the whole heat is reviewed and kept. A second "
        "Charleston that was stopped counts as your choice, and so do the tiles of the courtesy. Nobody else sees it."
    )

    def __init__(
        self, heats: Sequence[ClockedHeat], card: str, year: int, keeps: bool, may_stay: Callable[[], bool]
    ) -> None:
        super().__init__()
        self.model = RacksModel(heats, year)
        self._card, self._keeps, self._may_stay = card, keeps, may_stay
        self._is_ready = False
        self._early: list[str] = []
        self._unkept: dict[str, ClockedHeat] = {}

    def compose(self) -> ComposeResult:
        """Build the title, the lines with the rack, and the keys."""
        yield Title("Real tiles: your rack")
        yield Painting(lambda canvas: draw_racks(canvas, self.model) if self._is_ready else None)
        yield Note(lambda: self.told or self.model.fault)
        yield KeyBar(self.keys)

    @property
    def typing(self) -> bool:
        """Characters are always tiles."""
        return True

    def on_mount(self) -> None:
        """Look up what was typed before."""
        self._load()

    @work(exclusive=True, group="racks")
    async def _load(self) -> None:
        kept = await asyncio.to_thread(self.shell.journal.racks)
        keys = {heat.key for heat in self.model.heats}
        self.model.begin({key: lines for key, lines in kept.items() if key in keys})
        self._is_ready = True
        for key in self._early:
            self.do(key)
        self.redraw()

    def tick(self) -> None:
        """Make room for the clock when a heat begins."""
        if not self._may_stay():
            self.app.pop_screen()

    def keys(self) -> Keys:
        """Return the keys that matter now."""
        other: Keys = (("left right", "heat", ""),) if len(self.model.heats) > 1 else ()
        coach: Keys = (("F2", "coach", "f2"),) if self._asks() else ()
        return (("enter", "next line", "enter"), ("up", "before", "up"), *other, *coach, ("F1", "help", "f1"), *_OUT)

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("1 to 9, b c d, N E W S, R G O, F, J", "tiles; soap and white are O", ""),
            ("-", "no tile went, or came", ""),
            ("enter", "the next line; on the last one the next heat, then the clock", "enter"),
            ("up down", "the line before, the next one", ""),
            ("left right", "another heat", ""),
            ("backspace", "erase the last one", "backspace"),
            ("F2", "the coach, on what is there", "f2"),
            ("esc", "back to the clock; what you typed stays", "escape"),
        )

    def paste(self, text: str) -> None:
        """Pasted text is typed text."""
        for character in text:
            self.press("space" if character.isspace() else character)

    def press(self, key: str) -> None:
        """Hand the key to the model, keep what it changed, and do what it means."""
        self.told = ""
        if not self._is_ready:
            self._early.append(key)
            return
        does = self._change(lambda: self.model.press(key))
        if does == "back":
            self.app.pop_screen()
        elif does == "coach":
            self._ask()

    def _change(self, act: "Callable[[], str | None]") -> str | None:
        heat = self.model.heat
        before = dict(self.model.lines)
        does = act()
        if self.model.typed.get(heat.key, {}) != before:
            self._forget(heat)
            if not self._unkept:
                self.shell.keep(self._keep())
            self._unkept[heat.key] = heat
        return does

    def _forget(self, heat: ClockedHeat) -> None:
        if heat.times:
            for seat in range(4):
                self.shell.coaching.forget(heat.times.model_copy(update={"seat": seat}))

    async def _keep(self) -> None:
        """Keep what has changed, until nothing has; what was typed meanwhile is kept with the next write."""
        while self._unkept:
            key, heat = next(iter(self._unkept.items()))
            lines, read = dict(self.model.typed[key]), self.model.read_of(heat)
            trouble = await asyncio.to_thread(self.shell.journal.keep_racks, key, lines)
            if self._keeps and not trouble and read.is_whole:
                trouble = await asyncio.to_thread(self.shell.journal.add_tiles, self._played(heat, read))
            if trouble:
                self.told = trouble
            if trouble or lines == self.model.typed[key]:
                del self._unkept[key]
        if self.is_attached:
            self.redraw()

    def _played(self, heat: ClockedHeat, read: TypedHeat) -> SeatHeat:
        assert heat.times
        return with_racks(heat.times, read, told_card(self._card))

    def _asks(self) -> bool:
        read = self.model.read
        return not read.faults and bool(read.dealt or read.final)

    def _ask(self) -> None:
        """Show what the coach says of what is there: a review, or the answer about a rack."""
        read, heat = self.model.read, self.model.heat
        if read.faults:
            return
        if read.passes:
            played = self._played(heat, read)
            self.shell.coaching.look_at(played, is_own=self._keeps and read.is_whole)
            self.app.push_screen(ReviewScreen((played,)))
        elif read.dealt:
            self.shell.go(AtAsk(rack=compact(by_suit(read.dealt)), jokers=heat.settings.jokers))
        elif read.final:
            asked = last_question(read.final)
            self.shell.go(AtAsk(rack=compact(by_suit(read.final)), question=asked, jokers=heat.settings.jokers))
        else:
            self.told = "Type the tiles that were dealt, or the final rack."


_OUT: Keys = (("esc", "back", "escape"),)

"""Results of a set side by side: the times at once, then what the coach finds, heat by heat; leaving stops it."""

import asyncio
from collections.abc import Callable
from contextlib import aclosing
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.coach.comparing import Comparing, Sight
from client.reports.set_compare import compared_lines
from client.storage.sets import Results
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.paper import Line, Paper

if TYPE_CHECKING:
    from client.reports.set_compare import Compared

_APART_S = 3.0
"""Seconds between two rounds of writing everything anew: with hundreds of results one round takes seconds."""


class CompareScreen(BaseScreen):
    """Standings, what the machines say, and every rack that several people had."""

    ABOUT = (
        "Standings as on an evening, then what each passed from the same rack. Seconds are those of the players' own "
        "machines. What the coach has found is kept: leave, and go on later. p writes a page to print and a table. A "
        "result that came as a line is pasted here."
    )

    def __init__(self, results: Results, read: Callable[[], Results], folder: Path) -> None:
        super().__init__()
        self.results, self.read, self.folder = results, read, folder
        self.now = Comparing()
        self.shown: Compared | None = None
        self.lines: list[Line] = []
        self.paper = Paper(lambda width: self.lines)

    def compose(self) -> ComposeResult:
        """Build the text, a line about how far the coach is, and the keys."""
        yield Title(lambda: self.shown.heading if self.shown else "Results")
        yield self.paper
        yield Note(lambda: self.told or self._progress())
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Begin to look."""
        self._look()

    @work(exclusive=True, group="compare")
    async def _look(self) -> None:
        from client.hosting.take_home import looked_at

        sight, next_s = await asyncio.to_thread(Sight.here, self.results), 0.0
        try:
            async with aclosing(looked_at(self.results)) as growing:
                async for self.now in growing:
                    if self.now.done == self.now.every or monotonic() >= next_s:
                        self.shown = sight.shown(self.now)
                        self.lines = await asyncio.to_thread(_lines, self.shown)
                        next_s = monotonic() + _APART_S
                    self.redraw()
        except ValueError as error:
            self.told = str(error)
            self.redraw()

    def keys(self) -> Keys:
        """Scrolling where there is more than fits, the page, and the way back."""
        more: Keys = (("up down", "scroll", ""), ("space", "next page", "space")) if self.paper.scrolls else ()
        return (*more, ("p", "write a page", "p"), ("?", "help", "?"), ("q", "back", "q"))

    def press(self, key: str) -> None:
        """Scroll, write, or go back."""
        self.told = ""
        match key:
            case "q" | "escape":
                self.app.pop_screen()
            case "p":
                self._keep()
            case _:
                self.paper.turn("pagedown" if key == "space" else key)

    @work(exclusive=True, group="keep")
    async def _keep(self) -> None:
        from client.hosting.take_home import keep_compared

        await self.tell_of(lambda: keep_compared(self.shown) if self.shown else "", "Writing ...")

    def paste(self, text: str) -> None:
        """Take in a result that came as a line, and begin anew with it."""
        self._take_in(text)

    @work(exclusive=True, group="keep")
    async def _take_in(self, text: str) -> None:
        from client.hosting.take_home import take_in

        def act() -> str:
            told = take_in(text, self.folder)[1]
            self.results = self.read()
            return told

        before = self.results
        await self.tell_of(act, "Reading ...")
        if self.results is not before:
            self._look()

    def _progress(self) -> str:
        now = self.now
        return f"The coach has looked at {now.done} of {now.every} heats ..." if now.done < now.every else ""


def _lines(shown: "Compared") -> list[Line]:
    return [_line(text) for text in list(compared_lines(shown))[1:]]


def _line(text: str) -> Line:
    return Line("", text) if text.startswith(" ") or not text else Line(text)

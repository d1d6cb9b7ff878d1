"""A deal to lay out with real tiles, on the screen: first the rack to take, and on a key the threes that come in."""

import asyncio

from textual import work
from textual.app import ComposeResult

from client.reports.deal_sheet import coming_lines, rack_lines, sheets
from client.reports.evening_files import near_home
from client.storage.files import data_folder, file_stem, write_whole
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from shared.rules.laid_out import LaidOut
from shared.troubles import describe_error

_APART = 44


class DealSheetScreen(BaseScreen):
    """One deal; paper is the command that prints it."""

    ABOUT = (
        "A deal that is fixed beforehand, for tiles on a table. Take the tiles on the left. Let somebody else lay the "
        "threes face down in their order; the first row comes in at the first pass, and what you pass goes back to the "
        "box. The same number gives the same deal, so two people with a set each can play it."
    )

    def __init__(self, laid: LaidOut, paper: str) -> None:
        super().__init__()
        self.laid, self.paper = laid, paper
        self.is_open = False

    def compose(self) -> ComposeResult:
        """Build the title, the deal and the keys."""
        yield Title(f"Real tiles: {self.laid.name}")
        yield Painting(self._draw)
        yield Note(lambda: self.told, lambda: f"On paper: {self.paper}")
        yield KeyBar(self.keys)

    def _draw(self, canvas: Canvas) -> None:
        left = 2 if canvas.width < 100 else 10
        for y, line in enumerate(rack_lines(self.laid.rack), 1):
            canvas.put(left, y, line)
        closed = ("The threes that come in are hidden.", "", "space shows them.")
        roomy = canvas.width >= _APART + 34
        x, top = (left + _APART - 2, 1) if roomy else (left, 12)
        for y, line in enumerate(coming_lines(self.laid) if self.is_open else closed, top):
            canvas.put(x, y, line, "text" if self.is_open else "quiet")

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        shows = "hide the threes" if self.is_open else "show the threes"
        return (("space", shows, "space"), ("s", "save as a text file", "s"), *BACK)

    def press(self, key: str) -> None:
        """Show or hide what comes in, save the sheet, or go back."""
        self.told = ""
        if key == "space":
            self.is_open = not self.is_open
        elif key == "s":
            self._save()
        elif key in ("q", "escape"):
            self.app.pop_screen()

    @work(exclusive=True, group="save")
    async def _save(self) -> None:
        path = data_folder() / "deals" / f"{file_stem(self.laid.name)}.txt"
        try:
            await asyncio.to_thread(write_whole, path, sheets(self.laid).encode())
            self.told = f"Written to {near_home(path)}, one page to print."
        except OSError as error:
            self.told = f"It cannot be written: {describe_error(error)}."
        self.redraw()

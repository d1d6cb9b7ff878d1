"""Ask about this rack: tiles are typed in, and the coach answers one question at a time. Needs no table.

The answer comes by itself once 13 or 14 tiles are there; whatever is typed or chosen next asks anew.
"""

import asyncio
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.models.ask import Asked, AskModel
from client.models.real_racks import last_rack
from client.tui.ports import AtAsk
from client.tui.screens.base import BaseScreen
from client.tui.screens.filling import FillScreen
from client.tui.widgets.ask import draw_ask
from client.tui.widgets.canvas import Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.paper import Line, Paper

if TYPE_CHECKING:
    from shared.coach.asking import Answer
    from shared.coach.passes import Position
    from shared.coach.reading import Reading

_TOP = 20
_PAUSE_S = 0.15


class AskScreen(BaseScreen):
    """The tiles on one's own rack, and what to do with them, by the card chosen last."""

    ABOUT = (
        "Type the tiles that lie before you, as in 1123b 567c 9d NE FF J: 13, or 14 for the dealer. Choose a question; "
        "the answer comes by itself. What you passed before may be typed too: it cannot come back as easily."
    )

    def __init__(self, year: int, card: str, start: AtAsk) -> None:
        super().__init__()
        self.model, self._card = AskModel(year, start.rack, question=start.question, jokers=start.jokers), card
        self._wanted: Asked | None = None
        self._at_clock = ""

    def on_mount(self) -> None:
        """Answer what is asked already; look up what was typed at the clock."""
        self._ask()
        self._look_up()

    @work(group="clock")
    async def _look_up(self) -> None:
        self._at_clock = last_rack(await asyncio.to_thread(self.shell.journal.racks))
        self.redraw()

    def _offers(self) -> str:
        is_offered = self._at_clock and not self.model.text
        return f"F4: the rack typed last at the clock, {self._at_clock}" if is_offered else ""

    def compose(self) -> ComposeResult:
        """Build the title, the rack with its questions and the answer, and the keys."""
        yield Title("Ask about a rack")
        yield Painting(lambda canvas: draw_ask(canvas, self.model, self._wanted is not None))
        yield Note(lambda: self.told or self.model.fault, self._offers)
        yield KeyBar(self.keys)

    @property
    def typing(self) -> bool:
        """Characters are always tiles."""
        return True

    def keys(self) -> Keys:
        """Return the keys that matter now."""
        step: Keys = (("left right", "step", ""),) if self.model.question in ("pass", "blind") else ()
        more: Keys = (("F2", "all of it", "f2"),) if self.model.answer else ()
        if more and self.model.question == "fill":
            more = (("F3", "play it on", "f3"),)
        return (
            ("up down", "question", ""),
            *step,
            ("tab", "tiles" if self.model.is_before else "passed before", "tab"),
            *more,
            ("F1", "help", "f1"),
            ("esc", "back", "escape"),
        )

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("1 to 9, b c d, N E W S, R G O, F, J", "tiles; soap and white are O", ""),
            ("backspace", "erase the last one", "backspace"),
            ("up down", "another question", ""),
            ("left right", "at another pass", ""),
            ("tab", "what you passed before, or the rack again", "tab"),
            ("F2", "every hand and every pass", "f2"),
            ("F3", "does it fill: play it on, one draw at a time", "f3"),
            ("F4", "the rack that was typed last at the clock for real tiles", "f4"),
            ("esc", "back", "escape"),
        )

    def paste(self, text: str) -> None:
        """Pasted text is typed text."""
        self.model.type(text)
        self._ask()

    def press(self, key: str) -> None:
        """Hand the key to the model, and ask what it changed."""
        self.told = ""
        if key == "f4" and self._at_clock:
            self.model.text = ""
            self.model.type(self._at_clock)
        does = self.model.press(key)
        if does == "back":
            self.app.pop_screen()
        elif does == "play" and self.model.answer:
            self.app.push_screen(FillScreen(self.model.rack.tiles, partial(_known, self._card, self.model.answer)))
        elif does == "more" and self.model.answer:
            self.app.push_screen(ReadingScreen(self.model.answer.reading))
        else:
            self._ask()

    def _ask(self) -> None:
        """Ask the coach what is on the screen now, unless it was asked that already."""
        asked, model = self.model.asked(), self.model
        if asked == (self._wanted or model.answered):
            return
        model.answer = model.answered = None
        if asked is not None and self._wanted is None:
            self._answer()
        self._wanted = asked

    @work
    async def _answer(self) -> None:
        """Answer what is wanted; a question that came meanwhile comes next: to stop one would cost the coach more."""
        await asyncio.sleep(_PAUSE_S)  # whoever types goes on typing
        while (asked := self._wanted) is not None:
            try:
                found = await self.shell.coaching.answer(self._card, asked)
            except ValueError as error:
                found, self.told = None, str(error)
            if asked == self._wanted:
                self.model.answer, self.model.answered, self._wanted = found, asked, None
        self.redraw()


async def _known(card: str, answer: "Answer") -> "tuple[str, Position]":
    return card, answer.reading.position


class ReadingScreen(BaseScreen):
    """Every hand and every pass, with points."""

    ABOUT = "All that the coach says of the rack: hands, the worth of each tile, and every answer in points."

    def __init__(self, reading: "Reading") -> None:
        super().__init__()
        self.paper = Paper(lambda width: self._lines)
        self._reading = reading
        self._lines: tuple[Line, ...] = ()

    def compose(self) -> ComposeResult:
        """Build a title, the lines and the keys."""
        from client.reports.rack import reading_lines  # the coach's modules are there by now

        self._lines = tuple(Line("", line) for line in reading_lines(self._reading, _TOP))
        yield Title("All of it")
        yield self.paper
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Scrolling, and the way back."""
        return (("up down", "scroll", ""), ("space", "next page", "space"), ("?", "help", "?"), ("q", "back", "q"))

    def press(self, key: str) -> None:
        """Scroll, or go back."""
        if key in ("q", "escape", "enter"):
            self.app.pop_screen()
        else:
            self.paper.turn("pagedown" if key == "space" else key)

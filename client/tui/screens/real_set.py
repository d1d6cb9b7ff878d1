"""The review of a set with real tiles: every heat that is over, with as much as its typed tiles allow.

Reads what was typed, asks the coach, and computes nothing itself.
"""

import asyncio
from collections.abc import Mapping, Sequence

from textual import work
from textual.app import ComposeResult

from client.models.ask import Asked
from client.models.real_racks import ClockedHeat, last_question, read_heat, with_racks
from client.text import some
from client.tui.ports import AtAsk, AtRacks
from client.tui.screens.base import BaseScreen
from client.tui.screens.review import ReviewScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.real_set import SeenHeat, draw_set
from shared.cards import Card
from shared.cards.owned import told_card
from shared.rules.decisions import Question
from shared.rules.steps import PASSES
from shared.rules.tiles import by_suit
from shared.rules.typed_tiles import compact
from shared.times import write_time


class RealSetScreen(BaseScreen):
    """heats are those of the set that are over; keeps says whether they are in the history."""

    ABOUT = (
        "The heats of the set: the time against the level, and from the tiles that you typed the balance of points, "
        "what cost most, and the hand that the last known rack is nearest to. Enter leads to a heat's whole review."
    )

    def __init__(self, heats: Sequence[ClockedHeat], text: str, card: Card, keeps: bool) -> None:
        super().__init__()
        self._heats, self._text, self._card, self._keeps = tuple(heats), text, card, keeps
        self.seen: list[SeenHeat] = []
        self.at = 0

    def compose(self) -> ComposeResult:
        """Build the title, the heats and the keys."""
        yield Title(self._title)
        yield Painting(self._draw)
        yield Note(lambda: self.told or self._words())
        yield KeyBar(self.keys)

    def on_screen_resume(self) -> None:
        """Look up what is typed, and ask the coach what is new; also after tiles were typed on the way."""
        self._look_up()

    @work(exclusive=True, group="set")
    async def _look_up(self) -> None:
        typed = await asyncio.to_thread(self.shell.journal.racks)
        self.seen = [self._seen(heat, typed.get(heat.key, {})) for heat in self._heats]
        self.redraw()
        for one in self.seen:
            if one.rack and one.looking is None and not one.read.faults:
                await self._answer(one)

    def _seen(self, heat: ClockedHeat, lines: Mapping[str, str]) -> SeenHeat:
        assert heat.times
        read = read_heat(heat, lines, self._card.year)
        own = with_racks(heat.times, read, told_card(self._text)) if read.dealt else heat.times
        one = SeenHeat(heat, read, own)
        if read.passes and not read.faults:
            one.looking = self.shell.coaching.look_at(own, is_own=self._keeps and read.is_whole)
            self.shell.coaching.go_on(one.looking)
        return one

    async def _answer(self, one: SeenHeat) -> None:
        dealt, final = one.read.dealt, one.read.final
        jokers = one.heat.settings.jokers
        asked = (
            Asked("pass", dealt, PASSES[0], (), jokers)
            if dealt
            else Asked(last_question(final), final, None, (), jokers)
        )
        try:
            one.answer = await self.shell.coaching.answer(self._text, asked)
        except ValueError as error:
            one.trouble = str(error)
        self.redraw()

    def _title(self) -> str:
        times = [heat.times for heat in self._heats if heat.times]
        spent_ms = sum(step.spent_ms for each in times for step in each.steps if step.step != "plan")
        return f"Real tiles: the set   {some(len(times), 'heat')}, {write_time(spent_ms // 1000 * 1000)} in all"

    def _words(self) -> str:
        running = [one.looking for one in self.seen if one.looking and one.looking.running]
        return f"Looking ... {sum(one.done for one in running) / len(running):.0%}" if running else ""

    def _draw(self, canvas: Canvas) -> None:
        if self.seen:
            draw_set(canvas, self.seen, self.at, self._card)

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        return (("up down", "heat", "down"), ("enter", "its review", "enter"), ("t", "its tiles", "t"), *BACK)

    def press(self, key: str) -> None:
        """Choose a heat, or look at it more closely."""
        self.told = ""
        match key:
            case "q" | "escape":
                self.app.pop_screen()
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % len(self._heats)
            case "t":
                self.shell.go(AtRacks((self._heats[self.at],), self._keeps))
            case "enter" if self.seen:
                self._review(self.seen[self.at])
            case _ if key.startswith("heat "):
                self.at = int(key.removeprefix("heat "))

    def _review(self, one: SeenHeat) -> None:
        if one.looking is not None:
            self.app.push_screen(ReviewScreen((one.own,)))
        elif one.rack:
            question: Question = "pass" if one.read.dealt else last_question(one.rack)
            self.shell.go(AtAsk(rack=compact(by_suit(one.rack)), question=question, jokers=one.heat.settings.jokers))
        else:
            self.shell.go(AtRacks((one.heat,), self._keeps))

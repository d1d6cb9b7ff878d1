"""A heat looked at again: at a glance, step by step with left and right, and where it ended.

Usable while it fills in. The answer to a step is kept back for a second try, if the player wants that.
"""

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.coach.queue import Looking
from client.models.rack import PLACES
from client.models.review import costliest_step, first_page
from client.storage.card_files import text_for
from client.target import Named
from client.tui.ports import AtDrill, Choice
from client.tui.screens.base import BaseScreen
from client.tui.screens.cards import CardScreen
from client.tui.screens.filling import FillScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.review import draw_end, draw_glance, draw_question, draw_step
from shared.cards.owned import copy_wanted
from shared.names import BOTH_CELLS, clean_name
from shared.rules.drills import Laid, replay_from
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.tiles import Rack, by_suit

if TYPE_CHECKING:
    from shared.coach.review import Compared, StepReview


class ReviewScreen(BaseScreen):
    """heats are those of one deal: the player's own first, then the other seats' where the racks were opened."""

    ABOUT = (
        "Where your seconds went and where your points went, then every step. A step sorts your rack: tiles for the "
        "likeliest hand, tiles for another hand within reach, and idle ones. Below stand the reasons, that hand before "
        "and after (a dot is a tile that you lack, a small ring one between ranks that you hold), and the leading "
        "passes with what they keep. Points are chances in a hundred to win; 'too close' means that chance alone could "
        "make the difference. Luck is what you did not decide."
    )

    def __init__(self, heats: Sequence[SeatHeat], named: Sequence[Named] = (), at: int = 0) -> None:
        super().__init__()
        self.heats, self.named, self.at = tuple(heats), tuple(named), at
        self.page = 0
        self.part = 0
        self._begun: list[Looking] = []
        self.lifted: tuple[int, ...] = ()
        self.tried: dict[tuple[int, int], Compared] = {}
        self._answered: set[tuple[int, int]] = set()

    def compose(self) -> ComposeResult:
        """Build a title, the page, a line of words and the keys."""
        yield Title(self._title)
        yield Painting(self._draw)
        yield Note(self._words)
        yield KeyBar(self.keys)

    # ---- what is shown

    def looking(self) -> Looking:
        """Return the review of the seat in hand; it begins when it is first asked for."""
        heat, coaching = self.heats[self.at], self.shell.coaching
        is_new = coaching.known(heat) is None
        looking = coaching.look_at(heat, is_own=self.at == 0)
        if is_new:
            self._begun.append(looking)
        return looking

    def on_mount(self) -> None:
        """Go on with a review that was stopped."""
        self.shell.coaching.go_on(self.looking())

    def on_unmount(self) -> None:
        """Stop what this screen has begun and nobody else waits for."""
        for looking in self._begun:
            self.shell.coaching.stop(looking)

    def steps(self) -> int:
        """Return how many steps there are pages for."""
        review = self.looking().review
        return len(review.steps) if review else 0

    def place(self) -> tuple[int, int]:
        """Return which seat and which page is in hand."""
        return self.at, self.page

    def hides(self) -> bool:
        """Say whether the answer to this step is kept back for a second try: only where there is a better pass."""
        step = self._step()
        if step is None or step.verdict is None or self.at or not self.shell.look.second_try:
            return False
        verdict = step.verdict
        asks = verdict.is_own and not verdict.too_close and bool(verdict.own.place) and not verdict.own.says
        return asks and self.place() not in self._answered

    def _step(self) -> "StepReview | None":
        review = self.looking().review
        return review.steps[self.page - 1] if review and 0 < self.page <= len(review.steps) else None

    def pages(self) -> int:
        """Return how many pages there are: at a glance, the steps, and the end, if the last rack is known."""
        return self.steps() + 1 + bool(self.heats[self.at].final)

    def _is_last(self) -> bool:
        return bool(self.steps()) and self.page > self.steps()

    def _title(self) -> str:
        heat, step = self.heats[self.at], self._step()
        name = clean_name(heat.names[heat.seat], cells=BOTH_CELLS) or "a player"
        who = f"{'you' if self.at == 0 else name}, {Seat(heat.seat).word}"
        what = step.lived.step.step if step else "at a glance" if not self.page else "the end"
        pages = f"page {self.page + 1} of {self.pages()}" if self.steps() else ""
        return f"Review: heat {heat.number}, {who}   {what}   {pages}"

    def _words(self) -> str:
        looking = self.looking()
        if self.told:
            return self.told
        if looking.running:
            return f"Looking ... {looking.done:.0%}. You can read on meanwhile."
        return looking.said

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        looking = self.looking()
        turn: Keys = (("left right", "page", "right"),)
        if self.hides():
            return (*turn, ("a-n", "lift", ""), ("enter", "try", "enter"), ("s", "answer", "s"), *BACK)
        seats: Keys = (("up down", "seat", "down"),) if len(self.heats) > 1 else ()
        more: Keys = (("space", "more", "space"),) if self.parts() > 1 else ()
        stop: Keys = (("x", "stop" if looking.running else "go on", "x"),) if looking.done < 1 else ()
        again: Keys = (("g", "again", "g"),) if self._choice() else ()
        last: Keys = (("f", "does it fill?", "f"),) if self._is_last() else (("v", "card", "v"),)
        return (*turn, *(more or seats), *(stop or again), *last, *BACK)

    def help_keys(self) -> Keys:
        """Return every key of a review."""
        return (
            ("left right", "the page before, the next one", ""),
            ("up down", "another seat, if the racks were opened", ""),
            ("a to n, enter", "a second try at a step: other tiles", ""),
            ("s", "show the answer", "s"),
            ("v", "the cards: what a hand is that is named here", "v"),
            ("f", "on the last page: play the rack on; does it fill?", "f"),
            ("space", "the next part of a page that is longer than the screen", ""),
            ("g", "this choice again, against its clock; on the first and last page the costliest one", "g"),
            ("r", "away from a table: the rest of the heat again, from this step on", "r"),
            ("x", "stop looking, or go on with it", "x"),
            ("o", "look; ask for a second try or not", "o"),
            ("q", "back", "q"),
        )

    # ---- what is pressed

    def press(self, key: str) -> None:
        """Turn pages, choose a seat, try again."""
        self.told = ""
        word, _, number = key.partition(" ")
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "left" | "right":
                self._turn(self.page + (1 if key == "right" else -1))
            case "page" if number:
                self._turn(int(number))
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % len(self.heats)
                self._turn(self.page)
            case "x":
                looking = self.looking()
                (self.shell.coaching.stop if looking.running else self.shell.coaching.go_on)(looking)
            case "o":
                self.shell.show_looks()
            case "v":
                self.app.push_screen(CardScreen())
            case "s" if self.hides():
                self._answered.add(self.place())
            case "space":
                self.part = (self.part + 1) % self.parts()
            case "r" if self._may_replay():
                self._replay()
            case "g" | "r":
                self._again()
            case "f" if self._is_last():
                heat = self.heats[self.at]
                self.app.push_screen(FillScreen(heat.final, partial(self.shell.coaching.after, heat)))
            case "enter" if self.hides():
                self._try()
            case _ if key in PLACES and self.hides():
                self._lift(PLACES.index(key))

    def _turn(self, page: int) -> None:
        self.page, self.lifted, self.part = page % self.pages() if self.steps() else 0, (), 0

    def _lift(self, place: int) -> None:
        step = self._step()
        if step is None or place >= len(step.lived.rack):
            return
        if place in self.lifted:
            self.lifted = tuple(other for other in self.lifted if other != place)
        elif by_suit(step.lived.rack)[place] == "J":
            self.told = "A joker is never passed."
        elif len(self.lifted) < 3:
            self.lifted = (*self.lifted, place)

    def _try(self) -> None:
        step = self._step()
        position = step.lived.position if step else None
        if step is None or position is None or step.verdict is None:
            return
        rack = by_suit(step.lived.rack)
        tiles = by_suit(tuple(rack[place] for place in self.lifted))
        unseen = 3 - len(tiles) if position.blind else 0
        if len(tiles) not in position.gives:
            self.told = f"Lift {' or '.join(map(str, sorted(position.gives)))} tiles."
        elif (tiles, unseen) == (by_suit(step.verdict.own.ranked.tiles), step.verdict.own.ranked.blind):
            self.told = "That is what you gave; there was a better one."
        else:
            self.told = "Looking ..."
            self._compare(self.place(), step, tiles, unseen)

    @work(exclusive=True, group="try")
    async def _compare(self, place: tuple[int, int], step: "StepReview", tiles: Rack, unseen: int) -> None:
        from shared.coach.review import seed_of

        heat = self.heats[place[0]]
        assert step.lived.position is not None
        try:
            card = await asyncio.to_thread(text_for, heat)
            compared = await self.shell.coaching.compare(card, step.lived.position, tiles, unseen, seed_of(heat))
        except ValueError as error:
            self.told = str(error)
        else:
            self.told = ""
            self.tried[place] = compared
            self._answered.add(place)
        self.redraw()

    def _choice(self) -> Choice | None:
        """Return the decision that g deals again: that of the step in hand, on the other pages the costliest."""
        review, step = self.looking().review, self._step()
        if self.at or review is None or self.hides():
            return None
        if step is None:
            step = costliest_step(review, first_page(self.heats[0], review, (), False))
        if step is None or step.lived.step.step == "plan":
            return None
        return Choice(self.heats[0], step.lived.step.step, step.verdict.loss if step.verdict else None)

    def _again(self) -> None:
        choice = self._choice()
        if choice:
            self.shell.decide_again((choice,))
        elif self.at:
            self.told = "Only a choice of your own can be made again."
        elif not self.hides():
            self.told = "There is nothing to choose again here."

    def _may_replay(self) -> bool:
        """Say whether the step in hand can be played again: one's own, from a screen away from any table."""
        step = self._step()
        away = not self.shell.is_at_table and self.shell.openers.drill is not None
        return away and self.at == 0 and step is not None and not self.hides()

    @work(exclusive=True, group="replay")
    async def _replay(self) -> None:
        """Play this deal again from the step in hand, against the clock that it had."""
        heat, step = self.heats[0], self._step()
        whole = await asyncio.to_thread(self.shell.journal.whole, heat)
        card = await asyncio.to_thread(text_for, heat)
        if whole is None or step is None:
            self.told = "The other racks of this heat are not kept; it cannot be played again."
        elif not card:
            self.told = copy_wanted(heat.card_title)
        else:
            laid = replay_from(whole, Seat(heat.seat), step.lived.step.step)
            if isinstance(laid, Laid):
                lost = step.verdict.loss if step.verdict else None
                self.shell.go(AtDrill((replace(laid, lost=lost),), card))
                return
            self.told = laid
        self.redraw()

    def parts(self) -> int:
        """Return how many parts the page in hand has: more than one where it is longer than the screen."""
        size = self.query_one(Painting).size
        rows = self._page(Canvas(size.width, 1, self.shell.look), 0, size.height)
        return 1 if rows <= size.height else -(-rows // max(1, size.height - 1))

    def _draw(self, canvas: Canvas) -> None:
        """Draw the page in hand, or the part of it that was asked for where it is longer than the screen."""
        parts = self.parts()
        self.part = min(self.part, parts - 1)
        self._page(canvas, -self.part * max(1, canvas.height - 1), canvas.height)
        if parts > 1:
            canvas.put(0, canvas.height - 1, " " * canvas.width)
            cut = "..." if canvas.look.ascii else "⋯"
            words = f"{cut} part {self.part + 1} of {parts}: space shows the next"
            canvas.put(1, canvas.height - 1, words, "mark", key="space")

    def _page(self, canvas: Canvas, y: int, below: int) -> int:
        """Draw the page in hand from a row on; return how many rows it has."""
        looking, begin = self.looking(), y
        if looking.review is None or self.page == 0:
            y = draw_glance(canvas, looking, self.named if not self.at else (), y, begin + below)
        elif self._is_last():
            y = draw_end(canvas, looking, y)
        elif self.hides():
            y = draw_question(canvas, looking, self.page - 1, self.lifted, y)
        else:
            y = draw_step(canvas, looking, self.page - 1, self.tried.get(self.place()), y)
        return y - begin

"""The seats before the first heat, and the pages after one: what a key means there. Pure."""

from dataclasses import dataclass
from typing import Literal

from client.models.desk import SCROLLS
from client.models.host import let_in
from client.models.played import club_pages
from client.models.session import Meant
from client.models.table import TableModel
from client.models.watched import show_rack
from shared.rules.heat import final_state
from shared.rules.intents import FreeChair, LetIn, MoveTo, NewCode, NewSet, NotReady, Ready, SeatBot, Start, TakeSeat
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import SEATS


@dataclass(slots=True)
class SeatsModel:
    """Four chairs; at is the one that the host arranges, not their own at first, where a bot would play for them."""

    table: TableModel
    at: int = 1

    def press(self, key: str) -> Meant:
        """Take a key, or "chair N" for a click on a chair."""
        table = self.table
        table.note = ""
        if table.moved:
            table.moved = False
            return ()
        word, _, number = key.partition(" ")
        if word == "chair" and number:
            self.at = int(number)
        match key:
            case "q":
                return ("leave",)
            case "a":
                return ("addresses",)
            case "enter" | "space":
                return ready(table)
            case "v":
                return show_rack(table)
            case "t":
                return (TakeSeat(),) if table.bot_in_my_seat else ()
            case "up" | "down":
                self.at = (self.at + (1 if key == "down" else -1)) % 4
            case "1" | "2" | "3" | "4":
                self.at = int(key) - 1
            case "m":
                return (MoveTo(chair=self.at),)
            case "s" if table.may_keep:
                return (Start(),)
            case _ if table.is_host:
                return self._arrange(key)
        return ()

    def _arrange(self, key: str) -> Meant:
        match key:
            case "b":
                return (SeatBot(chair=self._for_bot()),)
            case "f":
                return (FreeChair(chair=self.at),)
            case "l":
                return (LetIn(chair=self.at),)
            case "c":
                return (NewCode(),)
        return ()

    def _for_bot(self) -> int:
        """Return the marked chair if it is free, one's own, or its person away; else the first free one if any is."""
        view = self.table.view
        if view is None or self.at == view.you:
            return self.at
        marked = view.chairs[self.at]
        if marked.sitter == "nobody" or (marked.sitter == "person" and not marked.connected):
            return self.at
        return next((number for number, chair in enumerate(view.chairs) if chair.sitter == "nobody"), self.at)


@dataclass(slots=True)
class ResultsModel:
    """Pages: each heat of the set so far, then the set, then an evening's. at is None on the heat just played.

    shows is what of a heat is looked at: its end, everybody's times, or everybody's racks. On an evening's page first
    is the line at the top, and hidden how many stand below the screen.
    """

    table: TableModel
    at: int | None = None
    shows: Literal["end", "times", "racks"] = "end"
    first: int = 0
    hidden: int = 0

    @property
    def heats(self) -> int:
        """How many heats have a page."""
        return len(self.table.view.results) if self.table.view else 0

    @property
    def page(self) -> int:
        """The page that is shown."""
        newest = self._count - 1 if self.table.is_over else max(0, self.heats - 1)
        return newest if self.at is None else min(self.at, self._count - 1)

    def reviewed(self) -> tuple[SeatHeat, ...]:
        """Return the heat of the page as each seat lived it, one's own first; none where the host wants no hints."""
        view = self.table.view
        if view is None or self.page >= self.heats:
            return ()
        number = view.results[self.page].number
        own, whole = self.table.own.get(number), self.table.whole.get(number)
        if own is None or own.settings.hints == "none":
            return ()
        if whole is None:
            return (own,)
        state = final_state(whole)
        return (own, *(seat_heat(whole, state, seat) for seat in SEATS if seat != own.seat))

    def press(self, key: str) -> Meant:
        """Take a key: turn pages, leave, review, or go on."""
        table = self.table
        table.note = ""
        if table.moved:
            table.moved = False
            return ()
        is_over = table.view is not None and table.view.phase == "over"
        match key:
            case "q":
                return ("leave",)
            case "t" | "h" if self.page < self.heats:
                wanted: Literal["times", "racks"] = "times" if key == "t" else "racks"
                self.shows = "end" if self.shows == wanted else wanted
            case "escape":
                self.shows = "end"
            case "enter" if is_over and self.page < self.heats:
                self.at = self.heats
            case "left" | "right":
                self.at, self.first = (self.page + (1 if key == "right" else -1)) % self._count, 0
            case _ if key in SCROLLS and self.page > self.heats:
                self.first = max(0, min(self.first + SCROLLS[key], self.first + self.hidden))
            case "r" if self.reviewed():
                return ("review",)
            case "g" if self.reviewed():
                return ("again",)
            case "f" if self.reviewed():
                return ("fill",)
            case "v":
                return show_rack(table)
            case "l":
                return let_in(table)
            case "enter" | "space" if not is_over and table.alone:
                return ("start",)
            case "enter" | "space" if not is_over:
                return ready(table)
            case "s" if table.may_keep and not is_over:
                return (Start(),)
            case "n" if table.take_home and is_over:
                return ("take home",)  # more heats would be the same deals again
            case "n" if table.may_keep and is_over:
                return (NewSet(),)
        return ()

    @property
    def _count(self) -> int:
        return self.heats + 1 + len(club_pages(self.table))


def ready(table: TableModel) -> Meant:
    """Return ready, or not ready after all."""
    return (NotReady() if table.is_ready else Ready(),)

"""After a heat: what it took and what to look for, ready for the next; after the last: the whole set."""

import asyncio
from copy import copy
from functools import partial
from typing import cast

from textual import work
from textual.app import ComposeResult

from client.models.heat_end import NO_RECORD, NO_RECORD_SHORT, NOT_THERE, HeatEnd, LastHeats, heat_end, set_end
from client.models.host import asking_words, changed, keeping, no_change
from client.models.played import club_of, club_pages, has_played, place_words, standing_words
from client.models.seats import ResultsModel
from client.models.session import Action
from client.models.start_card import next_seat
from client.models.table import TableModel
from client.models.watched import consent_words, show_rack
from client.reports.history_lesson import one_habit
from client.reports.last_heats import kept_targets, last_heats, this_set
from client.storage.costliest import how_it_went
from client.target import Named
from client.tui.ports import Choice
from client.tui.screens.base import BaseScreen
from client.tui.screens.filling import FillScreen
from client.tui.screens.review import ReviewScreen
from client.tui.screens.sets import show_set
from client.tui.screens.start import StartScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.evening import draw_moved, draw_page, what_begins
from client.tui.widgets.head import Title
from client.tui.widgets.heat_end import draw_heat_end
from client.tui.widgets.key_bar import LEAVE, MOST_KEYS, Changed, KeyBar, Keys, Note
from client.tui.widgets.times import draw_racks, draw_set, draw_times
from shared.rules.seat_heat import SeatHeat
from shared.wire.views import HeatResult

_ABOUT = (
    "Your time and points, what cost most and why, and the hand that you are nearest to: a dot in it is a tile that "
    "you lack, a small ring one between ranks that you hold. f plays your rack on: does it fill? t shows everybody's "
    "seconds by step ('out': the clock answered; 'over': longer than the step, paid from carried time), h the racks. "
    "Left and right lead to the other heats, past the last one to all of them side by side, and in a club to its "
    "standings."
)


class EndScreen(BaseScreen):
    """Pages: each heat of the set so far, then the set. It begins with the heat just played."""

    ABOUT = _ABOUT

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model
        self.results = ResultsModel(model)
        self.last: dict[int, LastHeats | None] = {}
        self.kept: dict[int, tuple[Named, ...]] = {}
        self.beside: tuple[str, ...] = ()
        self._looked_up = frozenset[int]()
        self.is_held = self._asked = False

    def hold(self) -> None:
        """Keep the set that is looked at, although a new one has begun: it waits, unless it was asked for here."""
        if not self._asked and not self.is_held:
            self.model = self.results.table = copy(self.model)
            self.is_held = True

    def compose(self) -> ComposeResult:
        """Build the page and a line about what comes next."""
        yield Title(
            lambda: f"{self.heading()}   {place_words(self.model)}".rstrip(),
            lambda: "" if no_change(self.model) else "F8 settings",
        )
        yield Painting(self._draw)
        yield Note(lambda: self.of_wall()[0], lambda: self.of_wall()[1])
        yield Changed(lambda: changed(self.model))
        yield Note(self.words)
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Look up the heats and sets before."""
        self._look_up()

    @work(exclusive=True, group="last")
    async def _look_up(self) -> None:
        view, own = self.model.view, self.model.own
        self._looked_up = frozenset(own)
        heats = [own[result.number] for result in view.results if result.number in own] if view else []

        def look_up() -> tuple[dict[int, LastHeats | None], dict[int, tuple[Named, ...]], tuple[str, ...]]:
            read = self.shell.journal.read()
            last = {heat.number: last_heats(read, heat) for heat in heats}
            kept = {heat.number: kept_targets(read, heat) for heat in heats}
            return last, kept, (*set_end(*this_set(read, heats)), *one_habit(read))

        self.last, self.kept, self.beside = await asyncio.to_thread(look_up)
        self.redraw()

    # ---- what is shown

    def own(self) -> SeatHeat | None:
        """Return one's own record of the heat of the page."""
        result = self.result()
        return self.model.own.get(result.number) if result else None

    def result(self) -> HeatResult | None:
        """Return what the table says of the heat of the page; None on the other pages."""
        view, page = self.model.view, self.results.page
        return view.results[page] if view and page < len(view.results) else None

    def named(self) -> tuple[Named, ...]:
        """Return the targets named in the heat of the page, from the history where another program played it."""
        result = self.result()
        if result is None:
            return ()
        here = self.model.targets.get(result.number)
        return here.named if here else self.kept.get(result.number, ())

    def end(self) -> HeatEnd:
        """Return the end of the heat of the page as far as it is known."""
        own = self.own()
        looking = self.shell.coaching.known(own) if own else None
        return heat_end(
            own,
            looking.review if looking else None,
            self.named(),
            self.last.get(own.number) if own else None,
            self.model.about_card or (looking.said if looking else ""),
            self.shell.look.numbers,
        )

    def _draw(self, canvas: Canvas) -> None:
        result, own = self.result(), self.own()
        if self.model.moved:
            draw_moved(canvas, self.model)
        elif result is None:
            page = self.results.page - self.results.heats
            if page:
                draw_page(canvas, self.model, club_pages(self.model)[page - 1], self.results)
            elif self.results.heats:
                draw_set(canvas, self.model, self.beside)
        elif self.results.shows == "times":
            draw_times(canvas, self.model, result, max(0, (canvas.height - 12) // 2))
        elif self.results.shows == "racks":
            draw_racks(canvas, self.model, result)
        elif own is None:
            no_record = NO_RECORD if len(NO_RECORD) + 2 <= canvas.width else NO_RECORD_SHORT
            canvas.put(1, 0, no_record if has_played(self.model, result) else NOT_THERE, "quiet")
            draw_times(canvas, self.model, result, 2)
        else:
            draw_heat_end(canvas, self.end(), own, result, self.model)

    def words(self) -> str:
        """Return the status line: errors first, then what begins, how a drill went, who is being waited for."""
        if self.is_held:
            return "A new set has begun; it waits for you. Enter leads to its seats."
        begins = what_begins(self.model, self.shell.now_ms())
        asking = asking_words(self.model, "l")
        return self.model.line or self.model.note or asking or begins or self.drilled() or self.what_next()

    def of_wall(self) -> tuple[str, str]:
        """Return what is said of the wall of the page's heat, loudly or quietly."""
        view, page = self.model.view, self.results.page
        loud, quiet = self.model.wall.line(view.results[page].number) if view and page < len(view.results) else ("", "")
        return loud, "" if self.model.alone else quiet  # who plays alone made the wall, and has nobody to compare with

    def tick(self) -> None:
        """Draw a countdown; look up what is known of heats whose records have come since."""
        if self._looked_up != self.model.own.keys():
            self._look_up()
        club = club_of(self.model)
        if club and (club.starts_in_ms is not None or club.goes_on_in_ms is not None):
            self.redraw()

    def drilled(self) -> str:
        """Return how the drill of the page went, as far as the coach has looked at it; nothing at other tables."""
        heats = self.results.reviewed()
        laid = self.model.laid(heats[0].number) if heats else None
        looking = self.shell.coaching.known(heats[0]) if laid else None
        if laid is None or looking is None:
            return ""
        went = how_it_went(laid, looking.review) if looking.review else ""
        return went or looking.said or ("The coach is reviewing it." if looking.running else "")

    def heading(self) -> str:
        """Return what the page is."""
        heats = self.model.view.settings.heats if self.model.view else 0
        page, played = self.results.page, self.results.heats
        if page >= played:
            return ("The whole set", *club_pages(self.model))[page - played]
        seat = self.end().seat
        return f"Heat {page + 1} of {heats}{'   ' if seat else ''}{seat}"

    def what_next(self) -> str:
        """Return what everybody waits for."""
        return ""

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        page = self.results.page
        if self.is_held and key in ("enter", "space", "s", "n"):
            return self.shell.show_table()
        meant = self.results.press(key)
        self._asked = self._asked or key == "n"
        self.carry_out(meant)
        if self.results.page != page:
            self._look_up()  # what the coach found since is in the history now
        return None

    def act(self, action: Action) -> None:
        """Show the review of the heat, deal its costliest decision again, or show the card of the next heat."""
        if action == "take home":
            self.shell.leave()
            show_set(cast(BaseScreen, self.app.screen), self.model.take_home)
        if action == "start":
            self.app.push_screen(StartScreen(self.model))
        if action == "review":
            self.app.push_screen(ReviewScreen(self.results.reviewed(), self.named()))
        own, costly = self.own(), self.end().costly
        if action == "fill" and own:
            self.app.push_screen(FillScreen(own.final, partial(self.shell.coaching.after, own)))
        if action == "again" and own and costly:
            self.shell.decide_again((Choice(own, costly.step, costly.lost),))

    def help_keys(self) -> Keys:
        """Return every key; where a teacher is let in, also that."""
        teacher: Keys = (("v", "let your rack be seen, or stop", "v"),)
        start: Keys = (("s", "start the next heat for everybody", "s"),)
        at_table = self.model.view is not None and self.model.view.phase == "between" and not self.model.alone
        racks: Keys = () if self.result() is None or any(key == "h" for key, *_ in self.keys()) else _RACKS
        more = (
            *racks,
            *(() if any(key == "right" for *_, key in self.keys()) else _PAGES),
            *(start if at_table and self.model.is_host else ()),
            *(teacher if show_rack(self.model) else ()),
            *((("F6", "who is beside the table", "f6"),) if self.model.view and self.model.view.beside else ()),
            ("F7", "the wall: its commitment in full, and the words to read aloud", "f7"),
            *(() if no_change(self.model) else (("F8", "change the settings for the next heats", "f8"),)),
        )
        return (*self.keys()[:-1], *more, self.keys()[-1])

    def about_heat(self) -> Keys:
        """Return the keys of a heat's page: times and racks, and where the coach may speak the costliest again."""
        if self.result() is None:
            return (*_PAGES, *((("up down", "more", ""),) if self.results.first or self.results.hidden else ()))
        again: Keys = (("g", "again", "g"),) if self.end().costly and self.results.reviewed() else ()
        review: Keys = (("r", "review", "r"), ("f", "does it fill?", "f")) if self.results.reviewed() else ()
        shows = self.results.shows
        times, racks = (("t", "back" if shows == "times" else "times", "t"), ("h", "racks", "h"))
        return (*again, *review, *((("h", "back", "h"), times) if shows == "racks" else (times, racks)))


_RACKS: Keys = (("h", "racks", "h"),)
_PAGES: Keys = (("left right", "heats", "right"),)


def _fitting(keys: Keys) -> Keys:
    """Return keys with help and the way out; where that is too much, without help, and at last without the racks."""
    return (*keys, *LEAVE) if len(keys) + len(LEAVE) <= MOST_KEYS else (*keys[: MOST_KEYS - 1], *LEAVE[1:])


class HeatEndScreen(EndScreen):
    """What the heat took, and ready for the next one."""

    def what_next(self) -> str:
        """Return for whom the next heat waits."""
        view = self.model.view
        if view is None:
            return ""
        if self.model.alone:
            return f"Enter leads to heat {len(view.results) + 1} of {view.settings.heats}."
        missing = [
            "you" if number == view.you else f"{self.model.chair_name(number)}{'' if chair.connected else ' (away)'}"
            for number, chair in enumerate(view.chairs)
            if chair.is_waited_for
        ]
        waits = f"The heat waits for {', '.join(missing)}." if missing else "All are ready."
        waits = f"{next_seat(view)} {waits}"
        waits = f"{waits} s starts it now." if self.model.may_keep else waits
        return consent_words(self.model) or keeping(self.model) or waits

    def keys(self) -> Keys:
        """Return ready, what can be seen of the heat, and the way out."""
        ready = "next heat" if self.model.alone else "not ready" if self.model.is_ready else "ready"
        return _fitting((("enter", "new set" if self.is_held else ready, "enter"), *self.about_heat()))


class SetEndScreen(EndScreen):
    """The set is over."""

    def what_next(self) -> str:
        """Return who may begin a new set."""
        who = "desk" if club_of(self.model) else "host"
        time = standing_words(self.model.view) if self.model.view and self.result() else ""
        if self.model.take_home:
            return f"You have played this set: n leads to your result. {time}".rstrip()
        if self.model.may_keep:
            return f"The set is over: n deals the next one. {time}".rstrip()
        return f"The set is over. {time or f'The {who} may begin a new one.'}"

    def keys(self) -> Keys:
        """Return the whole set, or a new one for the host, and the way out."""
        if self.is_held:
            return _fitting((("enter", "new set", "enter"), *self.about_heat()))
        if self.result():
            return _fitting((("enter", "whole set", "enter"), *self.about_heat()))
        return (*self._new_set(), *self.about_heat(), *LEAVE)

    def help_keys(self) -> Keys:
        """Return every key, on the page of a heat too the one that begins another set."""
        known = super().help_keys()
        return known if self.is_held or not self.result() else (*self._new_set(), *known)

    def _new_set(self) -> Keys:
        word = "hand in" if self.model.take_home else "next set" if self.model.alone else "new set"
        return (("n", word, "n"),) if self.model.may_keep else ()

"""After a heat: everybody's seconds by step, the opened racks, ready for the next; after the last: the whole set."""

from textual.app import ComposeResult

from client.models.table import TableModel
from client.storage.costliest import how_it_went
from client.tui.screens.base import BaseScreen
from client.tui.screens.review import ReviewScreen
from client.tui.widgets.evening import club_of, pages, show_rack, teacher_words, what_begins
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import Foot, Keys, Note
from client.tui.widgets.times import Times
from shared.rules.heat import final_state
from shared.rules.intents import NewSet, NotReady, Ready, Start
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import SEATS

_ABOUT = (
    "Seconds by step and seat. 'out': the clock answered; 'over': longer than the step, paid from carried time. Left "
    "and right lead to the other heats, past the last one to all of them side by side, and in a club to its standings."
)


class EndScreen(BaseScreen):
    """Pages: each heat of the set so far, then the set. It begins with the heat just played."""

    ABOUT = _ABOUT

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model
        self.at: int | None = None

    def compose(self) -> ComposeResult:
        """Build the page and a line about what comes next."""
        yield Title(self.heading)
        yield Times(self.model, self.page)
        yield Note(self.words)
        yield Foot(self.keys)

    def words(self) -> str:
        """Return what is to be said: trouble first, then what begins, how a drill went, what is waited for."""
        begins = what_begins(self.model, self.racktempo.now_ms())
        return self.model.line or self.model.note or begins or self.drilled() or self.what_next()

    def tick(self) -> None:
        """Draw a countdown."""
        club = club_of(self.model)
        if club and club.starts_in_ms is not None:
            self.redraw()

    def reviewed(self) -> tuple[SeatHeat, ...]:
        """Return the heat of the page as each seat lived it, one's own first; none where the host wants no hints."""
        view = self.model.view
        if view is None or self.page() >= len(view.results):
            return ()
        number = view.results[self.page()].number
        own, whole = self.model.own.get(number), self.model.whole.get(number)
        if own is None or own.settings.hints == "none":
            return ()
        if whole is None:
            return (own,)
        state = final_state(whole)
        return (own, *(seat_heat(whole, state, seat) for seat in SEATS if seat != own.seat))

    def drilled(self) -> str:
        """Return how the drill of the page went, as far as the coach has looked at it; nothing at other tables."""
        heats = self.reviewed()
        laid = self.model.laid(heats[0].number) if heats else None
        looking = self.racktempo.coaching.known(heats[0]) if laid else None
        if laid is None or looking is None:
            return ""
        went = how_it_went(laid, looking.review) if looking.review else ""
        return went or looking.said or ("The coach is looking at it." if looking.running else "")

    def page(self) -> int:
        """Return the page that is shown."""
        last = self._heats() - 1
        return last if self.at is None else min(self.at, self._count() - 1)

    def heading(self) -> str:
        """Return what the page is."""
        heats = self.model.view.settings.heats if self.model.view else 0
        if self.page() < self._heats():
            return f"Heat {self.page() + 1} of {heats}"
        return ("The whole set", *pages(self.model))[self.page() - self._heats()]

    def what_next(self) -> str:
        """Return what everybody waits for."""
        return ""

    def press(self, key: str) -> None:
        """Turn pages or leave; the rest is each screen's own."""
        self.model.note = ""
        if key == "q":
            self.racktempo.ask_to_leave()
        elif key in ("left", "right"):
            self.at = (self.page() + (1 if key == "right" else -1)) % self._count()
        elif key == "r" and (heats := self.reviewed()):
            self.app.push_screen(ReviewScreen(heats))
        elif key == "v" and (show := show_rack(self.model)):
            self.racktempo.ask(show)
        else:
            self.act(key)

    def act(self, key: str) -> None:
        """Ask the table."""

    def is_host(self) -> bool:
        """Whether this chair is the host's."""
        return self.model.view is not None and self.model.view.host

    def help_keys(self) -> Keys:
        """Return every key; where a teacher is let in, also that."""
        teacher: Keys = (("v", "let the teacher see your rack, or no more", "v"),)
        return (*self.keys()[:-1], *(teacher if show_rack(self.model) else ()), self.keys()[-1])

    def _count(self) -> int:
        return self._heats() + 1 + len(pages(self.model))

    def _heats(self) -> int:
        return len(self.model.view.results) if self.model.view else 0


_PAGES = ("left right", "heats", "right")
_REVIEW: Keys = (("r", "review", "r"),)
_REST: Keys = (("?", "help", "?"), ("q", "leave", "q"))


class HeatEndScreen(EndScreen):
    """What the heat took, and ready for the next one."""

    def what_next(self) -> str:
        """Return for whom the next heat waits."""
        view = self.model.view
        if view is None:
            return ""
        missing = [
            "you" if number == view.you else self.model.chair_name(number)
            for number, chair in enumerate(view.chairs)
            if chair.sitter == "person" and not chair.ready
        ]
        waits = f"The next heat waits for {', '.join(missing)}." if missing else "All are ready."
        return teacher_words(self.model) or waits

    def keys(self) -> Keys:
        """Return ready, and start for the host."""
        ready = "not ready" if self._is_ready() else "ready"
        host: Keys = (("s", "start now", "s"),) if self.is_host() else ()
        return (("enter", ready, "enter"), *host, _PAGES, *(_REVIEW if self.reviewed() else ()), *_REST)

    def act(self, key: str) -> None:
        """Say ready or not, or start."""
        app = self.racktempo
        if key in ("enter", "space"):
            app.ask(NotReady() if self._is_ready() else Ready(contribution=app.random_bytes(16)))
        elif key == "s" and self.is_host():
            app.ask(Start())

    def _is_ready(self) -> bool:
        view = self.model.view
        return view is not None and view.chairs[view.you].ready


class SetEndScreen(EndScreen):
    """The set is over."""

    def what_next(self) -> str:
        """Return who may begin a new set."""
        who = "desk" if club_of(self.model) else "host"
        return "The set is over." if self.is_host() else f"The set is over. The {who} may begin a new one."

    def keys(self) -> Keys:
        """Return a new set for the host, and the way out."""
        host: Keys = (("n", "new set", "n"),) if self.is_host() else ()
        return (*host, _PAGES, *(_REVIEW if self.reviewed() else ()), *_REST)

    def act(self, key: str) -> None:
        """Begin a new set."""
        if key == "n" and self.is_host():
            self.racktempo.ask(NewSet())

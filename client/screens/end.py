"""After a heat: everybody's seconds by step, the opened racks, ready for the next; after the last: the whole set."""

from textual.app import ComposeResult

from client.model import Model
from client.screens.sheet import Sheet
from client.widgets.foot import Foot, Keys, Note
from client.widgets.head import Title
from client.widgets.times import Times
from shared.intents import NewSet, NotReady, Ready, Start

_ABOUT = (
    "Seconds by step and seat. 'out': the clock answered; 'over': longer than the step, paid from carried time. Left "
    "and right lead to the other heats of the set, and past the last one to all of them side by side."
)


class EndScreen(Sheet):
    """Pages: each heat of the set so far, then the set. It begins with the heat just played."""

    ABOUT = _ABOUT

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model
        self.at: int | None = None

    def compose(self) -> ComposeResult:
        """Build the page and a line about what comes next."""
        yield Title(self.heading)
        yield Times(self.model, self.page)
        yield Note(lambda: self.model.line or self.model.note or self.what_next())
        yield Foot(self.keys)

    def page(self) -> int:
        """Return the page that is shown."""
        last = self._heats() - 1
        return last if self.at is None else min(self.at, last + 1)

    def heading(self) -> str:
        """Return what the page is."""
        heats = self.model.view.settings.heats if self.model.view else 0
        return f"Heat {self.page() + 1} of {heats}" if self.page() < self._heats() else "The whole set"

    def what_next(self) -> str:
        """Return what everybody waits for."""
        return ""

    def press(self, key: str) -> None:
        """Turn pages or leave; the rest is each screen's own."""
        self.model.note = ""
        if key == "q":
            self.racktempo.ask_to_leave()
        elif key in ("left", "right"):
            self.at = (self.page() + (1 if key == "right" else -1)) % (self._heats() + 1)
        else:
            self.act(key)

    def act(self, key: str) -> None:
        """Ask the table."""

    def is_host(self) -> bool:
        """Whether this chair is the host's."""
        return self.model.view is not None and self.model.view.host

    def _heats(self) -> int:
        return len(self.model.view.results) if self.model.view else 0


_PAGES = ("left right", "heats, set", "right")
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
        return f"The next heat waits for {', '.join(missing)}." if missing else "All are ready."

    def keys(self) -> Keys:
        """Return ready, and start for the host."""
        ready = "not ready" if self._is_ready() else "ready"
        host: Keys = (("s", "start now", "s"),) if self.is_host() else ()
        return (("enter", ready, "enter"), *host, _PAGES, *_REST)

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
        return "The set is over." if self.is_host() else "The set is over. The host may begin a new one."

    def keys(self) -> Keys:
        """Return a new set for the host, and the way out."""
        host: Keys = (("n", "new set", "n"),) if self.is_host() else ()
        return (*host, _PAGES, *_REST)

    def act(self, key: str) -> None:
        """Begin a new set."""
        if key == "n" and self.is_host():
            self.racktempo.ask(NewSet())

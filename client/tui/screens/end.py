"""After a heat: everybody's seconds by step, the opened racks, ready for the next; after the last: the whole set."""

from textual.app import ComposeResult

from client.models.seats import ResultsModel
from client.models.session import Action
from client.models.table import TableModel, club_of, club_pages, show_rack
from client.storage.costliest import how_it_went
from client.target import targets_in_words
from client.tui.screens.base import BaseScreen
from client.tui.screens.review import ReviewScreen
from client.tui.screens.start import StartScreen
from client.tui.widgets.evening import teacher_words, what_begins
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import LEAVE, KeyBar, Keys, Note
from client.tui.widgets.times import Times

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
        self.results = ResultsModel(model)

    def compose(self) -> ComposeResult:
        """Build the page and a line about what comes next."""
        yield Title(self.heading)
        yield Times(self.model, lambda: self.results.page)
        yield Note(lambda: self.of_wall()[0], lambda: self.of_wall()[1])
        yield Note(self.words)
        yield KeyBar(self.keys)

    def words(self) -> str:
        """Return the status line: errors first, then what begins, how a drill went, who is being waited for."""
        begins = what_begins(self.model, self.shell.now_ms())
        return self.model.line or self.model.note or begins or self.drilled() or self.what_next()

    def of_wall(self) -> tuple[str, str]:
        """Return what is said of the wall of the page's heat, loudly or quietly."""
        view, page = self.model.view, self.results.page
        return self.model.wall.line(view.results[page].number) if view and page < len(view.results) else ("", "")

    def tick(self) -> None:
        """Draw a countdown."""
        club = club_of(self.model)
        if club and club.starts_in_ms is not None:
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
        return (
            f"Heat {page + 1} of {heats}"
            if page < played
            else ("The whole set", *club_pages(self.model))[page - played]
        )

    def what_next(self) -> str:
        """Return what everybody waits for."""
        return ""

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        self.carry_out(self.results.press(key))

    def act(self, action: Action) -> None:
        """Show the review of the heat, or at a table for one the card of the next heat."""
        if action == "start":
            self.app.push_screen(StartScreen(self.model))
        if action == "review":
            self.app.push_screen(ReviewScreen(self.results.reviewed()))

    def help_keys(self) -> Keys:
        """Return every key; where a teacher is let in, also that."""
        teacher: Keys = (("v", "let the teacher see your rack, or stop", "v"),)
        wall: Keys = (("F7", "the wall: its commitment in full, and the words to read aloud", "f7"),)
        return (*self.keys()[:-1], *(teacher if show_rack(self.model) else ()), *wall, self.keys()[-1])


_PAGES = ("left right", "heats", "right")
_REVIEW: Keys = (("r", "review", "r"),)


class HeatEndScreen(EndScreen):
    """What the heat took, and ready for the next one."""

    def what_next(self) -> str:
        """Return for whom the next heat waits."""
        view = self.model.view
        if view is None:
            return ""
        if self.model.alone:
            named = self.model.targets.get(view.results[-1].number) if view.results else None
            target = f"{targets_in_words(named.named)} " if named else ""
            return f"{target}Enter leads to heat {len(view.results) + 1} of {view.settings.heats}."
        missing = [
            "you" if number == view.you else self.model.chair_name(number)
            for number, chair in enumerate(view.chairs)
            if chair.sitter == "person" and not chair.ready
        ]
        waits = f"The next heat waits for {', '.join(missing)}." if missing else "All are ready."
        return teacher_words(self.model) or waits

    def keys(self) -> Keys:
        """Return ready, and start for the host."""
        if self.model.alone:
            return (("enter", "next heat", "enter"), _PAGES, *(_REVIEW if self.results.reviewed() else ()), *LEAVE)
        ready = "not ready" if self.model.is_ready else "ready"
        host: Keys = (("s", "start now", "s"),) if self.model.is_host else ()
        return (("enter", ready, "enter"), *host, _PAGES, *(_REVIEW if self.results.reviewed() else ()), *LEAVE)


class SetEndScreen(EndScreen):
    """The set is over."""

    def what_next(self) -> str:
        """Return who may begin a new set."""
        who = "desk" if club_of(self.model) else "host"
        return "The set is over." if self.model.is_host else f"The set is over. The {who} may begin a new one."

    def keys(self) -> Keys:
        """Return a new set for the host, and the way out."""
        host: Keys = (("n", "new set", "n"),) if self.model.is_host else ()
        return (*host, _PAGES, *(_REVIEW if self.results.reviewed() else ()), *LEAVE)

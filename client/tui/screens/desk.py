"""The desk of a club, and the same picture for those who watch or wait: every table at one glance.

Draws the model and hands it keys; decides nothing.
"""

import asyncio

from textual import work
from textual.app import ComposeResult

from client.models.desk import DeskModel, counted, play_by
from client.models.session import Action
from client.text import some
from client.theme import Role
from client.tui.screens.addresses import AddressesScreen
from client.tui.screens.base import BaseScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.room import RoomScreen
from client.tui.screens.sets import FRESH, SAME, MadeScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.desk import Tables
from client.tui.widgets.head import clock_text
from client.tui.widgets.key_bar import LEAVE, KeyBar, Keys, Note
from shared.codes import TEACHER
from shared.names import EVENING_CELLS, clean_name
from shared.wire.club_views import ClubView

_SAME_DEAL = "same deal for all"


class DeskScreen(BaseScreen):
    """One evening of several tables."""

    ABOUT = (
        "Pick a person up with space, move with the arrows, and put them down with space: two people change places, a "
        "bot makes room. Or drag them with the mouse. Results stay with the person."
    )

    def __init__(self, model: DeskModel) -> None:
        super().__init__()
        self.model = model
        self._drawn_ms = 0

    def compose(self) -> ComposeResult:
        """Build the head, the tables and a line for words."""
        yield Painting(self._draw_head, id="evening")
        yield Tables(self.model, self.shell.now_ms)
        yield Note(self.words)
        yield KeyBar(self.keys)

    def words(self) -> str:
        """Return the status line: errors first, then a question, then who is picked up."""
        model, way_in = self.model, self.shell.way_in
        if model.typed is not None:
            return f"New name of the table: {model.typed}_"
        said = model.line or model.note or model.asking_words()
        if said or not model.held:
            return said or way_in.beacon or way_in.who_reads
        return f"{model.name_of(model.held)} is picked up: space puts them down, esc cancels."

    @property
    def typing(self) -> bool:
        """Whether characters are a name."""
        return self.model.typed is not None

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        self.carry_out(self.model.press(key))

    def act(self, action: Action) -> None:
        """Show addresses or settings, or write the results."""
        view = self.model.view
        if action == "addresses" and self.shell.way_in.all_addresses:
            self.app.push_screen(AddressesScreen())
        elif action == "wall":
            self.app.push_screen(RoomScreen(self.model))
        elif action == "export":
            self._export()
        elif action == "take home" and view:
            self._take_home(view)
        elif action == "settings" and view:
            self.app.push_screen(DeskSettingsScreen(view.settings))

    def tick(self) -> None:
        """Draw the clocks again, twice a second."""
        if self.shell.now_ms() - self._drawn_ms >= 500:
            self._drawn_ms = self.shell.now_ms()
            self.redraw()

    def keys(self) -> Keys:
        """Return the keys that matter now."""
        at_tables = self.model.page == "tables"
        page: Keys = (("v", "standings" if at_tables else "tables", "v"),)
        more: Keys = (("up down", "more", ""),) if not at_tables and (self.model.first or self.model.hidden) else ()
        if not self.model.is_desk:
            return (*page, *more, *LEAVE)
        view = self.model.view
        counting = view is not None and view.starts_in_ms is not None
        return (
            *((("space", "put down" if self.model.held else "pick up", "space"),) if at_tables else more),
            *((("F5", "let in", "f5"),) if self.model.asked_for else ()),
            *((("s", "call off" if counting else "start all", "s"),) if not self.model.is_over else ()),
            *((("p", "pause all" if self.model.is_running else "go on", "p"),) if self.model.is_under_way else ()),
            *page,
            *LEAVE,
        )

    def help_keys(self) -> Keys:
        """Return every key of the desk."""
        if not self.model.is_desk:
            return self.keys()
        return (
            ("arrows, space", "pick a person up, move, put them down; esc: cancel", ""),
            ("F5", "let the machine in that asks for somebody's seat", "f5"),
            ("u k", "let the person wait for a chair; send them home (asks)", ""),
            ("l b", "draw lots for all chairs (asks); bots on all empty chairs", ""),
            ("n r c", "open a table, rename this one, close it (asks)", ""),
            ("s", "start all tables after ten seconds, or call it off", "s"),
            ("p h", "pause or go on: all tables, this one", "p"),
            ("y x", "ten seconds more for all who decide: everywhere, here", "y"),
            ("g", "settings and presets for all, from the next heat on", "g"),
            ("v e", "standings; write them as CSV and as a page", "v"),
            ("m", "make a set to take home from this evening", "m"),
            ("t", "let a teacher see the racks of those who agree, or stop", "t"),
            ("i j", "heats for a place in the standings; how long a table waits for one person", ""),
            ("w d", "the screen for the wall; the desk's own code, for another machine", "w"),
            ("f", "end the evening (asks)", "f"),
            ("a o q", "addresses shown to guests; look; leave the desk", "q"),
        )

    def _export(self) -> None:
        view = self.model.view
        if self.model.evening is None or not self.model.evening.played or view is None:
            self.model.note = "No heat has been finished yet."
        else:
            self.model.note = self.shell.storage.keep_evening(self.model.evening.played, view.name, view.least)

    @work(exclusive=True, group="take home")
    async def _take_home(self, view: ClubView) -> None:
        """Make a set of the evening's settings and card; of its deals too, where they come from a seed."""
        from client.hosting.take_home import look, make

        settings, card = view.settings, self.model.card_text
        try:
            shown = await asyncio.to_thread(lambda: look(make(settings, card, view.name).line))
        except ValueError as error:
            self.model.note = str(error)
            self.redraw()
        else:
            self.app.push_screen(MadeScreen(shown, SAME if settings.seed is not None else FRESH))

    def _draw_head(self, canvas: Canvas) -> None:
        """Draw what this evening is and what is about to happen, and below it how people come in."""
        canvas.ground = "panel"
        canvas.put(0, 0, " " * canvas.width)
        canvas.put(0, 1, " " * canvas.width)
        view, model = self.model.view, self.model
        if view is None:
            return
        x = canvas.put(2, 0, clean_name(view.name, "evening", EVENING_CELLS), "mark", bold=True)
        people = model.people
        x = canvas.put(x + 2, 0, f"{some(len(view.tables), 'table')}, {counted(people)}", "quiet")
        starts_in_ms = model.starts_in_ms(self.shell.now_ms())
        soon = f"starts in {clock_text(starts_in_ms)}" if starts_in_ms is not None else ""
        soon = "the evening is over" if view.over else soon
        if view.settings.same_deal and x + 4 + len(_SAME_DEAL) + len(soon) + 2 <= canvas.width:
            canvas.put(x + 2, 0, _SAME_DEAL, "quiet")
        canvas.end(0, soon, "warn" if view.over else "alarm", margin=2, bold=True)
        self._way_in(canvas, view)

    def _way_in(self, canvas: Canvas, view: ClubView) -> None:
        if view.desk is None:
            words = {
                "waiting": "You wait for a chair; this screen will say which.",
            }
            said = "The evening is over; these are its results." if view.over else words.get(view.role, "You watch.")
            canvas.put(2, 1, said, "text")
            return
        x, y = 2, 1
        pieces: tuple[tuple[str, str, Role], ...] = (
            ("code ", view.desk.code, "mark"),
            ("at ", "  ".join(self.shell.way_in.addresses[: 1 if canvas.width < 100 else 3]), "text"),
            ("teacher's code ", f"{TEACHER}-{view.desk.teacher_code}" if view.desk.teacher_code else "", "mark"),
            ("this desk's own code ", view.desk.desk_code if self.model.tells_code else "", "warn"),
            ("used as: racktempo desk --at ", "ADDRESS --code CODE" if self.model.tells_code else "", "quiet"),
        )
        for what, said, role in pieces:
            if said and x > 2 and x + len(what) + len(said) > canvas.width:
                x, y = 2, y + 1
                canvas.put(0, y, " " * canvas.width)
            if said:
                x = canvas.put(canvas.put(x, y, what, "quiet"), y, said, role, bold=True) + 2
        self.query_one("#evening").styles.height = y + 1


class DeskSettingsScreen(HostScreen):
    """The settings of a table, for all tables."""

    ABOUT = "Every table plays by these settings from its next heat on."
    TITLE = "Settings for all tables"
    OPENS, DOES = "Play by these", "set"
    HAS_NAME = False
    HAS_CARD = False  # an evening keeps the card that it was opened with

    def _open(self) -> None:
        self.shell.ask(play_by(self.form.settings))
        self.app.pop_screen()

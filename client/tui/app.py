"""The full-screen client: holds the session, the line to the table and the player's look, and shows the screen
that fits what was heard.

Decides nothing about the game and owns no hidden tile. Textual is imported here, under screens and under
widgets only, so that the other commands start fast.
"""

import asyncio
import secrets
from collections.abc import Awaitable, Callable, Coroutine, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from random import Random

from textual import work
from textual.app import App, SystemCommand
from textual.screen import Screen
from textual.worker import Worker, WorkerCancelled, WorkerFailed

from client.coach.drilling import Drilling, again
from client.coach.process import CoachService
from client.coach.queue import Coaching, Service
from client.connection.link import Connected, Ended, Heard, Lost, Waiting
from client.connection.opened import Line, Opening, WayIn
from client.models.guided import CARD as GUIDED_CARD
from client.models.guided import SETTINGS as GUIDED
from client.models.hint import Asked, Hint, pass_made, step_closed
from client.models.host import no_change
from client.models.session import Session
from client.models.sessions import heard, settings_of
from client.models.table import TableModel
from client.models.wall import Part, WallWatch
from client.storage.card_files import BadCard, file_to_write
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.by_card import ByCard, screen_by
from client.tui.following import hold_ends, screen_of, waiting_in
from client.tui.keeping import Keeping
from client.tui.moments import monotonic_ms, wall_stamp
from client.tui.ports import (
    AtAsk,
    AtClock,
    AtDecisions,
    AtDesk,
    AtDrill,
    AtGuided,
    AtHome,
    AtHost,
    AtJoin,
    AtRacks,
    AtRealSet,
    AtSolo,
    AtVisit,
    AtWaiting,
    AtWriter,
    Choice,
    Openers,
    Start,
)
from client.tui.screens.base import BaseScreen
from client.tui.screens.beside import BesideScreen
from client.tui.screens.card_writer import CardWriterScreen
from client.tui.screens.decisions import DecisionScreen
from client.tui.screens.help import HelpScreen, LeaveScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.host import HostScreen, TableSettingsScreen
from client.tui.screens.join import JoinScreen
from client.tui.screens.looks import LookScreen
from client.tui.screens.real_tiles import RealTilesScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from client.tui.screens.wall import WallScreen
from shared.cards.owned import is_copy
from shared.rules.drills import Laid
from shared.rules.intents import Intent, Pause, Resume
from shared.troubles import describe_error
from shared.wire.club_views import ClubView, Evening, Ranking
from shared.wire.desk_intents import DeskIntent
from shared.wire.group_views import GroupView
from shared.wire.messages import PORT, Done, HeatFile, OwnHeat, OwnTimes, Refused
from shared.wire.views import View

TICK_S = 0.1


class RacktempoApp(App[None]):
    """One player's screen.

    openers open tables, storage keeps presets and the look, start says where to begin; name is how the player is
    called. now_ms, stamp and random_bytes come in from outside so that tests decide them.
    """

    CSS_PATH = str(Path(__file__).with_name("racktempo.tcss"))  # absolute, so that a subclass elsewhere finds it
    TITLE = "racktempo"

    def __init__(
        self,
        openers: Openers,
        start: Start | None = None,
        *,
        name: str = "",
        port: int = PORT,
        storage: Storage | None = None,
        journal: Journal | None = None,
        coach: Service | None = None,
        now_ms: Callable[[], int] = monotonic_ms,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
        stamp: Callable[[], str] = wall_stamp,
    ) -> None:
        super().__init__()
        self.openers, self.start, self.player, self.port = openers, start or AtHome(), name, port
        self.storage, self.now_ms, self.random_bytes = storage or Storage(), now_ms, random_bytes
        self.stamp = stamp
        self.look: Look = replace(self.storage.load_look(), colour=not self.no_color)
        self.card = self.storage.load_card()
        self.journal = journal or Journal()
        self.coaching = Coaching(coach or CoachService(), self.journal, self.redraw)
        self._keeping = Keeping(self.storage, self.journal, self.coaching, self._kept)
        self.own_card, self.joined = "", ("", "")
        self.session = Session()
        self.way_in = WayIn()
        self.line: Line | None = None
        self._quits = self._stopped = False
        self._table: Worker[None] | None = None
        self.animation_level = "none"

    # ---- beginning and going between screens

    def on_mount(self) -> None:
        """Show the first screen and start the clock that redraws."""
        self.set_interval(TICK_S, self._tick)
        if isinstance(self.start, AtVisit):
            form = JoinScreen(self.start.address, self.start.code, fixed=True)
            self.push_screen(form)
            if self.start.name and self.start.code:
                form.knock(self.start.name)
            return
        self.push_screen(HomeScreen())
        self.go(self.start)

    def go(self, start: Start) -> None:
        """Begin something: a form, a table alone, a drill, a clock, or the desk of an evening."""
        openers, name = self.openers, self.player
        match start:
            case AtHost(settings, card):
                self.push_screen(HostScreen(settings, card))
            case AtJoin(address, code, card, watches):
                self.push_screen(form := JoinScreen(address, code, card, watches=watches))
                if address and code and name:
                    form.knock(name)
            case AtSolo(settings, card):
                self.open_table(openers.solo(settings, name or "You", card))
            case AtGuided() if openers.unkept is not None:
                card = self.storage.card_text(GUIDED_CARD)
                self.open_table(openers.unkept(GUIDED, name or "You", card), guided=True)
            case AtWaiting() if openers.go_on is not None:
                self.open_table(openers.go_on())
            case AtClock(settings, bell, together):
                self.look = replace(self.look, bell=self.look.bell or bell)
                if not together:
                    set_id = self.random_bytes(8).hex()
                    keep = self.journal.real_tiles(settings, set_id)
                    self.push_screen(RealTilesScreen(settings, keep, self.stamp, set_id))
                elif openers.together is not None:
                    self.open_table(openers.together(settings, name or "Host", self.port))
            case AtDrill(laid, card) if openers.drill is not None:
                self.open_table(openers.drill(laid, name or "You", card), laid)
            case AtDecisions(made):
                self._begin_decisions(made)
            case AtDesk(opening=opening):
                self.open_table(opening())
            case AtAsk() | AtRacks() | AtRealSet():
                self._show_by_card(start)
            case AtWriter(card):
                self._write_card(card)

    def decide(self, drilling: Drilling) -> None:
        """Play a round of decisions, on top of whatever is in sight."""
        self.push_screen(DecisionScreen(drilling))

    def decide_again(self, choices: Sequence[Choice]) -> None:
        """Let the player make decisions of their own heats again."""
        self.decide(again(self.coaching, [(choice.heat, choice.step, choice.lost) for choice in choices]))

    @work(exclusive=True, group="drill")
    async def _begin_decisions(self, made: Callable[[Coaching, Journal], Awaitable[Drilling | str]]) -> None:
        try:
            found = await made(self.coaching, self.journal)
        except ValueError as error:
            found = str(error)
        self._say(found) if isinstance(found, str) else self.decide(found)

    def _show_by_card(self, start: ByCard) -> None:
        """Show a screen by the card that the beginning names, else by the chosen one."""
        try:
            text = self.storage.card_text((start.card if isinstance(start, AtAsk) else "") or self.card)
        except ValueError as error:
            self._say(str(error).splitlines()[0])
            return
        self.push_screen(screen_by(start, text))

    def _write_card(self, name: str | None) -> None:
        try:
            file = file_to_write(name)
        except BadCard as bad:
            self._say(bad.told[0])
            return
        dice = Random(int.from_bytes(self.random_bytes(8)))
        self.push_screen(CardWriterScreen(file, int(self.stamp()[:4]), dice.randrange))

    def open_table(self, opening: Opening, drills: tuple[Laid, ...] = (), guided: bool = False) -> None:
        """Open a table and listen to it; a table that was open before is left alone. drills are what is laid there."""
        self._table = self._listen(opening, drills, guided)

    async def on_unmount(self) -> None:
        """Wait until the line and what stands behind it are closed and every heat is kept; the coach stops."""
        if self._table is not None:
            with suppress(WorkerFailed, WorkerCancelled):
                await self._table.wait()
        try:
            await self._keeping.done()
        finally:
            await self.coaching.close()

    @work(exclusive=True, group="table")
    async def _listen(self, opening: Opening, drills: tuple[Laid, ...], guided: bool) -> None:
        wall = WallWatch(self.random_bytes, self.storage.recall_wall)
        self.session, self.line, self.way_in = Session(drills=drills, guided=guided, wall=wall), None, WayIn()
        line: Line | None = None
        try:
            async with opening as opened:
                line = self.line = opened.line
                self.session.keeps, self.own_card = bool(opened.addresses), opened.card
                self.session.alone, self.session.take_home = opened.alone, opened.take_home
                self.way_in = WayIn(opened, self.redraw)
                await line.run(lambda heard: self.hear(heard) if self.line is line else None)
        except ValueError as error:
            self.hear(Ended(str(error)))
        except OSError as error:
            self.hear(Ended(f"The table could not be opened: {describe_error(error)}."))
        finally:
            if self.line is line:
                self.line, self.way_in = None, WayIn()
            if self.screen_stack and isinstance(self.screen, HomeScreen):
                self.screen.on_screen_resume()  # only now is the set that was left free to be gone on with
            if self._quits:
                self.exit()

    @property
    def is_at_table(self) -> bool:
        """Whether a table is open."""
        return self.line is not None

    def ask(self, intent: Intent | DeskIntent) -> None:
        """Send an intent to the table, the club or the shared clock."""
        if self.line is not None:
            self.session.sent(self.line.ask(intent, self.session.heat_number), intent)

    def hear(self, message: Heard) -> None:
        """Take in what came over the line and show it."""
        session = self.session
        match message:
            case View() | GroupView() | ClubView() | Evening() | Ranking():
                rtt_ms = self.line.rtt_ms if self.line else 0
                if isinstance(message, View) and message.phase == "seating":
                    hold_ends(self.screen_stack)
                self.session = heard(session, message, self.now_ms(), rtt_ms)
                self._ring(session)
                if isinstance(message, View) and (part := self.session.wall.see(message)).seen:
                    self.keep(self._take_part(part))
                self._show(self.session)
            case Done(id=command_id):
                session.done(command_id)
            case Refused():
                session.refused(message)
            case HeatFile() | OwnHeat() | OwnTimes():
                self._keeping.take(message, session)
            case Lost() | Ended() if session.is_over:
                self._stay_until_read(session)
            case Lost(text=text) if session.has_begun:
                session.lost(f"{text} Trying again; clocks stand still here.", self.now_ms())
            case Ended(text=text) if session.has_begun:
                self._go_home(text)
            case Waiting(text=text) | Lost(text=text) | Ended(text=text):
                self._say(text)  # nobody has let us in: the form that knocked stays
            case Connected(welcome):
                session.connected(welcome.card, welcome.card_title, welcome.card_digest)
                session.wall.connected(welcome.table)
                if session.lacks_card:
                    self._find_card(welcome.card_digest)
        self.redraw()

    @work(exclusive=True, group="card")
    async def _find_card(self, digest: str) -> None:
        """Look for a copy of a card that the table does not tell; without one, one sentence says what is missing."""
        own = self.own_card if is_copy(self.own_card, digest) else ""
        text = own or await asyncio.to_thread(self.storage.find_card, digest)
        if self.session.card_digest == digest:
            self.session.has_card(text)
            self.redraw()

    async def _take_part(self, part: Part) -> None:
        """Keep what was seen of a wall, and only then send one's own part in it."""
        if part.seen is not None:
            self.session.note = await asyncio.to_thread(self.storage.keep_wall, part.seen) or self.session.note
        for intent in part.intents:
            self.ask(intent)

    def keep(self, keeping: Coroutine[None, None, None]) -> None:
        """Let something be written while the screen goes on; the program does not end before that is done."""
        self._keeping.keep(keeping)

    def _kept(self, trouble: str) -> None:
        self.session.note = trouble or self.session.note
        self.redraw()

    def _look_at_last_pass(self, table: TableModel) -> None:
        """Ask the coach about the last pass where the host wants hints after each; alone, let it think ahead anyway."""
        asked = pass_made(table.heat, table.view.settings if table.view else None)
        if asked and not table.lacks_card and (table.hint is None or table.hint.step != asked.step):
            table.hint = Hint(asked.step)
            self._hint(table, asked)
        closed = step_closed(table.heat, table.view.settings) if table.alone and table.view else None
        if closed and not table.lacks_card and closed.step != table.looked_ahead:
            table.looked_ahead = closed.step
            self.coaching.look_ahead(table.card_text, closed)

    @work(exclusive=True, group="hint")
    async def _hint(self, table: TableModel, asked: Asked) -> None:
        try:
            compared = await self.coaching.hint(table.card_text, asked)
            hint = Hint(asked.step, compared)
        except ValueError as error:
            hint = Hint(asked.step, trouble=str(error))
        if table.hint and table.hint.step == asked.step:
            table.hint = hint
            self.redraw()

    def _ring(self, before: Session) -> None:
        """Ring, if the player wants a bell, when they have been given another chair."""
        was_moved = isinstance(before, TableModel) and before.moved
        if isinstance(self.session, TableModel) and self.session.moved and not was_moved and self.look.bell:
            self.bell()

    def _stay_until_read(self, session: Session) -> None:
        """The evening is over and its host has gone: its result stays in sight until the player leaves."""
        session.line = ""
        session.note = "The evening is over and its host has closed. The result stays until you leave."
        if self.line is not None:
            self.line.close()

    def redraw(self) -> None:
        """Draw the screen on top again."""
        if self.screen_stack and isinstance(self.screen, BaseScreen):
            self.screen.redraw()

    def show_help(self) -> None:
        """Show the help of the screen on top."""
        screen = self.screen
        if isinstance(screen, BaseScreen) and not isinstance(screen, HelpScreen | LeaveScreen):
            settings = screen.table_settings or settings_of(self.session)
            self.push_screen(HelpScreen(screen.ABOUT, screen.help_keys(), settings))
            self._stop_clock()

    def show_over(self, key: str) -> None:
        """Show a page over the table, if there is one: all of its wall, or who is beside it."""
        table, kind = self.session, {"f6": BesideScreen, "f7": WallScreen}[key]
        if isinstance(table, TableModel) and table.view and not isinstance(self.screen, kind):
            self.push_screen(kind(table))

    def change_settings(self) -> None:
        """Let the host change the settings of the open table; say why not to others, and while a heat runs."""
        table = self.session
        if not isinstance(table, TableModel) or not table.view or isinstance(self.screen, HostScreen):
            return
        table.note = no_change(table)
        if not table.note:
            self.push_screen(TableSettingsScreen(table.view.settings))
        self.redraw()

    def _stop_clock(self) -> None:
        """Let no clock run while somebody reads at a table for one; it goes on when the table is in sight again."""
        table = self.session
        if isinstance(table, TableModel) and table.alone and table.in_heat and table.stage != "paused":
            self._stopped = True
            self.ask(Pause())

    def _run_clock(self) -> None:
        if self._stopped and isinstance(self.screen, TableScreen):
            self._stopped = False
            if isinstance(self.session, TableModel) and self.session.stage == "paused":
                self.ask(Resume())

    def show_looks(self) -> None:
        """Show the choices of look."""
        self.push_screen(LookScreen())

    def change_look(self, look: Look) -> None:
        """Use a look from now on and keep it."""
        self.look = look
        self.storage.save_look(look)
        for screen in self.screen_stack:
            screen.set_class(look.theme == "light", "light")
        self.redraw()

    def choose_card(self, name: str) -> None:
        """Choose a card from now on and keep the choice."""
        self.card = name
        self.storage.save_card(name)

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Offer every key of the screen in the command palette."""
        if isinstance(screen, BaseScreen):
            for shown, does, key in screen.help_keys():
                if key:
                    yield SystemCommand(does.capitalize(), f"key: {shown}", partial(screen.do, key))
            yield SystemCommand("Help", "key: ?", self.show_help)

    async def action_quit(self) -> None:
        """Quit; while a heat is running, ask first."""
        if warning := self.session.leave_warning():
            self.push_screen(LeaveScreen(self._leave_and_quit, warning))
        else:
            self.exit()

    def action_help_quit(self) -> None:
        """Treat the interrupt key as a wish to quit."""
        self.run_worker(self.action_quit())

    def _leave_and_quit(self) -> None:
        if self.line is None:
            self.exit()
        self._quits = True  # the way home ends the line, and the end of the line then ends the app
        self._leave()

    def leave(self) -> None:
        """Leave the table; where that means something for a heat or for others, ask first."""
        if warning := self.session.leave_warning():
            self.push_screen(LeaveScreen(self._leave, warning))
        else:
            self._leave()

    def _leave(self) -> None:
        """Give the place up and go home; the host of a set that is not over keeps it, to go on with later."""
        for intent in self.session.leaving():
            self.ask(intent)
        if self.line is not None:
            self.line.close()
        self._go_home("")

    def _go_home(self, text: str) -> None:
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.session, self.line, self.way_in = Session(), None, WayIn()
        self._say(text)

    def _say(self, text: str) -> None:
        if isinstance(self.screen, BaseScreen):
            self.screen.told = text
        self.redraw()

    def _show(self, session: Session) -> None:
        """Make the session's screen the one on top, if it is not there already and nobody reads on about a set."""
        if isinstance(session, TableModel):
            self._look_at_last_pass(session)
        found = screen_of(session, on_wall=isinstance(self.start, AtDesk) and self.start.on_wall)
        if found is None or any(type(screen) is found.kind for screen in self.screen_stack):
            return
        if found.kind is SeatsScreen and self.waits:
            return
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.push_screen(found.make())

    @property
    def waits(self) -> str:
        """What waits at the table while something else is read, in a few words; nothing if empty."""
        return waiting_in(self.screen_stack)

    def show_table(self) -> None:
        """Go to what waits at the table."""
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self._show(self.session)

    def push_screen(self, screen: Screen[None]) -> None:  # type: ignore[override]
        """Show a screen in the player's look."""
        screen.set_class(self.look.theme == "light", "light")
        super().push_screen(screen)

    def _tick(self) -> None:
        if self.screen_stack and isinstance(self.screen, BaseScreen):
            self._run_clock()
            self.screen.tick()

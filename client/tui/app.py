"""The full-screen client: holds the model, the line to the table and the player's look, and shows the screen
that fits what was heard.

Decides nothing about the game and owns no hidden tile. Textual is imported here, under screens and under
widgets only, so that the other commands start fast.
"""

import asyncio
import datetime
import secrets
import time
from collections.abc import Callable, Coroutine, Iterable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

from textual import work
from textual.app import App, SystemCommand
from textual.screen import Screen
from textual.worker import Worker, WorkerCancelled, WorkerFailed

from client.coach.process import CoachService
from client.coach.queue import Coaching, Service
from client.connection.link import Connected, Ended, Heard, Lost
from client.connection.opened import Line, Opened, Opening
from client.models.desk import DeskModel
from client.models.hint import Asked, Hint, pass_made
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from client.storage.history_db import Source
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.ports import AtClock, AtDesk, AtDrill, AtHome, AtHost, AtJoin, AtSolo, AtVisit, Openers, Start
from client.tui.screens.base import BaseScreen
from client.tui.screens.desk import DeskScreen
from client.tui.screens.end import HeatEndScreen, SetEndScreen
from client.tui.screens.help import HelpScreen, LeaveScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.join import JoinScreen
from client.tui.screens.looks import LookScreen
from client.tui.screens.real_tiles import RealTilesScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.shared_clock import SharedClockScreen
from client.tui.screens.table import TableScreen
from shared.rules.drills import Laid
from shared.rules.intents import Intent, Leave
from shared.rules.settings import Settings
from shared.troubles import describe_error
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import DeskIntent
from shared.wire.group_views import GroupView
from shared.wire.messages import PORT, Done, HeatFile, OwnHeat, OwnTimes, Refused
from shared.wire.views import View, set_begun

TICK_S = 0.1


def monotonic_ms() -> int:
    """Return the time of this machine's monotonic clock in milliseconds."""
    return time.monotonic_ns() // 1_000_000


def wall_stamp() -> str:
    """Return the wall time as RFC 3339 text."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


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
        self.journal = journal or Journal()
        self.coaching = Coaching(coach or CoachService(), self.journal, self.redraw)
        self._keeping: set[asyncio.Task[None]] = set()
        self.model = TableModel()
        self.desk = DeskModel()
        self.group = SharedClockModel()
        self.addresses: tuple[str, ...] = ()
        self.opened: Opened | None = None
        self.beacon = ""
        self.line: Line | None = None
        self._quits = False
        self._table: Worker[None] | None = None
        self.animation_level = "none"

    # ---- beginning and going between screens

    def on_mount(self) -> None:
        """Show the first screen and start the clock that redraws."""
        self.set_interval(TICK_S, self._tick)
        if isinstance(self.start, AtVisit):
            self.push_screen(JoinScreen(self.start.address, fixed=True))
            return
        self.push_screen(HomeScreen())
        match self.start:
            case AtHost(settings):
                self.push_screen(HostScreen(settings))
            case AtJoin(address, code):
                self.push_screen(JoinScreen(address, code))
                if address and code and self.player:
                    self.open_table(self.openers.join(address, self.player, code))
            case AtSolo(settings):
                self.open_solo(settings)
            case AtClock(settings, bell, together):
                self.look = replace(self.look, bell=self.look.bell or bell)
                (self.time_together if together else self.time_real_tiles)(settings)
            case AtDrill(laid, card):
                self.open_drill(laid, card)
            case AtDesk(opening):
                self.open_table(opening())

    def open_solo(self, settings: Settings) -> None:
        """Open a table with three bots in this process."""
        self.open_table(self.openers.solo(settings, self.player or "You"))

    def open_desk(self, settings: Settings) -> None:
        """Open an evening of several tables in this process, and be its desk."""
        if self.openers.desk is not None:
            self.open_table(self.openers.desk(settings, self.port))

    def open_drill(self, laid: tuple[Laid, ...], card: str) -> None:
        """Play laid heats at a table with three bots; they are marked as drills wherever they are kept."""
        if self.openers.drill is not None:
            opening = self.openers.drill(laid, self.player or "You", card)
            self.open_table(opening, laid)

    def time_real_tiles(self, settings: Settings) -> None:
        """Open the clock for people with tiles on a table."""
        keep = self.journal.real_tiles(settings, self.random_bytes(8).hex())
        self.push_screen(RealTilesScreen(settings, keep, self.stamp))

    def time_together(self, settings: Settings) -> None:
        """Open that clock for people who each have a machine."""
        if self.openers.together is not None:
            self.open_table(self.openers.together(settings, self.player or "Host", self.port))

    def open_table(self, opening: Opening, drills: tuple[Laid, ...] = ()) -> None:
        """Open a table and listen to it; a table that was open before is left alone. drills are what is laid there."""
        self._table = self._listen(opening, drills)

    async def on_unmount(self) -> None:
        """Wait until the line and what stands behind it are closed and every heat is kept; the coach stops."""
        if self._table is not None:
            with suppress(WorkerFailed, WorkerCancelled):
                await self._table.wait()
        try:
            await asyncio.gather(*self._keeping)
        finally:
            await self.coaching.close()

    @work(exclusive=True, group="table")
    async def _listen(self, opening: Opening, drills: tuple[Laid, ...]) -> None:
        self.model, self.addresses = model, _ = TableModel(drills=drills), ()
        self.desk, self.group = DeskModel(), SharedClockModel()
        try:
            async with opening as opened:
                self.line, self.opened = opened.line, opened
                self.show_addresses(opened.addresses)
                await opened.line.run(lambda heard: self.hear(heard) if self.model is model else None)
        except ValueError as error:
            self.hear(Ended(str(error)))
        except OSError as error:
            self.hear(Ended(f"The table could not be opened: {describe_error(error)}."))
        finally:
            self.line = self.opened = None
            if self._quits:
                self.exit()

    def show_addresses(self, addresses: tuple[str, ...]) -> None:
        """Show these addresses of the machine to guests, and announce the table at no others."""
        self.addresses, self.beacon = addresses, ""
        if self.opened is not None:
            self.opened.announce(addresses, self._beacon_says)

    def _beacon_says(self, text: str) -> None:
        self.beacon = text
        self.redraw()

    def ask(self, intent: Intent) -> None:
        """Send an intent to the table, or to the shared clock."""
        if self.line is not None and self.group.view is not None:
            self.group.sent(self.line.ask(intent, self.group.view.heat_number))
        elif self.line is not None:
            self.model.sent(self.line.ask(intent, self.model.heat_number), intent)

    def order(self, order: DeskIntent) -> None:
        """Send what the desk asks to the club."""
        if self.line is not None:
            self.line.ask(order, 0)

    def hear(self, heard: Heard) -> None:
        """Take in what came over the line and show it."""
        match heard:
            case View():
                rtt_ms = self.line.rtt_ms if self.line else 0
                self.model.hear(heard, self.now_ms(), rtt_ms)
                self._show(heard)
                self._look_at_last_pass()
            case GroupView():
                self.group.hear(heard, self.now_ms(), self.line.rtt_ms if self.line else 0)
                self._show_screen(SharedClockScreen, lambda: SharedClockScreen(self.group))
            case ClubView():
                self.desk.hear(heard, self.now_ms())
                self._show_screen(DeskScreen, lambda: DeskScreen(self.desk))
            case Evening():
                self.desk.hear_evening(heard)
            case Done(id=command_id):
                self.model.done(command_id)
                self.group.done(command_id)
            case Refused():
                self.model.refused(heard)
                self.group.refused(heard)
            case HeatFile() | OwnHeat():
                self._keep(heard)
            case OwnTimes():
                self._keep_times(heard)
            case Lost(text=text):
                self.model.lost(f"{text} Trying again.")
                self.group.lost(f"{text} Trying again.")
            case Ended(text=text) if not (self.model.view or self.group.view or self.desk.view):
                self._say(text)  # nobody let us in: the form that knocked stays
            case Ended(text=text):
                self._go_home(text)
            case Connected(welcome):
                self.model.connected(welcome.card)
                self.group.connected()
        self.redraw()

    def _keep(self, told: HeatFile | OwnHeat) -> None:
        """Keep a heat without waiting for the disk; one of one's own goes into the history and to the coach."""
        view = self.model.view
        laid = self.model.laid(told.heat.number) if isinstance(told, OwnHeat) else None

        async def keep() -> None:
            trouble = await asyncio.to_thread(self.storage.keep_heat, told)
            if isinstance(told, OwnHeat):
                begun = set_begun(told.heat.number, view)
                source: Source = "drill" if laid else "table"
                kept = await asyncio.to_thread(self.journal.add, told.heat, source, laid.what if laid else "", begun)
                trouble = trouble or kept.trouble
                if kept.is_new:
                    self.coaching.look_at(told.heat)
            if trouble:
                self.model.note = trouble
                self.redraw()

        self.model.ended(told)
        self.begin_keeping(keep())

    def _keep_times(self, told: OwnTimes) -> None:
        """Keep one's own times of a heat with real tiles; what is told again is kept once."""

        async def keep() -> None:
            kept = await asyncio.to_thread(self.journal.add, told.heat, "real tiles", "", 1)
            if kept.trouble:
                self.group.note = kept.trouble
                self.redraw()

        self.begin_keeping(keep())

    def begin_keeping(self, keeping: Coroutine[None, None, None]) -> None:
        """Let something be written while the screen goes on; the program does not end before that is done."""
        task = asyncio.create_task(keeping)
        self._keeping.add(task)
        task.add_done_callback(self._keeping.discard)

    def _look_at_last_pass(self) -> None:
        """Ask the coach about the pass that was made last, once, where the host wants hints after each pass."""
        asked = pass_made(self.model.heat, self.model.view.settings if self.model.view else None)
        if asked and (self.model.hint is None or self.model.hint.step != asked.step):
            self.model.hint = Hint(asked.step)
            self._hint(self.model, asked)

    @work(exclusive=True, group="hint")
    async def _hint(self, model: TableModel, asked: Asked) -> None:
        try:
            compared = await self.coaching.hint(model.card_text, asked)
            hint = Hint(asked.step, compared)
        except ValueError as error:
            hint = Hint(asked.step, trouble=str(error))
        if model.hint and model.hint.step == asked.step:
            model.hint = hint
            self.redraw()

    def redraw(self) -> None:
        """Draw the screen on top again."""
        if self.screen_stack and isinstance(self.screen, BaseScreen):
            self.screen.redraw()

    def show_help(self) -> None:
        """Show the help of the screen on top."""
        if isinstance(self.screen, BaseScreen) and not isinstance(self.screen, HelpScreen | LeaveScreen):
            self.push_screen(HelpScreen(self.screen.ABOUT, self.screen.help_keys()))

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

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Offer every key of the screen in the command palette."""
        if isinstance(screen, BaseScreen):
            for shown, does, key in screen.help_keys():
                if key:
                    yield SystemCommand(does.capitalize(), f"key: {shown}", partial(screen.do, key))
            yield SystemCommand("Help", "key: ?", self.show_help)

    async def action_quit(self) -> None:
        """Quit; while a heat is running, ask first."""
        if warning := self._warning():
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
        self.leave()

    def ask_to_leave(self) -> None:
        """Leave the table; while a heat is running, ask first."""
        if warning := self._warning():
            self.push_screen(LeaveScreen(self.leave, warning))
        else:
            self.leave()

    def _warning(self) -> str:
        """Say what leaving means while a heat is running, or for others at a table of this machine; nothing else."""
        heat = self.model.heat
        runs = self.group.in_heat or (heat is not None and heat.step is not None)
        if self.opened is not None and self.opened.addresses and (runs or self._has_guests()):
            what = "clock" if self.group.view else "table"
            later = ", paused until you go on with it" if self._goes_on_later() else ""
            return f"This machine keeps the {what}: if you leave, it closes for everybody{later}."
        if not runs:
            return ""
        if self.group.in_heat:
            return "A heat is running. If you leave, the others go on without you, and it is not kept among your heats."
        if self.model.view is not None and self.model.view.host:
            return "A heat is running. If you leave, it ends here and is not kept."
        return "A heat is running. If you leave, a bot plays on in your seat."

    def _goes_on_later(self) -> bool:
        """Whether this machine keeps a table, or a clock, whose set is not over."""
        if self.opened is None or not self.opened.addresses:
            return False
        if self.group.view is not None:
            return self.group.view.phase in ("step", "set-up")
        return self.model.view is not None and self.model.view.phase in ("heat", "between")

    def _has_guests(self) -> bool:
        if self.group.view is not None:
            return self.group.has_others
        view = self.model.view
        chairs = view.chairs if view is not None else ()
        return any(chair.sitter == "person" and chair.connected and not chair.host for chair in chairs)

    def leave(self) -> None:
        """Give the chair up and go home; the host of a set that is not over keeps it, to go on with later."""
        if not self._goes_on_later():
            self.ask(Leave())
        if self.line is not None:
            self.line.close()
        self._go_home("")

    def _go_home(self, text: str) -> None:
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.model, self.group = TableModel(), SharedClockModel()
        self._say(text)

    def _say(self, text: str) -> None:
        if isinstance(self.screen, BaseScreen):
            self.screen.told = text
        self.redraw()

    def _show(self, view: View) -> None:
        """Make the screen of the view's phase the one on top, if it is not there already."""
        wanted = {"seating": SeatsScreen, "heat": TableScreen, "between": HeatEndScreen, "over": SetEndScreen}
        kind = wanted[view.phase]
        self._show_screen(kind, lambda: kind(self.model))

    def _show_screen(self, kind: type[BaseScreen], make: Callable[[], BaseScreen]) -> None:
        if any(type(screen) is kind for screen in self.screen_stack):
            return
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.push_screen(make())

    def push_screen(self, screen: Screen[None]) -> None:  # type: ignore[override]
        """Show a screen in the player's look."""
        screen.set_class(self.look.theme == "light", "light")
        super().push_screen(screen)

    def _tick(self) -> None:
        if self.screen_stack and isinstance(self.screen, BaseScreen):
            self.screen.tick()

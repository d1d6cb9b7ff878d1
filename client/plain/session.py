"""The table on standard input and output, line by line: for a screen reader, a pipe, or a bare terminal.

The shell around client.plain.table: it reads lines, prints lines and waits; what they mean is decided there. A
line from a pipe waits until the table asks for something, so that a whole heat can be written in advance; what
a person types is answered at once. The end of the input means leaving the table.
"""

import asyncio
import contextlib
import os
import secrets
import shutil
import sys
import threading
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import TYPE_CHECKING

from client.coach.process import CoachService
from client.coach.queue import Coaching, Looking, Service
from client.connection.link import Connected, Heard, Lost
from client.connection.opened import Line, Opened
from client.console import is_terminal, say
from client.models.hint import Asked, Hint
from client.models.wall import Part
from client.plain.ask import bars_said
from client.plain.evening import TEACHER_SCREEN
from client.plain.sentences import Kind
from client.plain.table import AT_ONCE, LEAVE, QUIT, PlainTable, Reply
from client.reports.last_heats import kept_targets
from client.storage.card_files import find_played
from client.storage.heat_files import keep
from client.storage.history_db import Source
from client.storage.journal import Journal
from client.storage.presets import load_presets, presets_folder
from client.storage.wall_files import keep_seen, recall_seen
from client.text import wrapped
from shared.cards.owned import is_copy, not_yours
from shared.cards.play import complete
from shared.rules.seat_heat import SeatHeat
from shared.wire.club_views import ClubView
from shared.wire.group_views import GroupView
from shared.wire.messages import HeatFile, OwnHeat, Welcome
from shared.wire.views import View, set_begun

if TYPE_CHECKING:
    from shared.coach.filling import Filled

_LONGEST = 10_000
CLOCK_SCREEN = "This is a shared clock for real tiles; it needs the full screen: racktempo join without --plain."
Lines = asyncio.Queue[str | None]
"""Lines that were typed; None is the end of the input."""


async def play(
    line: Line,
    lines: Lines,
    say: Callable[[str], None],
    folder: Path,
    journal: Journal,
    is_typed: bool,
    kind: Kind = "with others",
    coach: Service | None = None,
    own_card: str = "",
) -> int:
    """Play at the table that a line leads to until it or the input ends.

    The files of heats are kept in folder, and one's own heats in the journal as well.

    is_typed says that a person writes the lines; coach judges passes and heats; own_card is the text of one's own card.
    Returns the exit code: 1 if the table was never reached, else 0.
    """
    table = PlainTable(secrets.token_bytes, kind, recall_seen, lambda: load_presets(presets_folder()).found)
    session = _Session(table, line, lines, say, folder, journal, is_typed, own_card)
    session.coaching = Coaching(coach, journal, session.looked) if coach else None
    return await session.run()


class _Session:
    def __init__(
        self,
        table: PlainTable,
        line: Line,
        lines: Lines,
        say: Callable[[str], None],
        folder: Path,
        journal: Journal,
        is_typed: bool,
        own_card: str,
    ) -> None:
        self.coaching: Coaching | None = None
        self._own_card = own_card
        self._looking: Looking | None = None
        self._own: SeatHeat | None = None
        self._table = table
        self._line, self._lines, self._say = line, lines, say
        self._folder, self._journal = folder, journal
        self._is_typed = is_typed
        self._loop = asyncio.get_running_loop()
        self._timer: asyncio.TimerHandle | None = None
        self._changed = asyncio.Event()
        self._keeping: list[asyncio.Task[None]] = []
        self._hinting: asyncio.Task[None] | None = None
        self._was_reached = False
        self._said_of_card = False
        self._ends = False

    async def run(self) -> int:
        typing = asyncio.create_task(self._type())
        try:
            await self._line.run(self._hear)
        finally:
            if self._timer:
                self._timer.cancel()
            typing.cancel()
            await asyncio.wait((typing, *self._keeping))
            self._ends = True
            if self.coaching:
                await self.coaching.close()
            if self._hinting:
                self._hinting.cancel()
        for task in (typing, *self._keeping):
            if not task.cancelled():
                task.result()
        return 0 if self._was_reached else 1

    def _now_ms(self) -> int:
        return int(self._loop.time() * 1_000)

    def _hear(self, heard: Heard) -> None:
        if isinstance(heard, GroupView):
            self._turn_away(CLOCK_SCREEN)
            return
        if isinstance(heard, ClubView) and heard.role == "teacher":
            self._turn_away(TEACHER_SCREEN)
            return
        if isinstance(heard, Lost) and self._table.is_over:
            self._line.close()
        self._was_reached |= isinstance(heard, Connected)
        if isinstance(heard, Connected):
            self._look_for_card(heard.welcome)
        self._answer(self._table.hear(heard, self._now_ms(), self._line.rtt_ms))
        if isinstance(heard, OwnHeat):
            heard = heard.model_copy(update={"heat": self._table.wall.with_evidence(heard.heat)})
            self._own = heard.heat
        if self.coaching and (asked := self._table.pass_to_judge()):
            self._hinting = asyncio.create_task(self._judge(self.coaching, asked))
        if isinstance(heard, HeatFile | OwnHeat):
            self._see_to(self._keep(heard, self._table.view))
        self._changed.set()

    def _see_to(self, doing: Coroutine[None, None, None]) -> None:
        """Let something be done while the table goes on; the session does not end before it is."""
        task = asyncio.create_task(doing)
        task.add_done_callback(lambda _: self._changed.set())
        self._keeping.append(task)

    def _look_for_card(self, welcome: Welcome) -> None:
        """Look for a copy of a card that the table does not tell; say once, in one sentence, if there is none."""

        async def look() -> None:
            own = self._own_card if is_copy(self._own_card, welcome.card_digest) else ""
            text = own or await asyncio.to_thread(find_played, welcome.card_digest)
            if text:
                self._table.has_card(text)
            elif not self._said_of_card:
                self._said_of_card = True
                self._say(not_yours(welcome.card_title))

        if welcome.card_digest and not welcome.card:
            self._see_to(look())

    async def _judge(self, coaching: Coaching, asked: Asked) -> None:
        """Say what the coach finds of the last pass."""
        try:
            hint = Hint(asked.step, await coaching.hint(self._table.card_text, asked))
        except ValueError as error:
            hint = Hint(asked.step, trouble=str(error))
        self._answer(self._table.hinted(hint))

    async def _keep(self, told: HeatFile | OwnHeat, view: View | None) -> None:
        """Keep a heat, one's own in the history as well, while the table goes on; print where it is, or what failed."""
        kept = await asyncio.to_thread(keep, told, self._folder)
        if isinstance(kept, str):
            self._say(kept)
        elif kept.is_new and isinstance(told, HeatFile):
            self._say(f"The whole heat is kept as {kept.path}")
        if isinstance(told, HeatFile):
            wall = self._table.wall
            wall.take(await asyncio.to_thread(wall.judge, told.number, told.data, complete))
            is_shared = self._table.kind == "with others"
            for text in wall.result(told.number) if is_shared else filter(None, wall.line(told.number)[:1]):
                self._say(text)
        if isinstance(told, OwnHeat):
            begun = set_begun(told.heat.number, view)
            source: Source = "drill" if self._table.kind == "guided" else "table"
            detail = "guided heat" if source == "drill" else ""
            added = await asyncio.to_thread(self._journal.add, told.heat, source, detail, begun)
            named = self._table.named.get(told.heat.number, ())
            if not named and not added.is_new:  # another program may have played it
                read = await asyncio.to_thread(self._journal.read)
                self._table.named[told.heat.number] = kept_targets(read, told.heat)
            trouble = added.trouble or (
                await asyncio.to_thread(self._journal.add_targets, told.heat, named) if named else ""
            )
            if trouble:
                self._say(trouble)
            if self.coaching:
                self._looking = self.coaching.look_at(told.heat)

    def looked(self) -> None:
        """Say what the coach has found of the heat that is over, once it has looked at all of it."""
        looking = self._looking
        if looking and not looking.running and not self._ends:
            self._looking = None
            self._answer(self._table.reviewed(looking.heat, looking.review, looking.said))
            self._changed.set()

    def _fill(self) -> Reply:
        """Let the coach play on the rack of the heat that is over."""
        own = self._own
        if own is None or self._table.is_playing:
            return Reply(["When a heat is over, fill says whether your rack fills."])
        if self.coaching is None or own.settings.hints == "none":
            return Reply(["The coach says nothing at this table."])
        self._see_to(self._play_on(self.coaching, own))
        return Reply(["The coach plays your rack on ..."])

    async def _play_on(self, coaching: Coaching, heat: SeatHeat) -> None:
        filled: Filled | None = None
        try:
            card, position = await coaching.after(heat)
            async for found in coaching.filling(card, position, 1):
                filled = found
        except ValueError as error:
            self._say(str(error))
        if filled:
            for text in (filled.headline, *filled.said, *bars_said(filled.bars)):
                self._say(text)

    def _turn_away(self, text: str) -> None:
        """Plain lines cannot show a clock for real tiles or a teacher's racks: give the place back and explain."""
        self._say(text)
        self._was_reached = False
        self._leave()

    async def _type(self) -> None:
        """Read typed lines until they end, then leave; if the heat needs no more answers, follow it to its end."""
        while (line := await self._lines.get()) is not None:
            first = line.split()[0].lower() if line.split() else ""
            if not self._is_typed and first in QUIT:
                break  # a script means what it says; only a person is asked again
            if not self._is_typed and (first not in (*AT_ONCE, "fill") or (not first and self._table.takes_enter)):
                await self._asked()
            reply = self._fill() if first == "fill" else self._table.read(line, self._now_ms())
            self._answer(reply)
            if reply.quits:
                break
        else:
            if not self._is_typed:
                await self._heard_out()
        if not self._is_typed:
            await self._settled()
        self._leave()

    def _leave(self) -> None:
        self._answer(LEAVE)
        self._line.close()

    async def _asked(self) -> None:
        """Wait until the table waits for this player."""
        while not self._table.is_asked:
            self._changed.clear()
            await self._changed.wait()

    async def _heard_out(self) -> None:
        """Wait until a running heat asks something of this player, or is over and the coach has looked at it."""
        while (self._table.is_playing and not self._table.is_asked) or self._is_looking:
            self._changed.clear()
            await self._changed.wait()

    @property
    def _is_looking(self) -> bool:
        """Whether a heat is still to be kept or to be looked at."""
        return self._looking is not None or any(not task.done() for task in self._keeping)

    async def _settled(self) -> None:
        """Wait until the table was reached and has answered all that was sent."""
        while self._table.is_waiting:
            self._changed.clear()
            await self._changed.wait()

    def _answer(self, reply: Reply) -> None:
        for text in reply.lines:
            self._say(text)
        if reply.part.seen:
            self._see_to(self._take_part(reply.part))
        view = self._table.view
        for intent in reply.intents:
            self._table.sent(self._line.ask(intent, view.heat_number if view else 0), intent)
        self._set_timer()

    async def _take_part(self, part: Part) -> None:
        """Keep what was seen of a wall, and only then send one's own part in it."""
        if part.seen and (trouble := await asyncio.to_thread(keep_seen, part.seen)):
            self._say(trouble)
        self._answer(Reply(intents=list(part.intents)))

    def _set_timer(self) -> None:
        if self._timer:
            self._timer.cancel()
        due_ms = self._table.next_ms()
        if due_ms is not None:
            self._timer = self._loop.call_at(due_ms / 1_000, self._tick)

    def _tick(self) -> None:
        self._answer(self._table.tick(self._now_ms() + 1))


def read_lines(handle: int = 0) -> Lines:
    """Return the lines that come over a file handle as they come, read by a thread of their own.

    The thread reads the handle itself: one that waits inside Python's own standard input would hold its lock
    when the process ends.
    """
    lines: Lines = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def put(line: str | None) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended before the input
            loop.call_soon_threadsafe(lines.put_nowait, line)

    def read() -> None:
        rest = b""
        while data := _read(handle):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                put(line[:_LONGEST].decode(errors="replace"))
            rest = rest[:_LONGEST]
        if rest:
            put(rest.decode(errors="replace"))
        put(None)

    threading.Thread(target=read, name="racktempo input", daemon=True).start()
    return lines


def say_whole_words(text: str) -> None:
    """Write a line to standard output; on a terminal no word is broken at the end of a line."""
    say(*(wrapped(text, shutil.get_terminal_size().columns) if is_terminal(sys.stdout) else [text]))


async def play_here(opened: Opened, folder: Path, journal: Journal, kind: Kind) -> int:
    """Play on this process's own standard input and output."""
    lines, is_typed, coach = read_lines(), is_terminal(sys.stdin), CoachService()
    return await play(opened.line, lines, say_whole_words, folder, journal, is_typed, kind, coach, opened.card)


def _read(handle: int) -> bytes:
    try:
        return os.read(handle, 4096)
    except OSError:
        return b""

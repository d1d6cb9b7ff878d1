"""The table on standard input and output, line by line: for a screen reader, a pipe, or a bare terminal.

The shell around client.plain.table: it reads lines, prints lines and waits; what they mean is decided there. A
line from a pipe waits until the table asks for something, so that a whole heat can be written in advance; what
a person types is answered at once. The end of the input means leaving the table.
"""

import asyncio
import contextlib
import os
import secrets
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from client.connection.link import Connected, Heard
from client.connection.opened import Line
from client.console import is_terminal, say
from client.models.wall import Part
from client.plain.table import AT_ONCE, LEAVE, PlainTable, Reply
from client.storage.card_files import find_played
from client.storage.heat_files import keep
from client.storage.journal import Journal
from client.storage.wall_files import keep_seen, recall_seen
from shared.cards.owned import not_yours
from shared.cards.play import complete
from shared.wire.group_views import GroupView
from shared.wire.messages import HeatFile, OwnHeat, Welcome
from shared.wire.views import View, set_begun

_LONGEST = 10_000
Lines = asyncio.Queue[str | None]
"""Lines that were typed; None is the end of the input."""


async def play(
    line: Line,
    lines: Lines,
    say: Callable[[str], None],
    folder: Path,
    journal: Journal,
    is_typed: bool,
    begins: bool = False,
) -> int:
    """Play at the table that a line leads to until it or the input ends.

    The files of heats are kept in folder, and one's own heats in the journal as well.

    is_typed says that a person writes the lines, begins that the first heat begins by itself. Returns the exit
    code: 1 if the table was never reached, else 0.
    """
    table = PlainTable(secrets.token_bytes, begins, recall_seen)
    return await _Session(table, line, lines, say, folder, journal, is_typed).run()


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
    ) -> None:
        self._table = table
        self._line, self._lines, self._say = line, lines, say
        self._folder, self._journal = folder, journal
        self._is_typed = is_typed
        self._loop = asyncio.get_running_loop()
        self._timer: asyncio.TimerHandle | None = None
        self._changed = asyncio.Event()
        self._keeping: list[asyncio.Task[None]] = []
        self._was_reached = False
        self._said_of_card = False

    async def run(self) -> int:
        typing = asyncio.create_task(self._type())
        try:
            await self._line.run(self._hear)
        finally:
            if self._timer:
                self._timer.cancel()
            typing.cancel()
            await asyncio.wait((typing, *self._keeping))
        for task in (typing, *self._keeping):
            if not task.cancelled():
                task.result()
        return 0 if self._was_reached else 1

    def _now_ms(self) -> int:
        return int(self._loop.time() * 1_000)

    def _hear(self, heard: Heard) -> None:
        if isinstance(heard, GroupView):
            self._turn_away()
            return
        self._was_reached |= isinstance(heard, Connected)
        if isinstance(heard, Connected):
            self._look_for_card(heard.welcome)
        self._answer(self._table.hear(heard, self._now_ms(), self._line.rtt_ms))
        if isinstance(heard, OwnHeat):
            heard = heard.model_copy(update={"heat": self._table.wall.with_evidence(heard.heat)})
        if isinstance(heard, HeatFile | OwnHeat):
            self._keeping.append(asyncio.create_task(self._keep(heard, self._table.view)))
        self._changed.set()

    def _look_for_card(self, welcome: Welcome) -> None:
        """Say once, in one sentence, if the table's card is not told and no copy of it is at hand."""

        async def look() -> None:
            if not await asyncio.to_thread(find_played, welcome.card_digest):
                self._say(not_yours(welcome.card_title))

        if welcome.card_digest and not welcome.card and not self._said_of_card:
            self._said_of_card = True
            self._keeping.append(asyncio.create_task(look()))

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
            for text in wall.result(told.number):
                self._say(text)
        if isinstance(told, OwnHeat):
            begun = set_begun(told.heat.number, view)
            added = await asyncio.to_thread(self._journal.add, told.heat, "table", "", begun)
            named = self._table.named.get(told.heat.number, ())
            trouble = added.trouble or (
                await asyncio.to_thread(self._journal.add_targets, told.heat, named) if named else ""
            )
            if trouble:
                self._say(trouble)

    def _turn_away(self) -> None:
        """Plain lines cannot show a clock for real tiles: give the place back and explain."""
        self._say("This is a shared clock for real tiles; it needs the full screen: racktempo join without --plain.")
        self._was_reached = False
        self._leave()

    async def _type(self) -> None:
        """Read typed lines until they end, then leave; if the heat needs no more answers, follow it to its end."""
        while (line := await self._lines.get()) is not None:
            first = line.split()[0].lower() if line.split() else ""
            if not self._is_typed and first == "quit":
                break  # a script means what it says; only a person is asked again
            if not self._is_typed and first not in AT_ONCE:
                await self._asked()
            reply = self._table.read(line, self._now_ms())
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
        """Wait until a running heat asks something of this player, or is over."""
        while self._table.is_playing and not self._table.is_asked:
            self._changed.clear()
            await self._changed.wait()

    async def _settled(self) -> None:
        """Wait until the table was reached and has answered all that was sent."""
        while self._table.is_waiting:
            self._changed.clear()
            await self._changed.wait()

    def _answer(self, reply: Reply) -> None:
        for text in reply.lines:
            self._say(text)
        if reply.part.seen:
            self._keeping.append(asyncio.create_task(self._take_part(reply.part)))
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


async def play_here(line: Line, folder: Path, journal: Journal, begins: bool) -> int:
    """Play on this process's own standard input and output."""
    return await play(line, read_lines(), say, folder, journal, is_terminal(sys.stdin), begins)


def _read(handle: int) -> bytes:
    try:
        return os.read(handle, 4096)
    except OSError:
        return b""

"""Heats that a table tells: written to disk beside the screen, and handed to the history and the coach.

Never makes the screen wait, and never decides what may be told: it keeps what came over the line.
"""

import asyncio
from collections.abc import Callable, Coroutine

from client.coach.queue import Coaching
from client.models.session import Session
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from client.storage.history_db import Source
from client.storage.journal import Journal
from client.storage.preferences import Storage
from shared.cards.play import complete
from shared.rules.seat_heat import SeatHeat
from shared.wire.messages import HeatFile, OwnHeat, OwnTimes


class Keeping:
    """What is being written. changed is called when there is something new to draw, with a sentence about what went
    wrong, or nothing."""

    def __init__(self, storage: Storage, journal: Journal, coaching: Coaching, changed: Callable[[str], None]) -> None:
        self._storage, self._journal, self._coaching, self._changed = storage, journal, coaching, changed
        self._tasks: set[asyncio.Task[None]] = set()

    def keep(self, keeping: Coroutine[None, None, None]) -> "asyncio.Task[None]":
        """Let something be written while the screen goes on; done waits for it."""
        task = asyncio.create_task(keeping)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    async def done(self) -> None:
        """Wait until everything is written."""
        await asyncio.gather(*self._tasks)

    def take(self, told: HeatFile | OwnHeat | OwnTimes, session: Session) -> None:
        """Keep a heat; one of one's own goes into the history and to the coach, a whole one is checked against what
        this client saw of it."""
        wall = session.wall
        if isinstance(told, OwnHeat):
            told = told.model_copy(update={"heat": wall.with_evidence(told.heat)})
        played: tuple[SeatHeat, Source, str, int] | None = None
        targets = session.targets if isinstance(session, TableModel) else {}
        number = told.heat.number if isinstance(told, OwnHeat) else 0
        named = targets[number].named if number in targets else ()
        if isinstance(told, OwnTimes):
            played = told.heat, "real tiles", "", 1
            if isinstance(session, SharedClockModel):
                session.own_times[told.heat.commitment] = told.heat
        else:
            session.ended(told)
        if isinstance(told, OwnHeat):
            laid, first = session.laid(told.heat.number), session.first_of_set(told.heat.number)
            played = told.heat, "drill" if laid else "table", laid.what if laid else "", first
            if session.guided:
                played = told.heat, "drill", "guided heat", first

        async def keep() -> None:
            trouble = "" if isinstance(told, OwnTimes) else await asyncio.to_thread(self._storage.keep_heat, told)
            if played is not None:
                kept = await asyncio.to_thread(self._journal.add, *played)
                trouble = trouble or kept.trouble
                if named:
                    trouble = trouble or await asyncio.to_thread(self._journal.add_targets, played[0], named)
                if kept.is_new and isinstance(told, OwnHeat):
                    self._coaching.look_at(told.heat)
            if isinstance(told, HeatFile):
                wall.take(await asyncio.to_thread(wall.judge, told.number, told.data, complete))
                self._changed("")
            if trouble:
                self._changed(trouble)

        just_ended = session.in_heat and session.heat_number == number
        task = self.keep(keep())
        if just_ended and isinstance(told, OwnHeat):
            self._coaching.look_at(told.heat, kept=task)  # the end screen waits for it, and not for the disk

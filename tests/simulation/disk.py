"""A disk that fails on purpose: slow, full for a while, or the power goes before, during or after a write."""

import asyncio
from collections.abc import Callable, Iterable
from random import Random

from server.store import Append, Appends, ClubAppend, Database, Store, StoreFault


class Killed(BaseException):
    """The server's process ends here, in the middle of a write."""


class FailingDatabase(Database):
    """The real database in memory, with faults by seed. kills and fills are chances for each write.

    written is called with what reached the disk in one step; died when the process is to end.
    """

    def __init__(
        self,
        random: Random,
        kills: float,
        fills: float,
        written: Callable[[Appends], None],
        died: Callable[[], None],
        now_ms: Callable[[], int],
    ) -> None:
        super().__init__(None)
        self._random, self._kills, self._fills = random, kills, fills
        self._written, self._died, self._now_ms = written, died, now_ms
        self._full_until_ms = 0
        self.faults = {"disk full": 0, "killed before": 0, "killed during": 0, "killed after": 0}

    def commit(self, appends: Iterable[Append | ClubAppend]) -> None:
        """Write, fail, or die."""
        batch = list(appends)
        if self._now_ms() < self._full_until_ms:
            raise StoreFault("The simulated disk is full.")
        if self._random.random() < self._fills:
            self.faults["disk full"] += 1
            self._full_until_ms = self._now_ms() + self._random.randrange(1, 4_000)
            raise StoreFault("The simulated disk is full.")
        moment = self._random.choice(("before", "during", "after")) if self._random.random() < self._kills else ""
        if moment:
            self.faults[f"killed {moment}"] += 1
        if moment == "before":
            self._die()
        super().commit(self._dying(batch) if moment == "during" else batch)
        self._written(batch)
        if moment == "after":
            self._die()

    def _dying(self, batch: Appends) -> Iterable[Append | ClubAppend]:
        yield from batch
        self._die()

    def _die(self) -> None:
        self._died()
        raise Killed


class SlowStore(Store):
    """A store whose disk takes up to longest_s for a write; before it is written, asked gets what now was at first.

    Without the wait nobody could be told anything before the disk has it, whatever the order of the two were.
    """

    def __init__(
        self,
        database: Database,
        random: Random,
        longest_s: float,
        now: Callable[[], tuple[int, int]],
        asked: Callable[[tuple[int, int]], None],
    ) -> None:
        super().__init__(database, inline=True)
        self._random, self._longest_s, self._now, self._asked = random, longest_s, now, asked

    async def append(self, appends: Appends) -> None:
        """Wait, then write. Raises StoreFault."""
        asked_at = self._now()
        if self._longest_s:
            await asyncio.sleep(self._random.uniform(0, self._longest_s))
        self._asked(asked_at)  # Other tables may have asked in the meantime.
        await super().append(appends)

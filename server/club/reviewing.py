"""Heats of an evening looked at one seat after the other, as long as there are any; nobody waits for it.

Decides only what comes next. What is found is told to whoever keeps the evening, who puts it on the disk; what was
not finished when the process ended is found again by whoever asks what is still to be looked at.
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Sequence

from server.club.review_process import Reviewer
from server.records import SeatKey, SeatReview
from shared.rules.seat_heat import SeatHeat

log = logging.getLogger("racktempo.reviewing")
TRIES = 2
"""So often a heat is looked at whose reviewer ends without an answer; then it is left for the host's next start."""


class Reviewing:
    """Looks at seats. left returns those without a review, the first one first; heat_of what a seat lived."""

    def __init__(
        self,
        reviewer: Reviewer,
        left: Callable[[], Sequence[SeatKey]],
        heat_of: Callable[[SeatKey], SeatHeat],
        tell: Callable[[SeatReview], None],
    ) -> None:
        self._reviewer, self._left, self._heat_of, self._tell = reviewer, left, heat_of, tell
        self._failed: Counter[SeatKey] = Counter()
        self._told: set[SeatKey] = set()
        self._wake = asyncio.Event()

    def look_again(self) -> None:
        """Something may have come to look at."""
        self._wake.set()

    @property
    def given_up(self) -> frozenset[SeatKey]:
        """The seats that cannot be looked at now."""
        return frozenset(key for key, times in self._failed.items() if times >= TRIES)

    async def run(self) -> None:
        """Look at what comes until cancelled; the reviewer rests while there is nothing."""
        try:
            while True:
                self._wake.clear()
                while key := self._next():
                    await self._look(key)
                await self._reviewer.close()
                await self._wake.wait()
        finally:
            await self._reviewer.close()

    def _next(self) -> SeatKey | None:
        waits = [key for key in self._left() if key not in self._told and self._failed[key] < TRIES]
        return min(waits, key=lambda key: self._failed[key], default=None)

    async def _look(self, key: SeatKey) -> None:
        try:
            found = await self._reviewer.look(self._heat_of(key))
        except Exception as error:
            # A heat that cannot be looked at must not keep the others from it.
            self._failed[key] += 1
            log.error("the coach met %s at table %d, heat %d, seat %d", type(error).__name__, *key)
        else:
            self._told.add(key)
            self._tell(SeatReview(table=key.table, heat=key.heat, seat=key.seat, reviewed=found))

"""The coach's reviews of an evening's heats, one seat after the other; no table waits for them.

Reviewing decides which seat comes next. Reviews keeps what was found: on the disk first, then in the results, and the
evening is told from time to time. What was not finished when the process ended is found again after the next start.
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Sequence

from server.clock import now_ms
from server.club.club import Club
from server.club.review_process import Reviewer
from server.faults import describe_fault
from server.records import SeatKey, SeatReview
from server.store import ClubAppend, Store
from shared.rules.seat_heat import SeatHeat

log = logging.getLogger("racktempo.reviewing")
TRIES = 2
"""How often we try to review a heat; after that it waits for the host's next start."""
RETRY_S = 1.0
TELL_MS = 10_000
"""While there are heats to review, results are told this often, and once at the end: every telling is a view for
everybody between heats, who read standings at leisure."""


class Reviewing:
    """Reviews seats. left returns those without a review, the first one first; heat_of what a seat lived."""

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
        """Look for heats to review: there may be new ones."""
        self._wake.set()

    @property
    def given_up(self) -> frozenset[SeatKey]:
        """The seats that cannot be reviewed now."""
        return frozenset(key for key, times in self._failed.items() if times >= TRIES)

    async def run(self) -> None:
        """Review what comes until cancelled; the reviewer rests while there is nothing."""
        try:
            while True:
                try:
                    await self._round()
                except Exception as error:
                    log.error("the reviews: %s", describe_fault(error))
                    await asyncio.sleep(RETRY_S)
        finally:
            await self._reviewer.close()

    async def _round(self) -> None:
        self._wake.clear()
        while key := self._next():
            await self._look(key)
        await self._reviewer.close()
        await self._wake.wait()

    def _next(self) -> SeatKey | None:
        waits = [key for key in self._left() if key not in self._told and self._failed[key] < TRIES]
        return min(waits, key=lambda key: self._failed[key], default=None)

    async def _look(self, key: SeatKey) -> None:
        try:
            found = await self._reviewer.look(self._heat_of(key))
        except Exception as error:
            # A heat that cannot be reviewed must not hold up the others.
            self._failed[key] += 1
            log.error("the review of table %d, heat %d, seat %d: %s", *key, describe_fault(error))
        else:
            self._told.add(key)
            self._tell(SeatReview(table=key.table, heat=key.heat, seat=key.seat, reviewed=found))


class Reviews:
    """What the coach finds in a club's heats. found is called with every review, from the task that run is in.

    Without a reviewer nothing is reviewed, and the standings show only times.
    """

    def __init__(
        self, club: Club, store: Store, reviewer: Reviewer | None, found: Callable[[SeatReview], None]
    ) -> None:
        self._club, self._store = club, store
        self._reviewing = Reviewing(reviewer, club.left_to_look_at, club.results.heat_of, found) if reviewer else None
        self._has_found = False
        self._told_ms = 0

    async def run(self) -> None:
        """Review what comes until cancelled."""
        if self._reviewing:
            await self._reviewing.run()

    def look_again(self) -> None:
        """Look for heats to review: there may be new ones."""
        if self._reviewing:
            self._reviewing.look_again()

    async def keep(self, review: SeatReview) -> None:
        """Put a review on the disk, then into the results. Raises StoreFault."""
        await self._store.append([ClubAppend(self._club.record, (review,))])
        self._club.results.take(review)
        self._has_found = True

    def progress(self) -> tuple[int, int]:
        """Return with how many seats the coach is through, and of how many."""
        if self._reviewing is None:
            return 0, 0
        left = self._club.left_to_look_at()
        through, given_up = self._club.results.looked, sum(key in self._reviewing.given_up for key in left)
        return through + given_up, through + len(left)

    def may_tell(self) -> bool:
        """Say whether what was found is to be told now."""
        through, of = self.progress()
        return self._has_found and (through == of or self._told_ms + TELL_MS <= now_ms())

    def due_ms(self) -> int | None:
        """Return when new reviews must be shown at the latest, or None if all of them were."""
        return self._told_ms + TELL_MS if self._has_found else None

    def told(self) -> None:
        """Take note that the results are being told."""
        self._has_found, self._told_ms = False, now_ms()

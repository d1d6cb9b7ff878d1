"""A coach for tests: takes a while, says what it is told to say, and can end in the middle."""

import asyncio
from collections.abc import Callable, Iterable

from server.club.review_process import ReviewerEnded
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SeatHeat


def by_name(heat: SeatHeat) -> Reviewed:
    """G01 loses 1 point in 2 passes and ends with 10, G02 loses 2 and ends with 20, and so on."""
    number = int(heat.names[heat.seat].lstrip("GP"))
    return Reviewed(loss=float(number), unforced=2, points=10.0 * number)


class FakeReviewer:
    """Takes seconds for each heat; ends instead of answering at the calls that are named, counted from 0."""

    def __init__(
        self,
        judge: Callable[[SeatHeat], Reviewed | None] = by_name,
        seconds: float = 1.0,
        ends_at: Iterable[int] = (),
    ) -> None:
        self.judge, self.seconds, self.ends_at = judge, seconds, set(ends_at)
        self.asked: list[str] = []
        self.closed = self.at_once = self.most_at_once = 0

    async def look(self, heat: SeatHeat) -> Reviewed | None:
        self.asked.append(f"{heat.number} {heat.names[heat.seat]}")
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        try:
            await asyncio.sleep(self.seconds)
        finally:
            self.at_once -= 1
        if len(self.asked) - 1 in self.ends_at:
            raise ReviewerEnded
        return self.judge(heat)

    async def close(self) -> None:
        self.closed += 1

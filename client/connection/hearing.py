"""How much is heard of a table: one of ill will must not keep a screen from its player, or fill the disk with heats.

What is beyond that waits on the line, so that the table itself has to wait with it.
"""

import asyncio
import contextlib

from shared.bucket import Bucket
from shared.codec import BadFrame
from shared.wire.club_views import ClubView, Evening, Ranking
from shared.wire.group_views import GroupView
from shared.wire.messages import MOST_HEATS, AnyServerMessage, HeatFile, OwnHeat, OwnTimes, Welcome
from shared.wire.views import View

_SAID_PER_S, _PIECE_BYTES, _HEAT_BYTES = 100, 4 * 1024, 16 * 1024
"""Messages a second after a burst of as many; a long one counts once more for each piece, a long heat as several."""
_SCREENS_PER_S = 1
LONGEST_VIEW = 148 * 1024
"""In bytes. A table has 30 KB to show after twelve heats; the standings of the fullest evening bring 115 more."""


class Hearing:
    """What one table may say. A set's heats, own and whole, come at once when somebody returns to it; another place or
    a view that needs another screen is heard once a second after the first four. closing ends every wait."""

    def __init__(self, closing: asyncio.Event) -> None:
        self._closing = closing
        self._said, self._heats = Bucket(_SAID_PER_S, _SAID_PER_S), Bucket(1, 2 * MOST_HEATS)
        self._screens, self._screen = Bucket(_SCREENS_PER_S, 4 * _SCREENS_PER_S), ""

    async def wait(self, message: AnyServerMessage, length: int) -> None:
        """Wait until a message of so many bytes may be heard; keys that were pressed meanwhile have their turn first.

        Raises:
            BadFrame: no table has so much to show.
        """
        if isinstance(message, View) and length > LONGEST_VIEW:
            raise BadFrame(f"a view of {length} bytes, where {LONGEST_VIEW} are the most")
        await asyncio.sleep(0)
        for _ in range(1 + length // _PIECE_BYTES):
            await self._wait_for(self._said)
        for _ in range(1 + length // _HEAT_BYTES if isinstance(message, OwnHeat | HeatFile | OwnTimes) else 0):
            await self._wait_for(self._heats)
        if (screen := _screen(message, self._screen)) != self._screen:
            await self._wait_for(self._screens)
            self._screen = screen

    async def _wait_for(self, bucket: Bucket) -> None:
        loop = asyncio.get_running_loop()
        while not bucket.take(now_ms := int(loop.time() * 1_000)) and not self._closing.is_set():
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(max(1, bucket.next_ms() - now_ms) / 1_000):
                    await self._closing.wait()


def _screen(message: AnyServerMessage, now: str) -> str:
    """Return a name for the screen on which a message is shown: the one that is shown now if it changes none."""
    match message:
        case Welcome(table=table, chair=chair):
            return f"chair {chair} of {table}"
        case View(phase=phase):
            return phase
        case GroupView():
            return "clock"
        case ClubView(role=role, one_table=one_table):
            return f"beside {'one table' if one_table else 'tables'}: {role}"
        case Evening() | Ranking() if not now.startswith("beside "):
            return "beside "
    return now

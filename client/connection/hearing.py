"""How much is heard of a table: one of ill will must not keep a screen from its player, or fill the disk with heats.

What is beyond that waits on the line, so that the table itself has to wait with it.
"""

import asyncio

from shared.bucket import Bucket
from shared.wire.messages import MOST_HEATS, AnyServerMessage, HeatFile, OwnHeat

_SAID_PER_S, _PIECE_BYTES = 100, 16 * 1024
"""Messages a second after a burst of four times as many; a long one counts once more for each piece."""


class Hearing:
    """What one table may say. A set's heats, own and whole, come at once when somebody returns to it."""

    def __init__(self) -> None:
        self._said, self._heats = Bucket(_SAID_PER_S, 4 * _SAID_PER_S), Bucket(1, 4 * MOST_HEATS)

    async def wait(self, message: AnyServerMessage, length: int) -> None:
        """Wait until a message of so many bytes may be heard."""
        for _ in range(1 + length // _PIECE_BYTES):
            await _wait_for(self._said)
        if isinstance(message, OwnHeat | HeatFile):
            await _wait_for(self._heats)


async def _wait_for(bucket: Bucket) -> None:
    loop = asyncio.get_running_loop()
    while not bucket.take(now_ms := int(loop.time() * 1_000)):  # noqa: ASYNC110 - nobody tells when time has passed
        await asyncio.sleep(max(1, bucket.next_ms() - now_ms) / 1_000)

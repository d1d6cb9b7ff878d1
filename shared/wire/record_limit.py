"""How much the library that hears announcements may remember of them; without the extra "lan" nobody imports this."""

from collections.abc import Callable

from zeroconf import RecordUpdate, RecordUpdateListener, Zeroconf

MOST = 500
"""So many new records are taken in before all are forgotten."""
LONGEST_BYTES = 9_000
"""The longest message of multicast DNS (RFC 6762 section 17)."""


class RecordLimit(RecordUpdateListener):
    """Makes the library forget all records as soon as it has taken in too many new ones, and calls passed; else it
    would keep them for as long as strangers want."""

    def __init__(self, zeroconf: Zeroconf, passed: Callable[[], None] = lambda: None) -> None:
        self._zeroconf, self._passed, self._new = zeroconf, passed, 0
        zeroconf.async_add_listener(self, None)

    def async_update_records(self, zc: Zeroconf, now: float, records: list[RecordUpdate]) -> None:
        """Count what is new in a packet; the library has yet to keep it."""
        self._new += sum(record.old is None for record in records)

    def async_update_records_complete(self) -> None:
        """Forget everything, the packet too, if it was too much."""
        if self._new > MOST:
            self.forget()
            self._passed()

    def forget(self) -> None:
        """Forget everything that was heard."""
        cache = self._zeroconf.cache
        for name in cache.names():
            cache.async_remove_records(cache.entries_with_name(name))
        self._new = 0


async def read_no_longer(zeroconf: Zeroconf) -> None:
    """Let no socket take more room for a packet than the longest message needs: asyncio takes 256 KiB each time, of
    which the allocator gave 2 MB not back after many."""
    await zeroconf.async_wait_for_start()
    for reader in zeroconf.engine.readers:
        reader.transport.max_size = LONGEST_BYTES  # type: ignore[attr-defined]  # asyncio's own name for it

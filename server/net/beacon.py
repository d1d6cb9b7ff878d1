"""Tells the local network that there is a table here (DNS-SD over multicast DNS), if the extra "lan" is installed.

Never a reason to stop: whatever goes wrong becomes one sentence, and people type the address instead. Says nothing
on networks whose address the host does not show, and never the code.
"""

import asyncio
import secrets
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from shared.wire.announce import SERVICE, Announcement, instance_of, txt_of

if TYPE_CHECKING:
    from zeroconf.asyncio import AsyncZeroconf

NOT_INSTALLED = "This table is not announced (the README says how): tell others the address."
NOT_ANNOUNCED = "The network does not let this table announce itself: tell people the address."


async def announce(what: Announcement, addresses: Sequence[str], say: Callable[[str], None]) -> None:
    """Announce until cancelled, then take the announcement back. say is given one sentence if that is impossible.

    addresses are this machine's own, as the host chose to show them.
    """
    try:
        from zeroconf import Error
        from zeroconf.asyncio import AsyncServiceInfo

        from shared.wire.record_limit import RecordLimit, read_no_longer
    except ImportError:
        say(NOT_INSTALLED)
        return
    line: AsyncZeroconf | None = None
    try:
        line = _line(addresses)
        RecordLimit(line.zeroconf)
        await read_no_longer(line.zeroconf)
        info = AsyncServiceInfo(
            SERVICE,
            instance_of(what),
            port=what.port,
            properties=txt_of(what),
            parsed_addresses=[address.partition("%")[0] for address in addresses],
            # A made-up name, so that the machine's own is told to nobody.
            server=f"racktempo-{secrets.token_hex(4)}.local.",
        )
        await (await line.async_register_service(info, allow_name_change=True))
        await asyncio.Event().wait()
    except (OSError, Error):
        say(NOT_ANNOUNCED)
    finally:
        if line is not None:
            await line.async_close()


def _line(addresses: Sequence[str]) -> "AsyncZeroconf":
    """Open multicast DNS on the interfaces that have these addresses."""
    from zeroconf import InterfaceChoice, IPVersion
    from zeroconf.asyncio import AsyncZeroconf

    fourth = [address for address in addresses if ":" not in address]
    if fourth:
        return AsyncZeroconf(interfaces=fourth)
    return AsyncZeroconf(interfaces=InterfaceChoice.All, ip_version=IPVersion.V6Only)


class Announcer:
    """Announces one table for as long as it is open, at the addresses that its host has chosen last."""

    def __init__(self, what: Announcement) -> None:
        self._what = what
        self._task: asyncio.Task[None] | None = None
        self._ending: set[asyncio.Task[None]] = set()

    def show(self, addresses: Sequence[str], say: Callable[[str], None]) -> None:
        """Announce at these addresses (as one types them, with a port) and no others from now on; none: not at all."""
        self.stop()
        bare = [address.rpartition(":")[0].strip("[]") for address in addresses]
        if bare:
            self._task = asyncio.create_task(announce(self._what, bare, say))

    def stop(self) -> None:
        """Take the announcement back."""
        if self._task:
            self._task.cancel()
            self._ending.add(self._task)
            self._task.add_done_callback(self._ending.discard)
            self._task = None

    async def close(self) -> None:
        """Take the announcement back and wait until that is done."""
        self.stop()
        await asyncio.gather(*self._ending, return_exceptions=True)

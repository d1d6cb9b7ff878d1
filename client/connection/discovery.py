"""Listens for the tables of the local network (DNS-SD), if the extra "lan" is installed.

Shows the whole list whenever it changes. Never a reason to stop: trouble is one sentence beside the list, and a
typed address does the same. What strangers announce is read and cleaned by shared.wire.announce.
"""

import asyncio
import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared.wire.announce import SERVICE, Found, read_found

if TYPE_CHECKING:
    from zeroconf import ServiceStateChange, Zeroconf
    from zeroconf.asyncio import AsyncZeroconf

NOT_INSTALLED = "Tables are not looked for (the README says how): type the address."
NOT_LOOKING = "The network does not let tables be found: type the address."
_MOST = 40
"""A list longer than this is noise or malice."""
_ANSWER_MS = 3_000


@dataclass(frozen=True, slots=True)
class Nearby:
    """The tables found just now, by name, and a sentence if looking is not possible."""

    tables: tuple[Found, ...] = ()
    line: str = ""


async def look_around(show: Callable[[Nearby], None], interfaces: Sequence[str] | None = None) -> None:
    """Look until cancelled and show every change; without interfaces (their addresses) on all of them."""
    try:
        from zeroconf import Error, InterfaceChoice
        from zeroconf.asyncio import AsyncServiceBrowser, AsyncZeroconf
    except ImportError:
        show(Nearby(line=NOT_INSTALLED))
        return
    try:
        line = AsyncZeroconf(interfaces=list(interfaces) if interfaces else InterfaceChoice.All)
    except (OSError, Error):
        show(Nearby(line=NOT_LOOKING))
        return
    heard = _Heard(line, show)
    browser = AsyncServiceBrowser(line.zeroconf, SERVICE, handlers=[heard.changed])
    try:
        await asyncio.Event().wait()
    finally:
        heard.stop()
        await browser.async_cancel()
        await line.async_close()


class _Heard:
    """Asks every instance that appears who it is; one that goes while it is asked is not shown."""

    def __init__(self, line: "AsyncZeroconf", show: Callable[[Nearby], None]) -> None:
        self._line, self._show = line, show
        self._asking: dict[str, asyncio.Task[None]] = {}
        self._found: dict[str, Found] = {}

    def changed(self, zeroconf: "Zeroconf", service_type: str, name: str, state_change: "ServiceStateChange") -> None:
        """Take in that an instance came, changed or went; the library fixes the names of the arguments."""
        if asking := self._asking.pop(name, None):
            asking.cancel()
        if state_change.name == "Removed":
            if self._found.pop(name, None):
                self._tell()
        elif name in self._found or len(self._found) + len(self._asking) < _MOST:
            self._asking[name] = asyncio.create_task(self._ask(name))

    def stop(self) -> None:
        """Ask no more."""
        for asking in self._asking.values():
            asking.cancel()

    async def _ask(self, name: str) -> None:
        from zeroconf import Error
        from zeroconf.asyncio import AsyncServiceInfo

        found = None
        with contextlib.suppress(Error, OSError):
            info = AsyncServiceInfo(SERVICE, name)
            if await info.async_request(self._line.zeroconf, _ANSWER_MS):
                found = read_found(name, info.parsed_scoped_addresses(), info.port, info.properties)
        self._asking.pop(name, None)
        before = self._found.pop(name, None)
        if found:
            self._found[name] = found
        if found != before:
            self._tell()

    def _tell(self) -> None:
        self._show(Nearby(tuple(sorted(self._found.values(), key=lambda found: (found.name, found.instance)))))

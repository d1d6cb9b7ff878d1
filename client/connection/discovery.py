"""Find the tables of the local network (DNS-SD), if the extra "lan" is installed.

Reports the whole list whenever it changes. Must never stop the program: an error is one sentence beside the list, and
people can type the address instead. shared.wire.announce parses and cleans what strangers announce.
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

NOT_INSTALLED = "Finding tables needs the extra lan (see README): type the address."
NOT_LOOKING = "Finding tables does not work on this network: type the address."
_MOST = 40
"""The longest list; more announcements are noise or an attack."""
_ANSWER_MS = 3_000


@dataclass(frozen=True, slots=True)
class Nearby:
    """The tables found so far, by name, and a sentence if searching is not possible."""

    tables: tuple[Found, ...] = ()
    line: str = ""


async def look_around(show: Callable[[Nearby], None], interfaces: Sequence[str] | None = None) -> None:
    """Search until cancelled and show every change; interfaces are addresses of this machine, None means all."""
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
    """Resolves every instance that appears; drops one that disappears before it answers."""

    def __init__(self, line: "AsyncZeroconf", show: Callable[[Nearby], None]) -> None:
        self._line, self._show = line, show
        self._asking: dict[str, asyncio.Task[None]] = {}
        self._found: dict[str, Found] = {}

    def changed(self, zeroconf: "Zeroconf", service_type: str, name: str, state_change: "ServiceStateChange") -> None:
        """Handle an instance that came, changed or went; the library prescribes the argument names."""
        if asking := self._asking.pop(name, None):
            asking.cancel()
        if state_change.name == "Removed":
            if self._found.pop(name, None):
                self._tell()
        elif name in self._found or len(self._found) + len(self._asking) < _MOST:
            self._asking[name] = asyncio.create_task(self._ask(name))

    def stop(self) -> None:
        """Stop all requests."""
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

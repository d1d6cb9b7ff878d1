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
    from zeroconf.asyncio import AsyncServiceInfo, AsyncZeroconf

NOT_INSTALLED = "Finding tables needs the extra lan (see README): type the address."
NOT_LOOKING = "Finding tables does not work on this network: type the address."
_MOST = 40
"""The longest list; more announcements are noise or an attack."""
_MOST_EACH = 4
"""How many tables of one machine are listed, told apart by the address that they announce. Who invents addresses, or
announces another's, can still fill the list or that share: the network says nothing of who sent what. Typing the
address always works."""
_MOST_WAITING = 100
"""How many announcements may wait until they are asked about."""
_ANSWER_MS = 3_000
_TELL_S = 0.1
"""How long a change of the list waits for others: tables that come and go could have the screen drawn all the time."""
_ANEW_S = 0.1
"""How long the search goes on when too much was heard; then it begins anew, without what it noted of each name."""


@dataclass(frozen=True, slots=True)
class Nearby:
    """The tables found so far, by name, and a sentence if searching is not possible."""

    tables: tuple[Found, ...] = ()
    line: str = ""


async def look_around(show: Callable[[Nearby], None], interfaces: Sequence[str] | None = None) -> None:
    """Search until cancelled and show every change; interfaces are addresses of this machine, None means all.

    When strangers have said too much, what was heard is forgotten at once, and soon the search begins anew on the same
    sockets: a closed AsyncZeroconf would stay in memory, with all its records, until the next full garbage collection.
    """
    try:
        from zeroconf import Error, InterfaceChoice
        from zeroconf.asyncio import AsyncServiceBrowser, AsyncZeroconf

        from shared.wire.record_limit import RecordLimit, read_no_longer
    except ImportError:
        show(Nearby(line=NOT_INSTALLED))
        return
    try:
        line = AsyncZeroconf(interfaces=list(interfaces) if interfaces else InterfaceChoice.All)
    except (OSError, Error):
        show(Nearby(line=NOT_LOOKING))
        return
    passed = asyncio.Event()
    limit = RecordLimit(line.zeroconf, passed.set)
    try:
        with contextlib.suppress(Error):  # without its sockets it finds nothing
            await read_no_longer(line.zeroconf)
        while True:
            heard = _Heard(line, show)
            browser = AsyncServiceBrowser(line.zeroconf, SERVICE, handlers=[heard.changed])
            try:
                await passed.wait()
                await asyncio.sleep(_ANEW_S)
                heard.tell_now()
            finally:
                heard.stop()
                await browser.async_cancel()
            limit.forget()  # else the next browser would begin with hundreds of invented names
            passed.clear()
    finally:
        await line.async_close()


class _Heard:
    """Resolves every instance that appears, so many at a time; drops one that disappears before it answers. What is
    found beyond the share of its address is not listed."""

    def __init__(self, line: "AsyncZeroconf", show: Callable[[Nearby], None]) -> None:
        self._line, self._show = line, show
        self._asking: dict[str, asyncio.Task[None]] = {}
        self._waiting: dict[str, AsyncServiceInfo] = {}
        self._found: dict[str, Found] = {}
        self._telling: asyncio.TimerHandle | None = None

    def changed(self, zeroconf: "Zeroconf", service_type: str, name: str, state_change: "ServiceStateChange") -> None:
        """Handle an instance that came, changed or went; the library prescribes the argument names. Tables announce all
        that is needed at once; who told less is asked, and a name that the library refuses is none."""
        from zeroconf import Error
        from zeroconf.asyncio import AsyncServiceInfo

        try:
            info = AsyncServiceInfo(SERVICE, name)
        except Error:
            return
        if asking := self._asking.pop(name, None):
            asking.cancel()
        self._waiting.pop(name, None)
        if state_change.name == "Removed":
            self._put(name, None)
        elif info.load_from_cache(zeroconf):
            self._put(name, info)
        elif name in self._found:
            self._asking[name] = asyncio.create_task(self._ask(name, info))
        else:
            self._waiting[name] = info
            if len(self._waiting) > _MOST_WAITING:
                del self._waiting[next(iter(self._waiting))]
        self._ask_next()

    def _ask_next(self) -> None:
        """Ask who came last, so that names without an answer do not keep out those who come after them."""
        while self._waiting and len(self._found) + len(self._asking) < _MOST:
            name, info = self._waiting.popitem()
            self._asking[name] = asyncio.create_task(self._ask(name, info))

    def stop(self) -> None:
        """Stop all requests, and tell no more."""
        if self._telling is not None:
            self._telling.cancel()
        self._waiting.clear()
        for asking in self._asking.values():
            asking.cancel()

    async def _ask(self, name: str, info: "AsyncServiceInfo") -> None:
        from zeroconf import Error

        answered = False
        with contextlib.suppress(Error, OSError):
            answered = await info.async_request(self._line.zeroconf, _ANSWER_MS)
        self._asking.pop(name, None)
        self._put(name, info if answered else None)
        self._ask_next()

    def _put(self, name: str, info: "AsyncServiceInfo | None") -> None:
        """List a table by what it says of itself, or none of this name."""
        found = info and read_found(name, info.parsed_scoped_addresses(), info.port, info.properties)
        before = self._found.pop(name, None)
        if found and self._has_place(found):
            self._found[name] = found
        if self._found.get(name) != before:
            self._tell()

    def _has_place(self, found: Found) -> bool:
        here = sum(set(found.addresses) & set(other.addresses) != set() for other in self._found.values())
        return len(self._found) < _MOST and here < _MOST_EACH

    def _tell(self) -> None:
        """Show the list as it will be in a moment."""
        if self._telling is None:
            self._telling = asyncio.get_running_loop().call_later(_TELL_S, self._told)

    def tell_now(self) -> None:
        """Show a change that has not been shown yet."""
        if self._telling is not None:
            self._telling.cancel()
            self._told()

    def _told(self) -> None:
        self._telling = None
        self._show(Nearby(tuple(sorted(self._found.values(), key=lambda found: (found.name, found.instance)))))

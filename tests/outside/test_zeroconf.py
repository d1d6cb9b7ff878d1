"""Tables announce themselves and are found through real multicast DNS, over the loopback interface only."""

import asyncio
import signal
import socket
import sys
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from zeroconf import RecordUpdate, RecordUpdateListener, Zeroconf
from zeroconf.asyncio import AsyncZeroconf

from client.connection import discovery as nearby
from client.connection.discovery import Nearby, look_around
from server.net import beacon
from server.net.addresses import own_addresses
from server.net.beacon import Announcer, announce
from shared.wire import record_limit
from shared.wire.announce import SERVICE, Announcement
from tests.bench.announcements import GROUP, many_tables
from tests.loop import end

HOME = "127.0.0.1"
ANNOUNCED, RECORDS_OF_ONE = many_tables(), 4


def unexpected(sentence: str) -> None:
    raise AssertionError(sentence)


@asynccontextmanager
async def looking() -> AsyncIterator[asyncio.Queue[Nearby]]:
    """The lists shown, in order, while somebody looks around."""
    shown: asyncio.Queue[Nearby] = asyncio.Queue()
    task = asyncio.create_task(look_around(shown.put_nowait, [HOME]))
    try:
        yield shown
    finally:
        await end(task)


def announced(name: str, port: int) -> asyncio.Task[None]:
    return asyncio.create_task(announce(Announcement(name, port), [HOME], unexpected))


async def next_list(shown: "asyncio.Queue[Nearby]", count: int) -> Nearby:
    """The next list with so many tables; fails after ten seconds."""
    async with asyncio.timeout(10):
        while len((now := await shown.get()).tables) != count:
            pass
    return now


async def test_a_table_appears_while_it_is_announced_and_goes_with_it() -> None:
    async with looking() as shown:
        table = announced("Boathouse 1", 15214)
        (found,) = (await next_list(shown, 1)).tables
        assert (found.name, found.address, found.kind, found.fits) == ("Boathouse 1", "127.0.0.1:15214", "table", True)
        await end(table)
        assert (await next_list(shown, 0)).line == ""


async def test_two_tables_of_one_name_are_both_listed() -> None:
    async with looking() as shown:
        first = announced("Boathouse", 15214)
        await next_list(shown, 1)
        second = announced("Boathouse", 15215)
        both = (await next_list(shown, 2)).tables
        assert {found.port for found in both} == {15214, 15215}
        assert len({found.name for found in both}) == 2
        await end(first)
        await end(second)


async def strangers_announce(enough: Callable[[], bool]) -> None:
    """Announce invented tables until it is enough; fails after ten seconds."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as stranger:
        stranger.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(HOME))
        async with asyncio.timeout(10):
            while not enough():
                stranger.sendto(next(ANNOUNCED), GROUP)
                await asyncio.sleep(0.001)


def kept(line: Zeroconf) -> int:
    """How many records the library keeps."""
    return sum(len(line.cache.entries_with_name(name)) for name in line.cache.names())


class MostKept(RecordUpdateListener):
    """Notes after each packet how many records are kept; the limit may be told before it or after."""

    most = packets = 0

    def __init__(self, line: Zeroconf) -> None:
        self._line = line
        line.async_add_listener(self, None)

    def async_update_records(self, zc: Zeroconf, now: float, records: list[RecordUpdate]) -> None:
        self.packets += 1

    def async_update_records_complete(self) -> None:
        self.most = max(self.most, kept(self._line))


async def test_who_announces_keeps_little_of_what_strangers_announce(monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[AsyncZeroconf] = []

    def open_line(addresses: Sequence[str]) -> AsyncZeroconf:
        lines.append(AsyncZeroconf(interfaces=list(addresses)))
        return lines[0]

    monkeypatch.setattr(beacon, "_line", open_line)
    monkeypatch.setattr(record_limit, "MOST", 50)
    table = announced("Boathouse 1", 15214)
    async with looking() as shown:
        await next_list(shown, 1)
        met = MostKept(lines[0].zeroconf)
        await strangers_announce(lambda: met.packets > 100)
    assert 40 < met.most <= 50 + RECORDS_OF_ONE
    async with looking() as shown:
        await next_list(shown, 1)
    await end(table)


async def test_who_is_told_too_much_forgets_it_and_still_finds_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    import zeroconf.asyncio

    searches: list[zeroconf.Zeroconf] = []

    class Browser(zeroconf.asyncio.AsyncServiceBrowser):
        def __init__(self, line: zeroconf.Zeroconf, *what: Any, **how: Any) -> None:
            super().__init__(line, *what, **how)
            searches.append(line)

    monkeypatch.setattr(record_limit, "MOST", 50)
    monkeypatch.setattr(nearby, "_ANEW_S", 0.01)
    monkeypatch.setattr("zeroconf.asyncio.AsyncServiceBrowser", Browser)
    async with looking() as shown:
        await strangers_announce(lambda: len(searches) == 3)
        table = announced("Boathouse 1", 15214)
        async with asyncio.timeout(10):
            while "Boathouse 1" not in [found.name for found in (await shown.get()).tables]:
                pass
        assert kept(searches[-1]) <= 50
        assert all(line is searches[0] for line in searches), "the sockets stay"
        await end(table)


async def test_a_stranger_who_announces_nonsense_is_not_listed() -> None:
    from zeroconf.asyncio import AsyncServiceInfo

    stranger = AsyncZeroconf(interfaces=[HOME])
    for label, txt in (("No protocol", {"kind": "table"}), ("No kind", {"protocol": "1"})):
        info = AsyncServiceInfo(SERVICE, f"{label}.{SERVICE}", port=9, properties=txt, parsed_addresses=[HOME])
        await (await stranger.async_register_service(info))
    async with looking() as shown:
        table = announced("Boathouse 1", 15214)
        (found,) = (await next_list(shown, 1)).tables
        assert found.name == "Boathouse 1"
        await end(table)
    later = [shown.get_nowait() for _ in range(shown.qsize())]
    assert all(found.name == "Boathouse 1" for now in later for found in now.tables)
    await stranger.async_close()


# The library leaves its listening socket to the garbage collector when an interface is refused.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
async def test_a_network_that_refuses_is_one_sentence_on_each_side() -> None:
    # 203.0.113.0/24 is set aside for documentation (RFC 5737): no interface here has it.
    told: list[str] = []
    await announce(Announcement("Boathouse", 15214), ["203.0.113.9"], told.append)
    assert told == [beacon.NOT_ANNOUNCED]
    shown: list[Nearby] = []
    await look_around(shown.append, ["203.0.113.9"])
    assert shown == [Nearby(line=nearby.NOT_LOOKING)]


async def test_without_the_extra_both_sides_say_so_and_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("zeroconf", "zeroconf.asyncio"):
        monkeypatch.setitem(sys.modules, module, None)
    told: list[str] = []
    await announce(Announcement("Boathouse", 15214), [HOME], told.append)
    shown: list[Nearby] = []
    await look_around(shown.append)
    assert (told, shown) == ([beacon.NOT_INSTALLED], [Nearby(line=nearby.NOT_INSTALLED)])


async def test_a_host_who_shows_no_address_is_announced_no_more() -> None:
    beacon_on = Announcer(Announcement("Boathouse", 15214, kind="club"))
    async with looking() as shown:
        beacon_on.show([f"{HOME}:15214"], unexpected)
        (found,) = (await next_list(shown, 1)).tables
        assert found.kind == "club"
        beacon_on.show([], unexpected)
        await next_list(shown, 0)
        beacon_on.show([f"{HOME}:15214"], unexpected)
        await next_list(shown, 1)
        await beacon_on.close()
        await next_list(shown, 0)


@pytest.mark.skipif(own_addresses() == (HOME,), reason="this machine is on no network")
async def test_a_table_without_a_screen_is_found_by_its_name_and_never_tells_its_code(tmp_path: Path) -> None:
    host = await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        "import sys; from pathlib import Path\n"
        "from server.host import run_headless; from shared.rules.settings import Settings\n"
        "say = lambda line: print(line, flush=True)\n"
        "sys.exit(run_headless(Settings(), 'Boathouse 7', port=0, path=Path(sys.argv[1]), say=say))",
        str(tmp_path / "tables.sqlite3"),
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        cwd=Path(__file__).parents[2],
    )
    shown: asyncio.Queue[Nearby] = asyncio.Queue()
    task = asyncio.create_task(look_around(shown.put_nowait, [own_addresses()[0]]))
    found = []
    async with asyncio.timeout(20):
        while not found:
            found = [each for each in (await shown.get()).tables if each.name == "Boathouse 7"]
    host.send_signal(signal.SIGTERM)
    said = (await host.communicate())[0].decode()
    await end(task)
    assert host.returncode == 0
    assert found[0].address in said
    code = next(line for line in said.splitlines() if line.startswith("Code: ")).removeprefix("Code: ")
    assert code not in repr(found)

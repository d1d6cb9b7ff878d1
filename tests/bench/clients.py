"""A host of ill will and each client of ours: python -m tests.bench.hostile --clients.

The host is in this process. A client in plain lines, one at the full screen and the screen of a visitor of the page
for browsers, each in a process of its own, sit at its table and are asked for their help again and again: while the
host is quiet, and while it says one thing as fast as the line takes it. Then it is quiet again. Before all that each
client has seen a whole heat: what it loads for its first one is no cost of the attack.
"""

import asyncio
import contextlib
import itertools
import json
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import aiohttp
from websockets.asyncio.server import ServerConnection, serve
from websockets.exceptions import ConnectionClosed

from client.connection.hearing import LONGEST_VIEW
from shared.wire.messages import PROTOCOL, TO_CLIENT, AnyServerMessage, OwnHeat, Refused, Welcome
from shared.wire.views import View
from tests.bench.page_kills import visitors
from tests.bench.victims import open_page
from tests.client.hostile import terminal_of
from tests.client.test_hostile_host import told_by_a_table
from tests.ports import free_port

ANSWER_S, AGAIN_S, BACK_S, LEAVE_S, PATIENCE_S, NEVER_S = 1.0, 0.7, 10.0, 0.5, 10.0, 999.0
MEMORY_MORE, MOST_MB, LEAST_SAID = 1.1, 20, 100
TOLD = told_by_a_table()


def _views() -> Iterator[AnyServerMessage]:
    """The same heat again and again, paused and going on, each time a newer view."""
    for revision in itertools.count(1_000):
        view = TOLD["paused" if revision % 2 else "heat"]
        yield view.model_copy(update={"revision": revision})


def _screens() -> Iterator[AnyServerMessage]:
    """A heat, its end and the seating in turn, so that every view needs another screen."""
    for revision in itertools.count(1_000):
        view = TOLD[("heat", "between", "seating")[revision % 3]]
        yield view.model_copy(update={"revision": revision})


def _long_views() -> Iterator[AnyServerMessage]:
    """Views as long as one may be: hundreds of finished heats."""
    between = TOLD["between"]
    assert isinstance(between, View)
    results = between.results
    while len(TO_CLIENT.pack(between.model_copy(update={"results": (*results, *between.results)}))) < LONGEST_VIEW:
        results = (*results, *between.results)
    for revision in itertools.count(1_000):
        yield between.model_copy(update={"revision": revision, "results": results})


def _heats() -> Iterator[AnyServerMessage]:
    """Finished heats without end, each another one."""
    own = TOLD["own heat"]
    assert isinstance(own, OwnHeat)
    for number in itertools.count(1):
        yield own.model_copy(update={"heat": own.heat.model_copy(update={"number": number})})


def _refusals() -> Iterator[AnyServerMessage]:
    """Answers to what nobody asked."""
    for number in itertools.count(1):
        yield Refused(id=number, code="late", text=f"No. {number}", late_ms=number)


def _welcomes() -> Iterator[AnyServerMessage]:
    """Another chair with every message, at another table."""
    for number in itertools.count():
        yield _welcome(number % 4, f"t {number}")


KINDS = {
    "views": _views,
    "a new screen each time": _screens,
    "the longest views": _long_views,
    "heats": _heats,
    "refusals": _refusals,
    "welcomes": _welcomes,
}


def _welcome(chair: int = 0, table: str = "t 1") -> Welcome:
    return Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=0, table=table)


class _Host:
    """Lets everybody in, shows them a heat, and floods the one who came last when told to."""

    def __init__(self) -> None:
        self.came, self._line = asyncio.Event(), list[ServerConnection]()

    async def serve(self, line: ServerConnection) -> None:
        self._line = [line]  # the page knocks once before, to ask whether the code is right
        await line.recv()
        with contextlib.suppress(ConnectionClosed):
            await line.send(TO_CLIENT.pack(_welcome()))
            for seen in ("heat", "own heat", "between", "seating", "heat"):
                await line.send(TO_CLIENT.pack(TOLD[seen]))
                await asyncio.sleep(1)
            if self._line == [line]:
                self.came.set()
            await line.wait_closed()

    async def flood(self, kind: str) -> int:
        """Say one thing as fast as the line takes it until cancelled, and calm down; return how often it was said."""
        said, [line] = 0, self._line
        with contextlib.suppress(ConnectionClosed):
            try:
                for message in KINDS[kind]():
                    await line.send(TO_CLIENT.pack(message))
                    await asyncio.sleep(0)
                    said += 1
            except asyncio.CancelledError:
                last = TOLD["heat"].model_copy(update={"revision": 1_000_000_000})
                await line.send(TO_CLIENT.pack(_welcome()))
                await line.send(TO_CLIENT.pack(last))
        return said


@dataclass
class _Client:
    """A client of ours: its process, what asks it for its help, and what leaves the help again."""

    pid: int
    press: Callable[[bytes], Awaitable[None]]
    answered: Callable[[bytes], Awaitable[None]]
    key: bytes = b"?"
    words: bytes = b"any other key"
    leave: bytes = b"~"

    async def ask(self) -> float:
        """Return how many seconds an answer took. Who sees no help, because another screen came in the same moment and
        took its place, asks again; the time counts from the first key on."""
        began_s, took_s = time.monotonic(), NEVER_S
        while took_s == NEVER_S and time.monotonic() < began_s + PATIENCE_S:
            await self.press(self.key)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(AGAIN_S):
                    await self.answered(self.words)
                    took_s = time.monotonic() - began_s
        await self.press(self.leave)
        await asyncio.sleep(LEAVE_S)
        return took_s

    def memory_mb(self) -> float:
        """Return the memory that it has (proc(5)), and that of the processes it started."""
        return sum(_memory_mb(pid) for pid in (self.pid, *_children(self.pid)))


def _sizes(folder: Path) -> list[int]:
    return [path.stat().st_size for path in folder.rglob("*") if path.is_file()]


def _memory_mb(pid: int) -> float:
    with contextlib.suppress(OSError, IndexError):  # it has ended
        return int(Path(f"/proc/{pid}/status").read_text().partition("VmRSS:")[2].split()[0]) / 1_024
    return 0.0


def _children(pid: int) -> list[int]:
    with contextlib.suppress(OSError):
        return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    return []


@asynccontextmanager
async def _at_terminal(folder: Path, port: int, *more: str, **how: bytes) -> AsyncIterator[_Client]:
    words = "join", "--name", "Ann", "--code", "otter-plum", *more, f"127.0.0.1:{port}"
    async with terminal_of(*words, home=folder) as terminal:

        async def press(key: bytes) -> None:
            terminal.seen.clear()
            terminal.press(key)

        yield _Client(terminal.pid, press, terminal.until, **how)


@asynccontextmanager
async def _on_page(folder: Path, port: int) -> AsyncIterator[_Client]:
    at = free_port()
    origin, seen, more = f"http://127.0.0.1:{at}", bytearray(), asyncio.Event()
    jar = aiohttp.CookieJar(unsafe=True)
    async with open_page(folder, port, at), aiohttp.ClientSession(cookie_jar=jar) as session:
        form = {"name": "Ann", "code": "otter-plum"}
        await session.post(f"{origin}/", data=form, headers={"Origin": origin}, allow_redirects=False)
        async with session.ws_connect(f"{origin}/line?width=80&height=24", headers={"Origin": origin}) as line:

            async def press(key: bytes) -> None:
                seen.clear()
                await line.send_str(json.dumps(["stdin", key.decode()]))

            async def read() -> None:
                async for message in line:
                    seen.extend(message.data)
                    more.set()

            async def answered(words: bytes) -> None:
                while words not in seen:
                    more.clear()
                    await more.wait()

            reading = asyncio.create_task(read())
            await answered(b"\x1b[")
            [pid] = visitors()
            yield _Client(pid, press, answered)
            reading.cancel()


def _plain(folder: Path, port: int) -> AbstractAsyncContextManager[_Client]:
    return _at_terminal(folder, port, "--plain", key=b"help\n", words=b"this help.", leave=b"\n")


CLIENTS = {"plain lines": _plain, "full screen": _at_terminal, "page": _on_page}


async def clients_flooded(folder: Path, seconds: float, words: str = "") -> dict[str, object]:
    """Flood each client in each way that has these words, and return how long its answers took and its memory."""
    attacks: dict[str, object] = {}
    within = True
    for name, kind in itertools.product(CLIENTS, KINDS):
        if words in f"{name}: {kind}":
            home = Path(tempfile.mkdtemp(dir=folder))
            attacks[f"{name}: {kind}"] = found = await _flooded(home, name, kind, seconds)
            within &= bool(found.pop("within"))
            print(f"{name}: {kind}", found, file=sys.stderr, flush=True)
    return {"attacks": attacks, "within": within}


async def _flooded(folder: Path, name: str, kind: str, seconds: float) -> dict[str, Any]:
    host = _Host()
    async with serve(host.serve, "127.0.0.1", 0, compression=None) as server:
        port = next(iter(server.sockets)).getsockname()[1]
        async with CLIENTS[name](folder, port) as client:
            await host.came.wait()
            await asyncio.sleep(2)
            await client.ask()
            quiet_s = max([await client.ask() for _ in range(3)])
            before_mb, flooding = client.memory_mb(), asyncio.create_task(host.flood(kind))
            under_s, until_s = [], time.monotonic() + seconds
            while time.monotonic() < until_s:
                under_s.append(await client.ask())
            under_mb = client.memory_mb()
            flooding.cancel()
            said = await flooding
            await asyncio.sleep(BACK_S)
            after_s, after_mb = await client.ask(), client.memory_mb()
    kept = _sizes(folder)
    return {
        "messages": said,
        "quiet_s": round(quiet_s, 2),
        "under_s": round(max(under_s), 2),
        "after_s": round(after_s, 2),
        "memory_mb": [round(mb, 1) for mb in (before_mb, under_mb, after_mb)],
        "files": len(kept),
        "files_mb": round(sum(kept) / 1_000_000, 1),
        "within": said >= LEAST_SAID
        and after_mb > 0
        and max(under_s) <= quiet_s + ANSWER_S
        and after_s <= quiet_s + ANSWER_S
        and after_mb <= MEMORY_MORE * before_mb
        and sum(kept) <= MOST_MB * 1_000_000,
    }

"""The page for browsers is killed with people at it, and begun anew: python -m tests.bench.hostile --page --kills 5."""

import asyncio
import contextlib
import time
from contextlib import AsyncExitStack
from pathlib import Path

import aiohttp

from shared.wire.club_views import ChairShown, ClubView
from tests.bench.victims import DESK, EVENING, open_host, open_page
from tests.ports import free_port
from tests.server.players import Player

NAMES = ("Ann", "Bo", "Cy", "Di")
BACK_S, END_S = 10.0, 1.0


async def page_killed_again_and_again(folder: Path, kills: int) -> dict[str, object]:
    """Kill the page, and again as soon as all its visitors have a screen by the cookie that they had before."""
    port, back_s, left = free_port(), list[float](), 0
    origin = f"http://127.0.0.1:{port}"
    async with open_host(folder, is_evening=True) as host, AsyncExitStack() as stack:
        visitors = [
            await stack.enter_async_context(aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)))
            for _ in NAMES
        ]
        desk = Player(host.port, "desk", DESK, "desk")
        await desk.say_hello()
        for kill in range(kills + 1):
            async with open_page(folder, host.port, port) as page:
                began_s = time.perf_counter()
                if not kill:
                    await asyncio.gather(*(_join(*one, origin) for one in zip(visitors, NAMES, strict=True)))
                lines = await asyncio.gather(*(_screen(visitor, origin) for visitor in visitors))
                shown = await desk.see(lambda shown: sum(chair.connected for chair in _people(shown)) == len(NAMES))
                back_s.append(time.perf_counter() - began_s)
                names = sorted(chair.name for chair in _people(shown))
                assert names == sorted(NAMES), f"after {kill} kills these sit here: {names}"
                page.kill()
                await page.wait()
                await asyncio.sleep(END_S)
                left += processes()
                for line in lines:
                    await line.close()
    slowest = max(back_s[1:])
    return {
        "kills of the page": kills,
        "visitors": len(NAMES),
        "all back after at most s": round(slowest, 2),
        "processes left after 1 s": left,
        "within": slowest <= BACK_S and not left,
    }


async def _join(visitor: aiohttp.ClientSession, name: str, origin: str) -> None:
    form = {"name": name, "code": EVENING}
    while True:
        answer = await visitor.post(f"{origin}/", data=form, headers={"Origin": origin}, allow_redirects=False)
        if answer.status == 303:
            return
        assert answer.status == 503, f"{name} was not let in: {answer.status}"  # so many are asked for at a time
        await asyncio.sleep(0.2)


async def _screen(visitor: aiohttp.ClientSession, origin: str) -> aiohttp.ClientWebSocketResponse:
    line = await visitor.ws_connect(f"{origin}/line?width=80&height=24", headers={"Origin": origin})
    await line.receive_bytes()
    return line


def _people(shown: ClubView) -> list[ChairShown]:
    return [chair for table in shown.tables for chair in table.chairs if chair.sitter == "person"]


def processes() -> int:
    """Return how many processes of visitors there are."""
    return len(visitors())


def visitors() -> list[int]:
    """Return the processes of visitors (proc(5))."""
    found = []
    for command in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if b"client.browser.visitor" in command.read_bytes():
                found.append(int(command.parent.name))
    return found

"""What crowds do to a port before anybody knows who they are: half handshakes, silence, and lines that are dropped.

Each comes from many addresses of this machine (127.0.1.*, which is all one machine on Linux), or from one.
"""

import asyncio
import contextlib
import secrets
from collections import Counter
from collections.abc import Awaitable, Callable
from functools import partial
from itertools import count

import aiohttp
from websockets.asyncio.client import connect
from websockets.typing import Origin

from shared.rules.intents import LetSee, Ready, ShowRack
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, Command, Done, Hello, Refused

Counts = Counter[str]
Visit = Callable[[int, str, Counts], Awaitable[None]]
PATIENCE_S = 20.0
_COMERS = count()
_RECORD = b"\x16\x03\x01\x40\x00"
"""The head of a record of TLS that holds 16 KiB of a handshake (RFC 8446 section 5.1)."""


def _from(addresses: int) -> tuple[str, int]:
    return f"127.0.1.{1 + next(_COMERS) % addresses}", 0


async def _say_and_wait(
    port: int, code: str, counts: Counts, *, said: bytes = b"", more: bytes = b"", addresses: int = 23
) -> None:
    """Say the beginning of something, more of it every half second, and stay until one is ended."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port, local_addr=_from(addresses))
    counts["connected"] += 1
    try:
        writer.write(said)
        async with asyncio.timeout(PATIENCE_S):
            while not reader.at_eof():
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(0.5):
                        await reader.read(1_000)
                writer.write(more)
        counts["ended by the host"] += 1
    finally:
        writer.transport.abort()


async def _no_hello(port: int, code: str, counts: Counts) -> None:
    """A WebSocket on which nothing is said."""
    async with connect(f"ws://127.0.0.1:{port}", compression=None, local_addr=_from(23)) as line:
        counts["connected"] += 1
        await line.wait_closed()


async def _endless_tls(port: int, code: str, counts: Counts) -> None:
    """A first message of TLS that never ends."""
    _, writer = await asyncio.open_connection("127.0.0.1", port, local_addr=_from(23))
    try:
        writer.write(_RECORD + b"\x01\xff\xff\xff" + bytes(0x4000 - 4))
        while True:
            await writer.drain()
            writer.write(_RECORD + bytes(0x4000))
            counts["records of 16 KiB"] += 1
            await asyncio.sleep(0)
    finally:
        writer.transport.abort()


async def _guess_and_go(port: int, code: str, counts: Counts, *, role: str = "player") -> None:
    """Say a code, read one pong as a sign that it was heard, and hang up without waiting for the answer."""
    async with connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, local_addr=_from(1)) as line:
        guess = Hello.model_validate(
            {
                "protocol": PROTOCOL,
                "name": "Mallory",
                "code": code,
                "token": secrets.token_bytes(16),
                "role": role,
                "table": f"t {code}",
            }
        )
        await line.send(TO_SERVER.pack(guess))
        await (await line.ping())
        counts["guesses heard"] += 1
        line.transport.abort()


async def _watchers(port: int, code: str, counts: Counts) -> None:
    """Come beside the table with its code and a token that is new, ask for what only players may have, and hang up."""
    async with connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, local_addr=_from(23)) as line:
        token = secrets.token_bytes(16)
        hello = Hello(protocol=PROTOCOL, name="Mallory", code=code, token=token, role="watcher", table=f"t {code}")
        await line.send(TO_SERVER.pack(hello))
        first = TO_CLIENT.unpack(await line.recv(decode=False))
        counts[f"heard {first.kind}"] += 1
        for number, intent in enumerate((ShowRack(on=True), LetSee(place=4, on=True), Ready()), start=1):
            await line.send(TO_SERVER.pack(Command(id=number, heat=0, intent=intent)))
        async with asyncio.timeout(0.05):
            while True:
                answer = TO_CLIENT.unpack(await line.recv(decode=False))
                counts[f"answered {answer.kind}"] += isinstance(answer, Done | Refused)


async def _line_without_a_code(port: int, code: str, counts: Counts) -> None:
    """The line of a screen, asked for by somebody who has not said the code."""
    async with connect(
        f"ws://127.0.0.1:{port}/line",
        compression=None,
        origin=Origin(f"http://127.0.0.1:{port}"),
        additional_headers={"Cookie": f"racktempo-{port}={secrets.token_hex(16)}"},
        local_addr=_from(12),
    ) as line:
        counts["screens begun"] += 1
        await line.wait_closed()


async def _screens_that_come_and_go(port: int, code: str, counts: Counts) -> None:
    """Somebody with the code begins one screen after the other and hangs up as soon as there is a line."""
    origin = f"http://127.0.0.1:{port}"
    jar = aiohttp.CookieJar(unsafe=True)
    source = aiohttp.TCPConnector(local_addr=_from(3))
    async with aiohttp.ClientSession(connector=source, cookie_jar=jar) as session:
        form = {"name": f"Mallory {next(_COMERS) % 3}", "code": code}
        answer = await session.post(f"{origin}/", data=form, headers={"Origin": origin}, allow_redirects=False)
        counts[f"joined with {answer.status}"] += 1
        cookie = next((one.value for one in jar), "")
        while True:
            line = await connect(
                f"ws://127.0.0.1:{port}/line",
                compression=None,
                origin=Origin(origin),
                additional_headers={"Cookie": f"racktempo-{port}={cookie}"},
                local_addr=_from(3),
            )
            counts["screens begun"] += 1
            await asyncio.sleep(0.05)
            line.transport.abort()


async def _wrong_codes_at_the_form(port: int, code: str, counts: Counts) -> None:
    """Guess the table's code with the page's own form, from many addresses."""
    origin = f"http://127.0.0.1:{port}"
    async with aiohttp.ClientSession(connector=aiohttp.TCPConnector(local_addr=_from(23))) as session:
        form = {"name": "Mallory", "code": f"maple-otter-lemon-{next(_COMERS) % 100:02}"}
        answer = await session.post(f"{origin}/", data=form, headers={"Origin": origin}, allow_redirects=False)
        counts[f"answered {answer.status}"] += 1


async def _half_forms(port: int, code: str, counts: Counts) -> None:
    """A form whose last bytes never come."""
    head = f"POST / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nContent-Length: 2000\r\n"
    said = f"{head}Content-Type: application/x-www-form-urlencoded\r\n\r\nname=Mallory&code="
    await _say_and_wait(port, code, counts, said=said.encode(), more=b"x")


_HALF = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"

CROWDS: dict[str, tuple[Visit, int]] = {
    "silent sockets": (_say_and_wait, 530),
    "no hello": (_no_hello, 400),
    "half requests": (partial(_say_and_wait, said=_HALF, more=b"X: x\r\n"), 530),
    "watchers that come and go": (_watchers, 20),
    "hang up on a guess": (lambda port, code, counts: _guess_and_go(port, "maple-kettle-08", counts), 20),
}
"""What is done to a table, and by how many at once."""
TLS_CROWDS: dict[str, tuple[Visit, int]] = {
    "TLS never begun": (_say_and_wait, 1_000),
    "TLS from one address": (partial(_say_and_wait, addresses=1), 1_000),
    "TLS half begun": (partial(_say_and_wait, said=_RECORD + b"\x01\x00\x3f\xfc" + bytes(1_000)), 530),
    "TLS without end": (_endless_tls, 20),
    "no TLS at all": (partial(_say_and_wait, said=b"GET / HTTP/1.1\r\n\r\n"), 20),
}
"""What is done to a table with a certificate."""
PAGE_CROWDS: dict[str, tuple[Visit, int]] = {
    "half requests to the page": (partial(_say_and_wait, said=_HALF, more=b"X: x\r\n"), 1_100),
    "lines without a code": (_line_without_a_code, 12),
    "screens that come and go": (_screens_that_come_and_go, 3),
    "wrong codes at the form": (_wrong_codes_at_the_form, 20),
    "half forms": (_half_forms, 530),
}
"""What is done to the page for browsers."""
HAPPENED = {
    "screens that come and go": "screens begun",
    "wrong codes at the form": "answered 403",
    "half forms": "connected",
}
"""What attackers must have met, or their attack was none."""

"""What hostile clients do to a host, in loops of some seconds: python -m tests.bench.attacks KIND PORT CODE SECONDS.

It prints how often what happened, as one JSON object. Only a port of this machine is ever attacked.
"""

import asyncio
import json
import random
import sys
from collections import Counter
from collections.abc import Awaitable, Callable
from itertools import count

import msgpack
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidStatus, WebSocketException

from shared.rules.intents import Arrange, NotReady
from shared.wire.messages import FRAME_LIMIT, PROTOCOL, TO_SERVER, Command, Hello
from tests.bench.crowds import CROWDS, PAGE_CROWDS, TLS_CROWDS
from tests.bench.evenings import EVENINGS
from tests.bench.returning import RETURNING

Counts = Counter[str]
Visit = Callable[[int, str, Counts], Awaitable[None]]
CHAIRS = count()
PATIENCE_S = 6.0


def _open(port: int, **options: object) -> connect:
    return connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, **options)  # type: ignore[arg-type]


def _hello(code: str) -> bytes:
    """Return a hello of one of three people: the fourth chair is somebody's who is no attacker."""
    token = bytes([next(CHAIRS) % 3]) * 16
    return TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Mallory", code=code, token=token, table=f"t {code}"))


def _command(number: int) -> bytes:
    return TO_SERVER.pack(Command(id=number, heat=0, intent=NotReady()))


async def _say(line: ClientConnection, frames: list[bytes], counts: Counts) -> None:
    """Send frames as fast as they go, without reading between them."""
    for frame in frames:
        await line.send(frame)
        counts["frames sent"] += 1
    async with asyncio.timeout(PATIENCE_S):
        while True:
            await line.recv()


async def flood(port: int, code: str, counts: Counts) -> None:
    """Commands as fast as they go, by somebody at the table."""
    async with _open(port) as line:
        await _say(line, [_hello(code), *(_command(number) for number in range(1, 3_000))], counts)


async def nonsense(port: int, code: str, counts: Counts) -> None:
    """Commands whose values cannot be, as fast as they go, by somebody at the table."""
    wrong = {"kind": "command", "id": 1, "heat": 0, "intent": {"kind": "offer", "count": 99}}
    async with _open(port) as line:
        await _say(line, [_hello(code), *[msgpack.packb(wrong)] * 200], counts)


async def slow_reader(port: int, code: str, counts: Counts) -> None:
    """Somebody at the table asks on and on and never reads an answer."""
    async with _open(port, max_queue=1) as line:
        await line.send(_hello(code))
        tiles = ("1b",) * 14
        for number in range(1, 200):
            await line.send(TO_SERVER.pack(Command(id=number, heat=0, intent=Arrange(tiles=tiles))))
            counts["frames sent"] += 1
            await asyncio.sleep(0.026)


async def oversize(port: int, code: str, counts: Counts) -> None:
    """Frames longer than any may be: a little, and a lot."""
    size = random.choice((FRAME_LIMIT + 1, 10 * FRAME_LIMIT, 4_000_000))
    async with _open(port) as line:
        await _say(line, [b"\xc4" * size], counts)


async def bombs(port: int, code: str, counts: Counts) -> None:
    """A few bytes that claim to be enormous, or are nested as deep as a frame is long."""
    bomb = random.choice(
        (
            b"\x91" * FRAME_LIMIT,
            b"\x81\xa1a" * (FRAME_LIMIT // 3),
            b"\xdd\xff\xff\xff\xff",
            b"\xdf\xff\xff\xff\xff",
            b"\xdb\xff\xff\xff\xff",
            b"\xc6\xff\xff\xff\xff",
            b"\xc9\xff\xff\xff\xff\x01",
            b"\xdc\xff\xff" + b"\xc0" * (FRAME_LIMIT - 3),
        )
    )
    async with _open(port) as line:
        await _say(line, [bomb], counts)


async def malformed(port: int, code: str, counts: Counts) -> None:
    """Bytes that are nothing, after a good hello and instead of one."""
    noise = random.randbytes(random.randrange(1, 2_000))
    async with _open(port) as line:
        await _say(line, [_hello(code), noise] if random.random() < 0.5 else [noise], counts)


async def replayed(port: int, code: str, counts: Counts) -> None:
    """The same commands again and again, no faster than is allowed, by somebody at the table."""
    async with _open(port) as line:
        await line.send(_hello(code))
        reading = asyncio.create_task(_read_all(line))
        for number in range(400):
            await line.send(_command(1 + number % 3))
            counts["frames sent"] += 1
            await asyncio.sleep(0.03)
        reading.cancel()


async def control_frames(port: int, code: str, counts: Counts) -> None:
    """Pings, pongs and pieces of a message that never ends, as fast as they go, by somebody at the table."""
    mask = b"\x80\x00\x00\x00\x00"
    frame = random.choice((b"\x89" + mask, b"\x8a" + mask, b"\x00" + mask))
    async with _open(port) as line:
        await line.send(_hello(code))
        line.transport.write(b"\x02" + mask)
        while line.close_code is None:
            line.transport.write(frame * 1_000)
            counts["frames sent"] += 1_000
            await asyncio.sleep(0.01)
        await line.recv()


async def _read_all(line: ClientConnection) -> None:
    async for _ in line:
        pass


async def wrong_codes(port: int, code: str, counts: Counts) -> None:
    """Guess, with a new line for every guess."""
    async with _open(port) as line:
        guess = f"maple-otter-lemon-{random.randrange(100):02}"
        hello = Hello(protocol=PROTOCOL, name="Mallory", code=guess, table=f"t {code}")
        await _say(line, [TO_SERVER.pack(hello)], counts)


async def web_page(port: int, code: str, counts: Counts) -> None:
    """A page in a browser on the same machine."""
    async with _open(port, origin="https://example.org"):
        counts["let in"] += 1


async def silence(port: int, code: str, counts: Counts) -> None:
    """A connection on which nothing is ever said."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        async with asyncio.timeout(PATIENCE_S):
            await reader.read(1)
        counts["hung up on"] += 1
    finally:
        writer.transport.abort()


async def long_headers(port: int, code: str, counts: Counts) -> None:
    """A request whose headers never end."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        writer.write(b"GET / HTTP/1.1\r\n")
        async with asyncio.timeout(PATIENCE_S):
            while not reader.at_eof():
                writer.write(b"X-Long: " + b"x" * 8_000 + b"\r\n")
                await writer.drain()
                await asyncio.sleep(0)
    finally:
        writer.transport.abort()


ATTACKS: dict[str, tuple[Visit, int]] = {
    "flood": (flood, 4),
    "nonsense": (nonsense, 4),
    "slow reader": (slow_reader, 3),
    "oversize": (oversize, 8),
    "bombs": (bombs, 8),
    "malformed": (malformed, 8),
    "replayed": (replayed, 3),
    "control frames": (control_frames, 4),
    "wrong codes": (wrong_codes, 20),
    "web page": (web_page, 8),
    "silence": (silence, 20),
    "long headers": (long_headers, 8),
    **CROWDS,
    **RETURNING,
    **TLS_CROWDS,
}
"""What is done, and by how many at once."""


async def attack(kind: str, port: int, code: str, seconds: float) -> Counts:
    """Do one thing again and again from many sides, and return what came of it."""
    visit, sides = (ATTACKS | PAGE_CROWDS | EVENINGS)[kind]
    counts: Counts = Counter()

    async def side() -> None:
        while True:
            counts["visits"] += 1
            try:
                await visit(port, code, counts)
            except ConnectionClosed as end:
                counts[f"closed {end.rcvd.code if end.rcvd else 1006}"] += 1
            except InvalidStatus as refused:
                counts[f"HTTP {refused.response.status_code}"] += 1
            except (OSError, TimeoutError, EOFError, WebSocketException) as error:
                counts[type(error).__name__] += 1
            await asyncio.sleep(0.01)

    tasks = [asyncio.create_task(side()) for _ in range(sides)]
    await asyncio.sleep(seconds)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return counts


if __name__ == "__main__":
    print(json.dumps(asyncio.run(attack(sys.argv[1], int(sys.argv[2]), sys.argv[3], float(sys.argv[4])))))

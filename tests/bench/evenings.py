"""What is done to an evening by people who have a code of it, or guess at one: attacks for tests.bench.hostile."""

import secrets
from collections import Counter
from collections.abc import Awaitable, Callable
from functools import partial
from itertools import count

from websockets.asyncio.client import connect

from shared.wire.desk_intents import EndEvening
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, DeskCommand, Hello, Role, Welcome
from tests.bench.victims import DESK, EVENING

Counts = Counter[str]
Visit = Callable[[int, str, Counts], Awaitable[None]]
_COMERS = count()


def _hello(code: str, role: Role) -> bytes:
    token = secrets.token_bytes(16)
    return TO_SERVER.pack(Hello(protocol=PROTOCOL, name=f"M{next(_COMERS)}", code=code, token=token, role=role))


def _there(port: int, addresses: int) -> connect:
    source = f"127.0.1.{1 + next(_COMERS) % addresses}", 0
    return connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, local_addr=source)


async def _stay(port: int, _: str, counts: Counts, *, role: Role, addresses: int) -> None:
    """Come in with the evening's code and a token of one's own, and stay."""
    async with _there(port, addresses) as line:
        await line.send(_hello(EVENING, role))
        async for frame in line:
            if isinstance(TO_CLIENT.unpack(frame if isinstance(frame, bytes) else b""), Welcome):
                counts["let in"] += 1


async def _guess(port: int, _: str, counts: Counts, *, role: Role, addresses: int = 4) -> None:
    """Guess a role's code, on a new line each time, and wait for the answer."""
    async with _there(port, addresses) as line:
        await line.send(_hello("maple-kettle-lemon-08", role))
        await line.wait_closed()
        counts[f"closed {line.close_code}"] += 1


async def _order_and_go(port: int, _: str, counts: Counts) -> None:
    """Guess wrong, so that the address has to wait; then say the right code and an order, and hang up at once."""
    await _guess(port, _, counts, role="desk", addresses=1)
    async with _there(port, 1) as line:
        await line.send(_hello(DESK, "desk"))
        await line.send(TO_SERVER.pack(DeskCommand(id=1, intent=EndEvening())))
        counts["orders sent"] += 1
        line.transport.abort()


EVENINGS: dict[str, tuple[Visit, int]] = {
    "a desk that hangs up": (_order_and_go, 6),
    "chairs and waiting places from one address": (partial(_stay, role="player", addresses=1), 60),
    "watchers from twelve addresses": (partial(_stay, role="watcher", addresses=12), 100),
    "the desk's code guessed": (partial(_guess, role="desk"), 20),
    "the teacher's code guessed": (partial(_guess, role="teacher"), 20),
    "teachers with a guest's code": (partial(_stay, role="teacher", addresses=4), 20),
}
"""What is done to an evening, and by how many at once."""

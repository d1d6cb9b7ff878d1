"""Clients that come back to one seat again and again: an attack for tests.bench.hostile."""

from collections import Counter
from collections.abc import Awaitable, Callable

from websockets.asyncio.client import connect

from server.records import TableRecord
from server.table.table import Table
from shared.wire.messages import PROTOCOL, TO_SERVER, Hello
from tests.tables import QUICK, Evening

Counts = Counter[str]
Visit = Callable[[int, str, Counts], Awaitable[None]]
RETURNED = "harvest-index-jelly-02"
SEAT = b"a seat's token.."
HEATS = 12


def played_table() -> Table:
    """Return a table at which twelve heats have been played, and on which somebody has a seat."""
    settings = QUICK.model_copy(update={"heats": HEATS})
    record = TableRecord(id=f"t {RETURNED}", name="Returned", code=RETURNED, settings=settings)
    evening = Evening(settings, people=0, record=record)
    evening.join("Ann", SEAT)
    for _ in range(HEATS):
        evening.play_heat()
    evening.table.disconnected(0, evening.now_ms)
    return evening.table


async def returning(port: int, code: str, counts: Counts) -> None:
    """Come back to a seat after twelve heats, as one who holds none of them, until the next one takes it over."""
    async with connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, max_size=None) as line:
        hello = Hello(protocol=PROTOCOL, name="M", code=RETURNED, token=SEAT, table=f"t {RETURNED}")
        await line.send(TO_SERVER.pack(hello))
        async for frame in line:
            counts["bytes"] += len(frame)
            counts["frames"] += 1


RETURNING: dict[str, tuple[Visit, int]] = {"returning": (returning, 12)}

"""What people beside the tables see: who does not read it costs nothing and is shown the newest in the end."""

import asyncio

from server.club.telling import Telling
from server.table.outbox import REPLIES, Outbox
from shared.wire.club_views import ClubView
from shared.wire.messages import TO_CLIENT, Close
from tests.clubs import ClubEvening
from tests.server.wires import MemoryWire


class Deaf:
    """Takes nothing from any line."""

    def hear(self, line: Outbox, command: object, at_ms: int) -> None:
        pass

    def lost(self, line: Outbox) -> None:
        pass


class StuckWire(MemoryWire):
    """A wire whose other end reads nothing until it is free."""

    def __init__(self) -> None:
        super().__init__()
        self.free = asyncio.Event()

    async def write(self, frame: bytes) -> None:
        await self.free.wait()
        await super().write(frame)


async def test_a_watcher_who_does_not_read_is_kept_and_shown_the_newest_picture_alone() -> None:
    evening, wire = ClubEvening(tables=1), StuckWire()
    telling, line = Telling(evening.club, Deaf()), Outbox(wire)
    telling.stand(line, "watcher")
    running = asyncio.create_task(line.run())
    for _ in range(3 * REPLIES):
        telling.show()
        await asyncio.sleep(0)
    wire.free.set()
    line.end(1000, "bye")
    await running
    assert wire.ended == (1000, "bye")
    assert not line.was_slow
    views = [view for view in map(TO_CLIENT.unpack, wire.written) if isinstance(view, ClubView)]
    assert len(views) <= 2
    assert views[-1].revision == 3 * REPLIES + 1


async def test_the_newest_line_of_a_desk_takes_the_older_ones_place_and_the_older_one_is_told() -> None:
    telling = Telling(ClubEvening(tables=1).club, Deaf())
    older, newer, other = (Outbox(MemoryWire()) for _ in range(3))
    older.token = newer.token = b"a desk's token..."
    other.token = b"another's token.."
    for line in (older, other, newer):
        telling.stand(line, "desk")
    assert list(telling.roles) == [other, newer]
    assert older._ending
    assert older._ending[0] == Close.SEAT_TAKEN_OVER
    assert newer._ending is other._ending is None

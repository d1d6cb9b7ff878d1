"""What people beside the tables see: who does not read it costs nothing and is shown the newest in the end."""

import asyncio
from typing import get_args

from server.clock import now_ms
from server.club.telling import Telling
from server.table.outbox import REPLIES, Outbox
from shared.rules.intents import ShowRack
from shared.wire.club_views import ClubRole, ClubView
from shared.wire.desk_intents import LetTeacherSee
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


async def test_the_evening_is_shown_at_a_beat_soon_after_a_change_and_at_once_where_it_must_be() -> None:
    telling = Telling(ClubEvening(tables=1).club, Deaf())
    await asyncio.sleep(9)
    assert telling.due_ms() is None
    telling.stand(Outbox(MemoryWire()), "watcher")
    assert telling.begin()
    shown_ms = now_ms()
    assert telling.due_ms() == shown_ms + 2_000
    telling.soon()
    assert telling.due_ms() == shown_ms
    assert telling.begin()
    telling.table_changed()
    assert telling.due_ms() == shown_ms + 200
    await asyncio.sleep(1)
    telling.soon()
    assert telling.due_ms() == shown_ms + 200, "it is overdue already"


async def test_every_chairs_rack_that_a_teacher_may_see_is_missed_when_it_is_taken_back() -> None:
    evening = ClubEvening(tables=1, people=4)
    evening.do(LetTeacherSee(on=True))
    telling, line = Telling(evening.club, Deaf()), Outbox(StuckWire())
    telling.stand(line, "teacher")
    for number in range(1, 5):
        evening.say(f"P{number}", ShowRack(on=True))
        telling.begin()
        telling.show()
        evening.say(f"P{number}", ShowRack(on=False))
        assert telling.due_ms() > now_ms()  # type: ignore[operator]
        telling.table_changed()
        assert telling.due_ms() == now_ms(), f"the rack of P{number}"


async def test_a_desk_is_told_everybodys_results_and_others_the_ranking_alone() -> None:
    evening = ClubEvening(tables=1)
    telling, roles = Telling(evening.club, Deaf()), get_args(ClubRole)
    wires = {role: MemoryWire() for role in roles}
    lines = {role: Outbox(wire) for role, wire in wires.items()}
    running = [asyncio.create_task(line.run()) for line in lines.values()]
    for number, (role, line) in enumerate(lines.items()):
        line.token = bytes([number]) * 16
        telling.stand(line, role, f"A {role}")
        assert list(telling.teachers().values()) == (["A teacher"] if "teacher" in telling.roles.values() else [])
    telling.tell_results()
    for line in lines.values():
        line.end(1000, "bye")
    await asyncio.gather(*running)
    for role, wire in wires.items():
        said = [TO_CLIENT.unpack(frame) for frame in wire.written]
        kinds = [message.kind for message in said if message.kind in ("evening", "ranking")]
        assert kinds == ["evening" if role == "desk" else "ranking"] * 2
        assert said[0].kind == "welcome"
        assert said[0].last_id == 0


async def test_a_picture_with_a_rack_that_was_taken_back_is_dropped_where_it_waits_and_another_is_not() -> None:
    telling = Telling(ClubEvening(tables=1).club, Deaf())
    wires = {"teacher": StuckWire(), "watcher": StuckWire()}
    lines = {role: Outbox(wire) for role, wire in wires.items()}
    for number, line in enumerate(lines.values()):
        line.token = bytes([number]) * 16
    telling.stand(lines["teacher"], "teacher")
    telling.stand(lines["watcher"], "watcher")
    telling.begin()
    telling._seen = frozenset({(1, 3)})  # what the teacher was shown, and nobody agrees to any more
    telling.table_changed()
    assert telling.due_ms() == now_ms()
    running = [asyncio.create_task(line.run()) for line in lines.values()]
    for wire, line in zip(wires.values(), lines.values(), strict=True):
        wire.free.set()
        line.end(1000, "bye")
    await asyncio.gather(*running)
    shown = {
        role: any(TO_CLIENT.unpack(frame).kind == "club view" for frame in wire.written) for role, wire in wires.items()
    }
    assert shown == {"teacher": False, "watcher": True}

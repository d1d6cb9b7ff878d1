"""What a hidden tile could change on its way out: a whole heat through the server, twice, alike in all that one seat
may see. Every frame to that seat is the same, at the same millisecond, and so is every line of the log; also when its
line is cut, when somebody else takes the seat over, when strangers guess codes and when the machine stalls.
"""

import asyncio
import logging
import random
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.store import Database, Store
from server.table.table import Table
from shared.rules import charleston
from shared.rules.intents import FreeChair, Intent
from shared.rules.seats import SEATS, Seat
from shared.rules.tiles import full_set
from shared.wire.club_views import ClubView
from shared.wire.messages import PROTOCOL, TO_SERVER, Command, Hello
from tests.loop import VirtualLoop
from tests.server.players import CODE, make_table
from tests.server.test_secrecy import SETTINGS, Evening, SlowTellingTable, TellingTable, World, other_world
from tests.server.wires import MemoryWire

TOKENS = [bytes([number + 1]) * 16 for number in range(5)]
NEWCOMER = BESIDE = 4
Sent = list[tuple[int, bytes]]


@dataclass
class Scripted(Evening):
    """A heat played at the table alone, with everything that was asked and when."""

    script: list[tuple[int, int, Command]] = field(default_factory=list)

    def say(self, seat: Seat, intent: Intent) -> None:
        heat = self.table.record.number
        super().say(seat, intent)
        # Room between the ids, for what the test itself asks on the way.
        self.script.append((self.now_ms, int(seat), Command(id=10 * self.ids, heat=heat, intent=intent)))


class TimedWire(MemoryWire):
    """A wire that notes when each frame was handed over."""

    def __init__(self, peer: str, sent: Sent) -> None:
        super().__init__(peer)
        self._sent = sent

    async def write(self, frame: bytes) -> None:
        await super().write(frame)
        self._sent.append((now_ms(), frame))


@dataclass
class House:
    """The server, and a wire for each of the four people; only what the watched seat is sent is kept."""

    admission: Admission
    watched: int
    sent: Sent = field(default_factory=list)
    wires: dict[int, MemoryWire] = field(default_factory=dict)
    serving: list[asyncio.Task[None]] = field(default_factory=list)

    async def knock(self, chair: int, token: bytes, code: str = CODE, heard: bool | None = None) -> None:
        is_heard = chair == self.watched if heard is None else heard
        wire = TimedWire(f"192.0.2.{chair}", self.sent) if is_heard else MemoryWire(f"192.0.2.{chair}")
        self.wires[chair] = wire
        self.serving.append(asyncio.create_task(self.admission.serve(wire)))
        wire.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name=f"Person {chair}", code=code, token=token)))
        await asyncio.sleep(0)

    async def watch(self) -> None:
        """Let somebody watch from beside the table."""
        wire = TimedWire("192.0.2.99", self.sent)
        self.wires[BESIDE] = wire
        self.serving.append(asyncio.create_task(self.admission.serve(wire)))
        hello = Hello(protocol=PROTOCOL, name="Wren", code=CODE, token=TOKENS[NEWCOMER], role="watcher")
        wire.say(TO_SERVER.pack(hello))
        await asyncio.sleep(0)

    async def go(self) -> None:
        for wire in self.wires.values():
            wire.drop()
        await asyncio.gather(*self.serving)


async def play(script: list[tuple[int, int, Command]], watched: int, trouble: str, kind: type[Table]) -> Sent:
    """Play a script through the server, with one kind of trouble on the way; return what the watched seat was sent."""
    async with Admission.open(Store(Database(None), inline=True)) as admission:
        admission.add(make_table(SETTINGS, kind=kind))
        house = House(admission, watched)
        for chair in range(4):
            await house.knock(chair, TOKENS[chair])
        if watched == BESIDE:
            await house.watch()
        dice = random.Random(trouble)
        moments = set(dice.sample(range(8, len(script) - 8), 5))
        offset_ms = now_ms() + 10_000 - script[0][0]
        for place, (at_ms, chair, command) in enumerate(script):
            await asyncio.sleep((at_ms + offset_ms - now_ms()) / 1_000)
            house.wires[chair].say(TO_SERVER.pack(command))
            if place in moments:
                await asyncio.sleep(0.02)
                await _trouble(house, trouble, command.heat)
                if trouble == "another comes":
                    moments.clear()  # whoever has come stays
        await asyncio.sleep(300)  # the last step's clock may have to answer
        await house.go()
        assert admission.keepers[0].table.record.phase == "between"
        return house.sent


async def _trouble(house: House, trouble: str, heat: int) -> None:
    watched = house.watched
    match trouble:
        case "cut":
            house.wires[watched].drop()
            await asyncio.sleep(0.01)
            await house.knock(watched, TOKENS[watched])
        case "another comes":
            free = Command(id=_id_between(house), heat=heat, intent=FreeChair(chair=watched))
            house.wires[0].say(TO_SERVER.pack(free))
            await asyncio.sleep(0.01)
            await house.knock(watched, TOKENS[NEWCOMER])
        case "strangers":
            await house.knock(9, bytes(16), code="maple otter lemon 08", heard=False)
            await house.knock(8, bytes(15) + b"x", heard=False)
            house.wires[(watched + 1) % 4].say(b"\xc1\xc1")
            await asyncio.sleep(0.01)
            await house.knock((watched + 1) % 4, TOKENS[(watched + 1) % 4])
        case "stall":
            loop = asyncio.get_running_loop()
            assert isinstance(loop, VirtualLoop)
            loop.stall(0.1)


def _id_between(house: House) -> int:
    """Return an id that the host has not used and that the script's next one is greater than."""
    return house.admission.keepers[0].table.record.chairs[0].last_id + 1


CASES = [
    (trouble, seat)
    for trouble in ("none", "cut", "another comes", "strangers", "stall")
    for seat in SEATS
    if trouble != "another comes" or seat != Seat.EAST  # the host cannot be sent away
]


@dataclass
class Told:
    """What came out of one playing: the frames with their moments, and the log."""

    sent: Sent
    log: list[str]


class Lines(logging.Handler):
    """Keeps every line of the log, of every level and logger."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(f"{record.name} {record.levelname} {record.getMessage()} {record.exc_info}")


@pytest.fixture
def lines() -> Iterator[Lines]:
    handler, root = Lines(), logging.getLogger("racktempo")
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield handler
    root.removeHandler(handler)
    root.setLevel(level)


async def two_tellings(
    seed: int,
    watched: Seat,
    trouble: str,
    kind: type[Table],
    lines: Lines,
    monkeypatch: pytest.MonkeyPatch,
    from_beside: bool = False,
) -> tuple[Told, Told]:
    """Play two worlds that the watched seat cannot tell apart, or who is beside the table, and return what came out of
    each."""

    def plant(world: World) -> None:
        monkeypatch.setattr(charleston, "deal", world.deal)

    tiles = list(full_set())
    random.Random(seed).shuffle(tiles)
    one = Scripted(World(tuple(tiles)), watched)
    one.play(random.Random(seed + 1), plant)
    seen = set[int]() if from_beside else one.seen
    other = Scripted(other_world(one.world, seen, random.Random(seed + 2)), watched)
    other.play(random.Random(seed + 1), plant)
    assert one.world != other.world
    told = []
    for evening in (one, other):
        plant(evening.world)
        lines.lines.clear()
        asyncio.get_running_loop().now_s = 10_000.0  # type: ignore[attr-defined]
        sent = await play(evening.script, BESIDE if from_beside else int(watched), trouble, kind)
        told.append(Told(sent, list(lines.lines)))
    return told[0], told[1]


@pytest.mark.parametrize(("trouble", "watched"), CASES)
async def test_a_seat_and_the_log_are_told_the_same_whatever_is_hidden(
    trouble: str, watched: Seat, lines: Lines, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = await two_tellings(10, watched, trouble, Table, lines, monkeypatch)
    assert len(one.sent) > 40
    assert other.sent == one.sent
    assert one.log, "nothing was logged at all"
    assert other.log == one.log


class LoggingTable(Table):
    """A table with a leak into the log: how many pairs somebody holds."""

    def command(self, chair: int, command: Command, now_ms: int):  # type: ignore[no-untyped-def]
        if self._heat:
            rack = self._heat.state.racks[Seat.WEST]
            logging.getLogger("racktempo.leak").debug("west holds %d kinds", len(set(rack)))
        return super().command(chair, command, now_ms)


@pytest.mark.parametrize("kind", [TellingTable, SlowTellingTable, LoggingTable])
async def test_a_planted_leak_is_seen(kind: type[Table], lines: Lines, monkeypatch: pytest.MonkeyPatch) -> None:
    tellings = [await two_tellings(seed, Seat.EAST, "none", kind, lines, monkeypatch) for seed in (10, 20, 30)]
    assert any(one != other for one, other in tellings)


@pytest.mark.parametrize("seed", [10, 20])
async def test_who_watches_without_consent_is_told_the_same_whatever_the_racks_hold(
    seed: int, lines: Lines, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = await two_tellings(seed, Seat.EAST, "none", Table, lines, monkeypatch, from_beside=True)
    assert len(one.sent) > 40
    assert other.sent == one.sent
    assert other.log == one.log


class ShowingTable(Table):
    """A table that shows who is beside it how many kinds West holds, in the name of the table."""

    def view_from(self, place: int, now_ms: int) -> ClubView:
        view = super().view_from(place, now_ms)
        kinds = len(set(self._heat.state.racks[Seat.WEST])) if self._heat else 0
        return view.model_copy(update={"name": f"{view.name}{' ' * kinds}"})


class LateTable(Table):
    """A table that tells who is beside it of a change the later, the more kinds West holds."""

    def next_deadline_ms(self) -> int | None:
        due_ms = super().next_deadline_ms()
        kinds = len(set(self._heat.state.racks[Seat.WEST])) if self._heat else 0
        return due_ms + kinds if due_ms else due_ms


@pytest.mark.parametrize("kind", [ShowingTable, LateTable])
async def test_a_leak_to_who_watches_is_seen(kind: type[Table], lines: Lines, monkeypatch: pytest.MonkeyPatch) -> None:
    seeds = (10, 20, 30)
    told = [await two_tellings(seed, Seat.EAST, "none", kind, lines, monkeypatch, from_beside=True) for seed in seeds]
    assert any(one.sent != other.sent for one, other in told)

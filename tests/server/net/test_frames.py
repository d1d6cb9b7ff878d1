"""Whatever bytes come in: what is no message changes nothing, and nobody else notices."""

import asyncio
import random
from collections import Counter

import pytest
from websockets.asyncio.client import connect

from server.admission import Admission
from server.clock import now_ms
from server.net.listener import Limits, open_listener
from server.net.wire import Wire
from server.store import Store
from shared.codec import BadFrame
from shared.rules.intents import Arrange, Lift, NotReady, Pass, Ready, Vote
from shared.rules.settings import Settings
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, Close, Command, Done, Hello, Refused, Welcome
from shared.wire.views import View
from tests.server.players import CODE, Player, answer_to, make_table, open_house, owes
from tests.server.wires import MemoryWire

COUNT = 10_000


def random_frame(dice: random.Random) -> bytes:
    return dice.randbytes(dice.choice((0, 1, 2, 8, 40, 200, 2_000)))


def mutated(frame: bytes, dice: random.Random) -> bytes:
    """Return the frame with one to four bytes flipped, dropped, doubled or put in."""
    changed = bytearray(frame)
    for _ in range(dice.randint(1, 4)):
        place = dice.randrange(len(changed) + 1)
        match dice.randrange(4):
            case 0 if place < len(changed):
                changed[place] ^= 1 << dice.randrange(8)
            case 1:
                del changed[place : place + dice.randint(1, 8)]
            case 2:
                changed[place:place] = changed[place : place + dice.randint(1, 8)]
            case _:
                changed[place:place] = dice.randbytes(dice.randint(1, 3))
        if not changed:
            break
    return bytes(changed)


class Guest:
    """Someone whose frames may be anything; comes back to the same chair whenever the line is closed."""

    def __init__(self, admission: Admission) -> None:
        self.admission = admission
        self.token: bytes | None = None
        self.closes: Counter[int] = Counter()
        self.wire = MemoryWire()
        self.serving: asyncio.Task[None] | None = None

    async def come(self) -> None:
        if self.serving:
            await self.serving
        self.wire = MemoryWire()
        self.serving = asyncio.create_task(self.admission.serve(self.wire))
        self.wire.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Guest", code=CODE, token=self.token)))
        await asyncio.sleep(0.001)
        welcome = TO_CLIENT.unpack(self.wire.written[0])
        assert isinstance(welcome, Welcome)
        self.token = welcome.token

    async def go(self) -> None:
        self.wire.drop()
        assert self.serving
        await self.serving

    async def say(self, frame: bytes) -> bool:
        """Say a frame, and return whether the line lived through it; if not, come back."""
        self.wire.say(frame)
        await asyncio.sleep(0.001)
        if not self.wire.ended:
            return True
        self.closes[self.wire.ended[0]] += 1
        await asyncio.sleep(0.25)  # nobody comes back faster
        await self.come()
        return False


async def test_an_error_at_a_connection_is_logged_with_its_place_and_the_next_one_is_served(
    caplog: pytest.LogCaptureFixture,
) -> None:
    class Broken:
        async def serve(self, wire: Wire) -> None:
            raise LookupError(f"5b from {wire.peer}")

        async def close_lines(self, code: int, text: str) -> None:
            pass

    async with open_listener(Broken(), "127.0.0.1", 0) as listener:
        for _ in range(2):
            async with connect(f"ws://127.0.0.1:{listener.port}") as line:
                await line.wait_closed()
    line_number = Broken.serve.__code__.co_firstlineno + 1
    place = f"LookupError at {__name__}, {Broken.serve.__qualname__}, line {line_number}"
    assert caplog.text.count(place) == 2
    assert "5b" not in caplog.text
    assert "127.0.0.1" not in caplog.text


async def test_ten_thousand_random_frames_as_first_words_open_nothing() -> None:
    dice = random.Random(1)
    table = make_table()
    async with Admission.open(Store.open(None)) as admission:
        admission.add(table)
        before = table.checkpoint()
        for _ in range(COUNT):
            wire = MemoryWire()
            wire.say(random_frame(dice))
            await admission.serve(wire)
            assert wire.ended
            assert wire.ended[0] in (Close.BAD_FRAME, Close.OTHER_VERSION)
            assert wire.written == []
        assert table.checkpoint() == before


async def test_ten_thousand_mutated_frames_are_taken_as_messages_or_change_nothing() -> None:
    dice = random.Random(2)
    table = make_table(Settings(seed=3, heats=12, level_ms=1_800_000, bot_pace="slow"))
    async with Admission.open(Store.open(None)) as admission:
        admission.add(table)
        ann, guest = Guest(admission), Guest(admission)
        await ann.come()
        await guest.come()
        for person in (ann, guest):
            await person.say(_packed(1, 0, Ready()))
        assert table.record.phase == "heat"
        bad = refused = 0
        for number in range(COUNT):
            if number % 100 == 0:
                view = table.view(1, now_ms())
            frame = mutated(_some_command(view, number + 10, dice), dice)
            before = table.checkpoint()
            is_message = _is_message(frame)
            if is_message:
                assert await guest.say(frame)
                continue
            # Coming back costs most of the time, so only some of the bad frames are said by somebody at the table.
            bad += 1
            if bad % 10:
                stranger = MemoryWire()
                stranger.say(frame)
                await admission.serve(stranger)
                assert stranger.ended
                assert stranger.written == []
            elif await guest.say(frame):
                told = TO_CLIENT.unpack(guest.wire.written[-1])
                assert isinstance(told, Refused)
                assert told.code == "no such value"
                refused += 1
            assert _what_matters(table.checkpoint()) == _what_matters(before)
        assert 1_000 < bad < COUNT
        assert 0 < refused < bad / 10, "what is a command but for its values is refused, all else closes the line"
        assert set(guest.closes) <= {Close.BAD_FRAME}
        await ann.say(_packed(2, table.record.number, NotReady()))
        assert any(message.kind in ("done", "refused") for message in map(TO_CLIENT.unpack, ann.wire.written))
        await ann.go()
        await guest.go()


def _packed(number: int, heat: int, intent) -> bytes:  # type: ignore[no-untyped-def]
    return TO_SERVER.pack(Command(id=number, heat=heat, intent=intent))


def _some_command(view: View, number: int, dice: random.Random) -> bytes:
    heat = view.heat
    rack = heat.rack if heat and heat.rack else ("1b", "2b", "3b")
    tiles = tuple(dice.sample(rack, 3))
    step = heat.step if heat and heat.step else "first right"
    intents = (
        Lift(step=step, tiles=tiles),
        Pass(step=step, tiles=tiles),
        Arrange(tiles=rack),
        Vote(go_on=True),
        NotReady(),
    )
    return _packed(number, view.heat_number, dice.choice(intents))


def _is_message(frame: bytes) -> bool:
    try:
        return isinstance(TO_SERVER.unpack(frame), Command)
    except BadFrame:
        return False


def _what_matters(checkpoint) -> tuple[object, ...]:  # type: ignore[no-untyped-def]
    """The record and the heat's events: what a bad frame must not touch."""
    record, heat, finished, owed = checkpoint
    return record, heat and heat.events, finished, owed


async def test_random_frames_and_bytes_over_real_sockets_disturb_nobody() -> None:
    dice = random.Random(3)
    async with open_house(Settings(seed=3, heats=1), limits=Limits(connections_each=50)) as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.ask(Ready())
        for _ in range(150):
            async with connect(f"ws://127.0.0.1:{house.listener.port}", compression=None) as line:
                await line.send(random_frame(dice))
                await line.wait_closed()
                assert line.close_code == Close.BAD_FRAME
        for _ in range(150):
            reader, writer = await asyncio.open_connection("127.0.0.1", house.listener.port)
            writer.write(dice.randbytes(dice.randint(1, 400)) + b"\r\n\r\n")
            await reader.read(-1)
            writer.close()
            await writer.wait_closed()
        view = await ann.until(owes)
        assert isinstance(await ann.ask(answer_to(view)), Done)
        await ann.go()

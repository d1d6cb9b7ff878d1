"""A line to a table: nothing asked is lost or done twice, and every trouble is one plain sentence."""

import asyncio
import errno
import itertools
import socket
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from websockets.asyncio.server import ServerConnection, serve

from client.connection.address import Address
from client.connection.link import DELAYS_MS, FULL_DELAYS_MS, Connected, Ended, Heard, Link, Lost, _unreachable
from shared.rules.events import Passed, TilesLifted
from shared.rules.heat import HEAT
from shared.rules.intents import Leave, Lift, NotReady, Pass, Ready, WallHash
from shared.rules.settings import Settings
from shared.wire.messages import (
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    Close,
    Command,
    Done,
    HeatFile,
    OwnHeat,
    Refused,
    Welcome,
)
from shared.wire.views import View
from tests.client.relay import Relay, in_virtual_time, relay
from tests.server.players import CODE, House, answer_to, open_house, owes

READY = Ready()
ONE_HEAT = Settings(seed=11, heats=1, bot_pace="quick")
SHORT = Settings(seed=11, heats=1, bot_pace="quick", second="never", courtesy=False)


class Listener:
    """Somebody at the end of a line who keeps all that was heard, and answers every question once."""

    def __init__(self, link: Link, plays: bool = False) -> None:
        self.link, self.plays = link, plays
        self.heard: list[Heard] = []
        self.asked = Counter[int]()
        self._answered: set[tuple[int, str]] = set()
        self._news = asyncio.Event()

    def hear(self, heard: Heard) -> None:
        self.heard.append(heard)
        self._news.set()
        if not isinstance(heard, View) or not self.plays:
            return
        if heard.phase == "over":
            self.link.close()
        elif (
            owes(heard)
            and heard.heat
            and heard.heat.step
            and (heard.heat.number, heard.heat.step) not in self._answered
        ):
            self._answered.add((heard.heat.number, heard.heat.step))
            self.asked[self.link.ask(answer_to(heard), heard.heat_number)] += 1

    async def until(self, kind: type[Heard], count: int = 1) -> Heard:
        """Wait until so many of a kind were heard, and return the last."""
        while len(found := [heard for heard in self.heard if isinstance(heard, kind)]) < count:
            self._news.clear()
            await self._news.wait()
        return found[-1]

    @property
    def answers(self) -> list[Done | Refused]:
        return [heard for heard in self.heard if isinstance(heard, Done | Refused)]


def link_to(port: int, name: str = "Ann", code: str = CODE, token: bytes | None = None) -> Link:
    return Link(Address("127.0.0.1", port), name, code, token or bytes([7]) * 16)


@asynccontextmanager
async def listening(link: Link, plays: bool = False) -> AsyncIterator[Listener]:
    listener = Listener(link, plays)
    running = asyncio.create_task(link.run(listener.hear))
    try:
        yield listener
    finally:
        link.close()
        await running


# ---- nothing is lost and nothing is done twice


async def _heat_with_a_cut(cut_after: int | None) -> tuple[Listener, Relay, House]:
    async with open_house(SHORT) as house, relay(house.listener.port, cut_after=cut_after) as stretch:
        link = link_to(stretch.port)
        listener = Listener(link, plays=True)
        listener.asked[link.ask(READY, 0)] += 1
        await link.run(listener.hear)
    return listener, stretch, house


def test_wherever_the_line_is_cut_every_command_is_answered_once_and_the_same_heat_is_played() -> None:
    uncut, stretch, _ = in_virtual_time(_heat_with_a_cut(None))
    reads = stretch.reads
    passed = [event for event in _heat(uncut) if isinstance(event, Passed) and event.by == "person"]
    assert reads > 15
    assert len(passed) == 3
    for cut_after in range(1, reads):
        listener, stretch, _ = in_virtual_time(_heat_with_a_cut(cut_after))
        answers = listener.answers
        assert stretch.cuts >= 1
        assert Counter(answer.id for answer in answers) == listener.asked, f"cut after {cut_after}"
        assert all(isinstance(answer, Done) or answer.code == "repeated" for answer in answers)
        again = [event for event in _heat(listener) if isinstance(event, Passed) and event.by == "person"]
        assert [event.tiles for event in again] == [event.tiles for event in passed], f"cut after {cut_after}"


def _heat(listener: Listener) -> tuple[object, ...]:
    files = {heard.data for heard in listener.heard if isinstance(heard, HeatFile)}
    assert len(files) == 1
    return HEAT.unpack(files.pop()).events


def test_what_is_asked_while_the_line_is_down_goes_when_it_is_back() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            await ann.until(View)
            stretch.cut()
            await ann.until(Lost)
            number = ann.link.ask(READY, 0)
            await ann.until(Connected, 2)
            done = await ann.until(Done)
            assert done == Done(id=number)

    in_virtual_time(scene())


def test_of_unsent_drafts_only_the_last_is_sent() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            ann.link.ask(READY, 0)
            await ann.until(Done)
            view = await ann.until(View, 2)
            assert isinstance(view, View)
            assert view.heat
            stretch.cut()
            await ann.until(Lost)
            free = [tile for tile in view.heat.rack if tile != "J"]
            for count in range(3):
                ann.link.ask(Lift(step="first right", tiles=tuple(free[: count + 1])), 1)
            await ann.until(Done, 2)
            running = house.table._heat
            assert running
            lifts = [event for event in running.events if isinstance(event, TilesLifted)]
            assert [len(lift.tiles) for lift in lifts] == [3]

    in_virtual_time(scene())


def test_a_relaunched_client_regains_its_seat_and_its_commands_are_new_ones() -> None:
    async def scene() -> None:
        tokens: list[bytes] = []
        async with open_house(ONE_HEAT) as house:
            first = Link(Address("127.0.0.1", house.listener.port), "Ann", CODE, bytes(range(16)), tokens.append)
            async with listening(first) as ann:
                for intent in (NotReady(), NotReady()):
                    ann.link.ask(intent, 0)
                await ann.until(Done, 2)
            async with listening(link_to(house.listener.port, token=tokens[-1])) as ann:
                welcome = await ann.until(Connected)
                assert isinstance(welcome, Connected)
                assert welcome.welcome.chair == 0
                assert welcome.welcome.last_id == 2
                view = await ann.until(View)
                assert isinstance(view, View)
                number = ann.link.ask(READY, view.heat_number)
                answer = await ann.until(Done)
                assert (number, answer) == (1, Done(id=1))

    in_virtual_time(scene())


def test_a_newer_window_takes_the_seat_over_and_the_older_one_says_so_and_stops() -> None:
    async def scene() -> None:
        tokens: list[bytes] = []
        async with open_house(ONE_HEAT) as house:
            old = Link(Address("127.0.0.1", house.listener.port), "Ann", CODE, bytes(range(16)), tokens.append)
            async with listening(old) as older:
                await older.until(View)
                async with listening(link_to(house.listener.port, token=tokens[-1])) as newer:
                    await newer.until(View)
                    ended = await older.until(Ended)
                    assert isinstance(ended, Ended)
                    assert "newer window" in ended.text

    in_virtual_time(scene())


def test_leaving_is_sent_before_the_line_is_closed() -> None:
    async def scene() -> None:
        async with open_house(ONE_HEAT) as house:
            async with listening(link_to(house.listener.port)) as ann:
                await ann.until(View)
                ann.link.ask(Leave(), 0)
                ann.link.close()
            await asyncio.sleep(0.1)
            assert house.table.record.chairs[0].sitter == "nobody"
            assert not any(isinstance(heard, Ended | Lost) for heard in ann.heard)

    in_virtual_time(scene())


def test_the_round_trip_is_measured_before_the_first_view() -> None:
    async def scene() -> None:
        async with (
            open_house(ONE_HEAT) as house,
            relay(house.listener.port, delay_s=0.02) as stretch,
            listening(link_to(stretch.port)) as ann,
        ):
            await ann.until(View)
            assert ann.link.rtt_ms == 40

    in_virtual_time(scene())


# ---- troubles


@asynccontextmanager
async def scripted(*codes: int, welcomes: bool = False) -> AsyncIterator[tuple[int, list[float]]]:
    """A table that closes each line with the next code, the last one for ever; yields its port and who came when."""
    came: list[float] = []

    async def handle(line: ServerConnection) -> None:
        came.append(asyncio.get_running_loop().time())
        await line.recv()
        if welcomes:
            welcome = Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0)
            await line.send(TO_CLIENT.pack(welcome))
        await line.close(codes[min(len(came), len(codes)) - 1], "so it is")

    async with serve(handle, "127.0.0.1", 0, compression=None) as server:
        yield server.sockets[0].getsockname()[1], came


@pytest.mark.parametrize("code", [code for code in Close if code not in TRY_AGAIN])
def test_a_close_that_cannot_mend_is_told_and_never_tried_again(code: Close) -> None:
    async def scene() -> None:
        async with scripted(code) as (port, came):
            link = link_to(port)
            listener = Listener(link)
            await link.run(listener.hear)
            await asyncio.sleep(60)
        assert len(came) == 1
        assert len(listener.heard) == 1
        [ended] = listener.heard
        assert isinstance(ended, Ended)
        assert ended.text.endswith("so it is")
        assert str(int(code)) not in ended.text

    in_virtual_time(scene())


def test_each_try_to_come_back_waits_longer_up_to_a_second() -> None:
    async def scene() -> None:
        async with scripted(1012) as (port, came), listening(link_to(port)) as listener:
            lost = await listener.until(Lost, 8)
        assert lost == Lost("The table says: so it is", 1_000)
        waits = [round((after - before) * 1_000) for before, after in itertools.pairwise(came)]
        assert waits[:7] == [100, 200, 400, 800, 1_000, 1_000, 1_000]
        assert tuple(waits[:5]) == DELAYS_MS

    in_virtual_time(scene())


def test_a_full_door_is_tried_again_ever_more_slowly_and_never_given_up() -> None:
    async def scene() -> None:
        async with scripted(Close.TOO_MANY) as (port, came), listening(link_to(port)) as listener:
            lost = await listener.until(Lost, 8)
        assert lost == Lost("There is no room at the table now. It says: so it is", 15_000)
        waits = [round((after - before) * 1_000) for before, after in itertools.pairwise(came)]
        assert waits[:7] == [1_000, 2_000, 4_000, 8_000, 15_000, 15_000, 15_000]
        assert tuple(waits[:5]) == FULL_DELAYS_MS

    in_virtual_time(scene())


def test_a_seated_guest_whose_line_is_cut_gets_back_once_a_full_door_has_room() -> None:
    async def scene() -> None:
        full = (1012, Close.TOO_MANY, Close.TOO_MANY, 1012)
        async with scripted(*full) as (port, came), listening(link_to(port)) as listener:
            await listener.until(Lost, 5)
        waits = [round((after - before) * 1_000) for before, after in itertools.pairwise(came)]
        assert waits[:4] == [100, 1_000, 2_000, 200]
        assert not any(isinstance(heard, Ended) for heard in listener.heard)

    in_virtual_time(scene())


def test_who_comes_back_says_which_heats_are_there_and_is_not_sent_them_again() -> None:
    async def scene() -> None:
        async with (
            open_house(SHORT) as house,
            relay(house.listener.port) as stretch,
            listening(link_to(stretch.port), plays=True) as ann,
        ):
            ann.plays = False
            ann.link.ask(READY, 0)
            while house.table.record.phase != "over":
                view = await ann.until(View, len([heard for heard in ann.heard if isinstance(heard, View)]) + 1)
                assert isinstance(view, View)
                if owes(view) and view.heat and not view.heat.paused:
                    ann.link.ask(answer_to(view), view.heat_number)
            await ann.until(HeatFile)
            for count in (2, 3):
                stretch.cut()
                await ann.until(Connected, count)
                await asyncio.sleep(5)
            assert sum(isinstance(heard, HeatFile) for heard in ann.heard) == 1
            assert sum(isinstance(heard, OwnHeat) for heard in ann.heard) == 1
            async with listening(link_to(house.listener.port)) as relaunched:
                await relaunched.until(OwnHeat)
                await relaunched.until(HeatFile)

    in_virtual_time(scene())


def test_after_a_welcome_the_first_wait_is_short_again() -> None:
    async def scene() -> None:
        async with scripted(1012, welcomes=True) as (port, came), listening(link_to(port)) as listener:
            await listener.until(Lost, 4)
        waits = [round((after - before) * 1_000) for before, after in itertools.pairwise(came)]
        assert waits[:3] == [100, 100, 100]

    in_virtual_time(scene())


def test_a_reason_full_of_escape_sequences_stays_text() -> None:
    async def handle(line: ServerConnection) -> None:
        await line.close(Close.WRONG_CODE, "\x1b[2Jgone\x07")

    async def scene() -> str:
        async with serve(handle, "127.0.0.1", 0) as server:
            link = link_to(server.sockets[0].getsockname()[1])
            listener = Listener(link)
            await link.run(listener.hear)
        [ended] = listener.heard
        assert isinstance(ended, Ended)
        return ended.text

    assert in_virtual_time(scene()).isprintable()


def test_a_line_that_breaks_while_it_is_opened_is_tried_a_few_times_before_it_is_given_up() -> None:
    async def handle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.close()
        await writer.wait_closed()

    async def scene() -> None:
        server = await asyncio.start_server(handle, "127.0.0.1", 0)
        link = link_to(server.sockets[0].getsockname()[1])
        listener = Listener(link)
        await link.run(listener.hear)
        server.close()
        await asyncio.sleep(1)
        *lost, ended = listener.heard
        assert [again.again_in_ms for again in lost if isinstance(again, Lost)] == list(DELAYS_MS)
        assert isinstance(ended, Ended)
        assert "is not a racktempo table" in ended.text

    in_virtual_time(scene())


def test_what_is_no_table_says_so() -> None:
    async def handle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"220 mail.example ready\r\n")
        writer.close()
        await writer.wait_closed()

    async def scene() -> None:
        server = await asyncio.start_server(handle, "127.0.0.1", 0)
        link = link_to(server.sockets[0].getsockname()[1])
        listener = Listener(link)
        await link.run(listener.hear)
        server.close()
        await asyncio.sleep(1)
        [ended] = listener.heard
        assert isinstance(ended, Ended)
        assert "is not a racktempo table" in ended.text

    in_virtual_time(scene())


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (ConnectionRefusedError(errno.ECONNREFUSED, "Connection refused"), "Nobody answers"),
        (OSError("Multiple exceptions: [Errno 111] Connect call failed, [Errno 111] Connect call failed"), "Nobody"),
        (OSError(errno.EHOSTUNREACH, "No route to host"), "no route"),
        (OSError(errno.ENETUNREACH, "Network is unreachable"), "no route"),
        (socket.gaierror(socket.EAI_NONAME, "Name or service not known"), "There is no machine named"),
        (TimeoutError(), "does not answer"),
        (OSError(errno.EACCES, "Permission denied"), "cannot be reached"),
    ],
)
def test_every_way_of_not_getting_through_has_its_own_sentence(error: Exception, words: str) -> None:
    text = _unreachable(error, Address("boathouse.local"))
    assert words in text
    assert "boathouse.local" in text


def test_a_table_that_was_never_reached_is_not_tried_again() -> None:
    async def scene() -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            link = link_to(free.getsockname()[1])
            listener = Listener(link)
            await link.run(listener.hear)
        [ended] = listener.heard
        assert isinstance(ended, Ended)
        assert "Nobody answers" in ended.text

    in_virtual_time(scene())


def test_closing_while_waiting_to_come_back_ends_at_once() -> None:
    async def scene() -> float:
        async with scripted(1012) as (port, _):
            async with listening(link_to(port)) as listener:
                await listener.until(Lost, 6)
                before = asyncio.get_running_loop().time()
            return asyncio.get_running_loop().time() - before

    assert in_virtual_time(scene()) < 0.01


def test_whoever_is_moved_to_another_table_stays_on_the_line_and_begins_there_anew() -> None:
    got: list[int] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        for chair, last_id in ((0, 0), (2, 1)):
            welcome = Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=last_id)
            await line.send(TO_CLIENT.pack(welcome))
            command = TO_SERVER.unpack(await line.recv(decode=False))
            assert isinstance(command, Command)
            got.append(command.id)
        await line.send(TO_CLIENT.pack(Done(id=got[-1])))
        await line.wait_closed()

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            ann.link.ask(NotReady(), 0)
            await ann.until(Connected, 2)
            number = ann.link.ask(READY, 0)
            assert await ann.until(Done) == Done(id=number)
            assert not any(isinstance(heard, Lost | Ended) for heard in ann.heard)

    in_virtual_time(scene())
    assert got == [1, 2]


def test_ids_on_the_wire_go_on_from_what_the_seat_had_used() -> None:
    got: list[int] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        await line.send(TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=41)))
        command = TO_SERVER.unpack(await line.recv(decode=False))
        assert isinstance(command, Command)
        got.append(command.id)
        await line.send(TO_CLIENT.pack(Done(id=command.id)))
        await line.wait_closed()

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            number = ann.link.ask(Pass(step="first right", tiles=()), 1)
            assert await ann.until(Done) == Done(id=number)
        assert got == [42]

    in_virtual_time(scene())


def test_a_part_in_the_wall_that_the_hosts_disk_did_not_take_is_sent_again_and_other_commands_are_not() -> None:
    got: list[tuple[float, Command]] = []

    async def handle(line: ServerConnection) -> None:
        await line.recv()
        await line.send(TO_CLIENT.pack(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0)))
        async for frame in line:
            command = TO_SERVER.unpack(frame)  # type: ignore[arg-type]
            assert isinstance(command, Command)
            got.append((asyncio.get_running_loop().time(), command))
            full = len(got) < 3
            refused = Refused(id=command.id, code="disk", text="The disk is full.", late_ms=None)
            await line.send(TO_CLIENT.pack(refused if full else Done(id=command.id)))

    async def scene() -> None:
        async with (
            serve(handle, "127.0.0.1", 0, compression=None) as server,
            listening(link_to(server.sockets[0].getsockname()[1])) as ann,
        ):
            await ann.until(Connected)
            number = ann.link.ask(WallHash(heat=1, attempt=1, hash=bytes(32)), 0)
            assert await ann.until(Done) == Done(id=number)
            assert not any(isinstance(heard, Refused) for heard in ann.heard)
            got.clear()
            number = ann.link.ask(READY, 0)
            refused = await ann.until(Refused)
            assert isinstance(refused, Refused)
            assert refused.id == number
            await asyncio.sleep(10)
            assert len(got) == 1

    in_virtual_time(scene())

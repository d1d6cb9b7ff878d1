"""Lines that are closed, cut or never opened: each is one plain sentence, and tried again only if that can help."""

import asyncio
import errno
import itertools
import socket
import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from websockets.asyncio.server import ServerConnection, serve
from websockets.datastructures import Headers
from websockets.exceptions import InvalidStatus
from websockets.http11 import Response

from client.connection.address import Address
from client.connection.link import DELAYS_MS, FULL_DELAYS_MS, Connected, Ended, Lost
from client.connection.unreachable import unreachable
from shared.wire.messages import (
    PROTOCOL,
    TO_CLIENT,
    TRY_AGAIN,
    Close,
    HeatFile,
    OwnHeat,
    Welcome,
)
from shared.wire.views import View
from tests.client.connection.listeners import READY, SHORT, Listener, link_to, listening
from tests.client.relay import in_virtual_time, relay
from tests.server.players import answer_to, open_house, owes


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
        if code == Close.WRONG_CODE:
            assert ended.text == "This is the wrong code; ask the host."
        else:
            assert ended.text.endswith("so it is")
        assert str(int(code)) not in ended.text

    in_virtual_time(scene())


def waits_ms(came: list[float]) -> list[int]:
    """Return the times between tries."""
    return [round((after - before) * 1_000) for before, after in itertools.pairwise(came)]


async def eight_tries(*codes: int) -> tuple[object, list[int]]:
    """Return what is said after eight tries that all end with these codes, and how long each waited."""
    async with scripted(*codes) as (port, came), listening(link_to(port)) as listener:
        lost = await listener.until(Lost, 8)
    return lost, waits_ms(came)


def test_each_try_to_come_back_waits_longer_up_to_a_second() -> None:
    lost, waits = in_virtual_time(eight_tries(1012))
    assert lost == Lost("The table says: so it is", 1_000)
    assert waits[:7] == [100, 200, 400, 800, 1_000, 1_000, 1_000]
    assert tuple(waits[:5]) == DELAYS_MS


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (Close.TOO_SLOW, "The table closed this connection because it read too slowly."),
        (Close.ASKED_HOST, "so it is"),
        (Close.TOO_MANY, "There is no room at the table now. It says: so it is"),
    ],
)
def test_why_a_line_was_closed_is_told_while_it_is_tried_again(code: Close, said: str) -> None:
    lost, _ = in_virtual_time(eight_tries(code))
    assert isinstance(lost, Lost)
    assert lost.text == said


def test_a_full_door_is_tried_again_ever_more_slowly_and_never_given_up() -> None:
    lost, waits = in_virtual_time(eight_tries(Close.TOO_MANY))
    assert lost == Lost("There is no room at the table now. It says: so it is", 15_000)
    assert waits[:7] == [1_000, 2_000, 4_000, 8_000, 15_000, 15_000, 15_000]
    assert tuple(waits[:5]) == FULL_DELAYS_MS


def test_while_the_host_is_asked_one_knocks_every_two_seconds() -> None:
    lost, waits = in_virtual_time(eight_tries(Close.ASKED_HOST))
    assert lost == Lost("so it is", 2_000)
    assert waits[:7] == [2_000] * 7


def test_a_seated_guest_whose_line_is_cut_gets_back_once_a_full_door_has_room() -> None:
    async def scene() -> None:
        full = (1012, Close.TOO_MANY, Close.TOO_MANY, 1012)
        async with scripted(*full) as (port, came), listening(link_to(port)) as listener:
            await listener.until(Lost, 5)
        waits = waits_ms(came)
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


@pytest.mark.parametrize(("code", "first_ms"), [(1012, 100), (Close.TOO_MANY, 1_000)])
def test_after_a_welcome_the_first_wait_is_short_again(code: int, first_ms: int) -> None:
    async def scene() -> None:
        async with scripted(code, welcomes=True) as (port, came), listening(link_to(port)) as listener:
            await listener.until(Lost, 4)
        waits = waits_ms(came)
        assert waits[:3] == [first_ms] * 3

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


def answered(status: int) -> InvalidStatus:
    return InvalidStatus(Response(status, "", Headers()))


def bad_certificate() -> ssl.SSLCertVerificationError:
    error = ssl.SSLCertVerificationError(1, "certificate verify failed")
    error.verify_message = "certificate has expired."
    return error


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (answered(403), "refuses connections through this address."),
        (answered(402), "is not a racktempo table"),
        (answered(404), "is not a racktempo table"),
        (EOFError(), "is not a racktempo table"),
        (bad_certificate(), "its certificate is bad: certificate has expired. If"),
        (ssl.SSLError(1, "wrong version number"), "no working TLS"),
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
    text = unreachable(error, Address("boathouse.local"), again=False)
    assert words in text
    assert "boathouse.local" in text
    again = unreachable(error, Address("boathouse.local"), again=True)
    assert again == ("The table is not open now." if "Nobody" in words else again)
    assert ": " not in again
    assert again.endswith(".")
    assert ". " not in again, "advice is for who comes the first time"
    assert text.startswith(again[:-1]) or "Nobody" in words


def test_only_who_came_without_encryption_is_told_to_try_with_it() -> None:
    said = {private: unreachable(EOFError(), Address("a", private=private), again=False) for private in (False, True)}
    assert "shows wss:// before the address" in said[False]
    assert "wss" not in said[True]


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

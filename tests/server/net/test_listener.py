"""What a port takes: whose requests, which frames, and how many of them."""

import asyncio
import contextlib
import socket
from contextlib import AsyncExitStack

import pytest
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import InvalidStatus

from server.admission import NONSENSE, Admission
from server.clock import now_ms
from server.net.listener import CannotOpen, Limits, open_listener
from server.net.wire import HungUp, Wire
from server.store import Store
from shared.codec import Codec
from shared.rules.intents import NotReady, Ready
from shared.wire.messages import (
    FRAME_LIMIT,
    PROTOCOL,
    TRY_AGAIN,
    Close,
    Refused,
)
from tests.server.players import CODE, House, Player, open_house

ANYTHING: Codec[object] = Codec(object, 2 * FRAME_LIMIT)


async def first_words(house: House, frame: bytes | str, **headers: str) -> tuple[int, str]:
    """Send one frame to a table and return how it closes the line."""
    address = f"ws://127.0.0.1:{house.listener.port}"
    async with connect(address, compression=None, additional_headers=headers) as line:
        await line.send(frame)
        await line.wait_closed()
        return line.close_code or 1006, line.close_reason or ""


async def test_another_version_is_told_both_numbers_whatever_else_its_hello_holds() -> None:
    hello = ANYTHING.pack({"kind": "hello", "protocol": PROTOCOL + 1, "something": "new", "code": 5})
    async with open_house() as house:
        code, text = await first_words(house, hello)
    assert code == Close.OTHER_VERSION
    assert str(PROTOCOL) in text
    assert str(PROTOCOL + 1) in text


@pytest.mark.parametrize(
    "origin",
    ["https://example.org", "http://127.0.0.1:{port}", "http://localhost", "null", "NULL", "file://", "", " ", "*"],
)
async def test_a_web_page_cannot_join(origin: str) -> None:
    """Also none of this machine, and none that hides where it is from: a sandboxed frame and a file say "null"."""
    async with open_house() as house:
        with pytest.raises(InvalidStatus) as refusal:
            await first_words(house, b"", Origin=origin.format(port=house.listener.port))
        assert refusal.value.response.status_code == 403


@pytest.mark.parametrize("second", ["null", "https://elsewhere.example"])
async def test_a_page_that_may_join_lets_no_other_origin_in_beside_it(second: str) -> None:
    allowed = "https://boathouse.example"
    async with (
        Admission.open(Store.open(None)) as admission,
        open_listener(admission, "127.0.0.1", 0, origins=[allowed]) as listener,
    ):
        headers = "Host: localhost\r\nOrigin: {}\r\n"
        assert await _status(listener.port, headers.format(allowed)) == 101
        assert await _status(listener.port, headers.format(second)) == 403
        assert await _status(listener.port, headers.format(allowed) + f"Origin: {second}\r\n") == 403


@pytest.mark.parametrize(
    ("host", "is_let_in"),
    [
        ("127.0.0.1:{port}", True),
        ("localhost:{port}", True),
        ("LOCALHOST", True),
        ("[::1]:{port}", True),
        ("192.168.7.7", True),
        ("boathouse.example:{port}", True),
        ("elsewhere.example", False),
        ("127.0.0.1.elsewhere.example", False),
        ("", False),
        ("[::1", False),
        ("localhost\tx", False),
    ],
)
async def test_a_request_meant_for_another_host_is_turned_away(host: str, is_let_in: bool) -> None:
    async with (
        Admission.open(Store.open(None)) as admission,
        open_listener(admission, "127.0.0.1", 0, names=["boathouse.example"]) as listener,
    ):
        status = await _status(listener.port, f"Host: {host.format(port=listener.port)}\r\n")
        assert status == (101 if is_let_in else 403)


async def test_a_request_that_names_no_host_or_two_is_turned_away() -> None:
    async with open_house() as house:
        assert await _status(house.listener.port, "") == 403
        assert await _status(house.listener.port, "Host: localhost\r\nHost: localhost\r\n") == 403


async def _status(port: int, headers: str) -> int:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(_request(headers))
    line = await reader.readline()
    writer.close()
    await writer.wait_closed()
    return int(line.split()[1])


def _request(headers: str) -> bytes:
    return (
        f"GET / HTTP/1.1\r\n{headers}Upgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    ).encode()


async def test_who_says_nothing_is_closed_after_five_seconds() -> None:
    async with open_house() as house, connect(f"ws://127.0.0.1:{house.listener.port}") as line:
        began_ms = now_ms()
        await line.wait_closed()
        assert line.close_code == Close.BAD_FRAME
        assert now_ms() - began_ms == 5_000


async def test_frames_that_cannot_be_are_refused_by_kind() -> None:
    async with open_house() as house:
        assert (await first_words(house, "text"))[0] == Close.BAD_FRAME
        assert (await first_words(house, b"\xc1"))[0] == Close.BAD_FRAME
        assert (await first_words(house, bytes(FRAME_LIMIT + 1)))[0] == Close.TOO_BIG
        command = {"kind": "command", "id": 1, "heat": 0, "intent": {"kind": "start"}}
        assert (await first_words(house, ANYTHING.pack(command)))[0] == Close.BAD_FRAME


async def test_a_value_that_cannot_be_is_refused_like_a_rule_and_only_when_repeated_closes_the_line() -> None:
    def wrong(number: int) -> bytes:
        return ANYTHING.pack({"kind": "command", "id": number, "heat": 0, "intent": {"kind": "offer", "count": 9}})

    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        for number in range(1, NONSENSE + 1):
            await ann.line.send(wrong(number))
        assert (await ann.ask(Ready(), NONSENSE + 1)).kind == "done"
        refused = [message for message in ann.heard if isinstance(message, Refused)]
        assert [one.id for one in refused] == list(range(1, NONSENSE + 1))
        assert {one.code for one in refused} == {"no such value"}
        assert "count" in refused[0].text
        for number in range(100, 100 + NONSENSE):
            await ann.line.send(wrong(number))
        assert (await ann.end())[0] == Close.BAD_FRAME


async def test_what_is_no_command_at_all_closes_the_line_at_once() -> None:
    async with open_house() as house:
        for frame in ({"kind": "command", "id": 0, "heat": 0}, {"kind": "welcome"}, 5):
            ann = Player(house.listener.port)
            await ann.come()
            await ann.line.send(ANYTHING.pack(frame))
            assert (await ann.end())[0] == Close.BAD_FRAME


async def test_a_flood_closes_the_one_who_floods_and_nobody_else() -> None:
    async with open_house() as house:
        ann, flooder = Player(house.listener.port), Player(house.listener.port, "Flo")
        await ann.come()
        await flooder.come()
        for _ in range(200):
            await flooder.send(NotReady())
        assert (await flooder.end())[0] == Close.BAD_FRAME
        assert (await ann.ask(Ready())).kind == "done"


async def test_forty_frames_a_second_are_nobodys_flood() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        for _ in range(400):
            await ann.ask(NotReady())
            await asyncio.sleep(1 / 40)
        assert ann.closed is None


async def test_a_taken_port_is_named_with_the_next_free_one() -> None:
    async with open_house() as house:
        port = house.listener.port
        with pytest.raises(CannotOpen) as refusal:
            async with open_listener(house.admission, "127.0.0.1", port):
                pass
        assert str(port) in str(refusal.value)
        free = refusal.value.next_free
        assert free
        assert str(free) in str(refusal.value)
        async with open_listener(house.admission, "127.0.0.1", free) as listener:
            assert listener.addresses == (f"127.0.0.1:{free}",)


async def test_near_the_last_port_none_beyond_it_is_offered() -> None:
    with socket.socket() as other:
        with contextlib.suppress(OSError):  # whoever has it
            other.bind(("127.0.0.1", 65_535))
            other.listen()
        with pytest.raises(CannotOpen) as refusal:
            async with open_listener(Porter(), "127.0.0.1", 65_535):
                pass
        assert str(refusal.value) == "Port 65535 of 127.0.0.1 is taken by another program."
        assert refusal.value.next_free is None


class Porter:
    """A handler that hears one frame on every line and keeps who came until they go."""

    def __init__(self) -> None:
        self.came: list[Wire] = []
        self.hung_up = asyncio.Event()

    async def serve(self, wire: Wire) -> None:
        with contextlib.suppress(HungUp):
            while True:
                await wire.read()
                self.came.append(wire)

    async def close_lines(self, code: int, text: str) -> None:
        """Everybody may stay until the listener ends them."""


async def test_strangers_have_so_many_places_in_all_and_who_goes_or_settles_gives_theirs_back() -> None:
    porter = Porter()
    async with AsyncExitStack() as stack:
        listener = await stack.enter_async_context(
            open_listener(porter, "127.0.0.1", 0, limits=Limits(connections=3, connections_each=2))
        )

        async def come(host: str) -> tuple[ClientConnection, Wire]:
            line = await stack.enter_async_context(connect(f"ws://127.0.0.1:{listener.port}", local_addr=(host, 0)))
            await line.send(b"hello")
            await asyncio.sleep(0.1)
            return line, porter.came[-1]

        first, _ = await come("127.0.0.2")
        _, second = await come("127.0.0.2")
        assert (await come("127.0.0.2"))[1].is_crowded, "this address has two"
        _, third = await come("127.0.0.3")
        assert [wire.is_crowded for wire in (second, third)] == [False, False]
        assert (await come("127.0.0.4"))[1].is_crowded, "there are three in all"
        await first.close()
        await asyncio.sleep(0.1)
        assert not (await come("127.0.0.4"))[1].is_crowded
        assert (await come("127.0.0.5"))[1].is_crowded
        for _ in range(3):
            second.settle()
        assert not (await come("127.0.0.2"))[1].is_crowded, "only one place was given back, however often it is said"
        assert (await come("127.0.0.5"))[1].is_crowded


async def test_who_does_not_answer_a_goodbye_is_cut_off_after_two_seconds() -> None:
    porter = Porter()
    async with open_listener(porter, "127.0.0.1", 0) as listener:
        reader, writer = await asyncio.open_connection("127.0.0.1", listener.port)
        writer.write(_request("Host: localhost\r\n") + b"\x82\x80\x00\x00\x00\x00")
        await reader.readuntil(b"\r\n\r\n")
        await asyncio.sleep(0.1)
        began_ms = now_ms()
        await porter.came[0].hang_up(Close.SENT_AWAY, "ü" * 100)
        assert now_ms() - began_ms == 2_000
        # As much of the reason as fits a control frame, in whole letters (RFC 6455 section 5.5).
        assert await reader.read() == b"\x88\x7c" + Close.SENT_AWAY.to_bytes(2, "big") + ("ü" * 61).encode()
        writer.close()


async def test_the_log_names_whose_request_was_turned_away(caplog: pytest.LogCaptureFixture) -> None:
    async with open_listener(Porter(), "127.0.0.1", 0) as listener:
        for headers in ("Host: localhost\r\nOrigin: null\r\n", "Host: elsewhere.example\r\n"):
            assert await _status(listener.port, headers) == 403
    assert caplog.messages == [
        "Web pages that tried to join (1 so far, the last from 127.0.0.1).",
        "Requests for another host (1 so far, the last from 127.0.0.1).",
    ]


async def test_when_the_host_closes_everybody_is_told_to_try_again() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port, code=CODE)
        await ann.come()
    code, _ = await ann.end()
    assert code == 1001
    assert code in TRY_AGAIN

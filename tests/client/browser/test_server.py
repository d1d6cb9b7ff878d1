"""The page for browsers: who may open it, who may not, and that nothing stays when somebody has gone.

The visitors' program is a stand-in that speaks what a screen without a terminal speaks; tests/outside has the real one
in a real browser.
"""

import asyncio
import errno
import json
import os
import re
import signal
import socket
import sys
import time
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

import aiohttp
import pytest
from websockets.asyncio.client import connect

from client.browser import server as page
from client.browser.entry import Visitor
from client.browser.limits import WIDEST
from client.browser.server import MESSAGE_BYTES, CannotServe, Page, open_page
from shared.visitors import KEY_BYTES, KEY_FILE

ECHO = """
import json, os, sys
from pathlib import Path
out, folder = sys.stdout.buffer, Path(sys.argv[1])
def say(data):
    out.write(b"D" + len(data).to_bytes(4, "big") + data)
    out.flush()
out.write(b"__GANGLION__\\n")
told = json.loads((folder / "visit.json").read_text())
say(json.dumps([told, os.environ["COLUMNS"], os.environ["ROWS"]]).encode())
while kind := sys.stdin.buffer.read(1):
    data = sys.stdin.buffer.read(int.from_bytes(sys.stdin.buffer.read(4), "big"))
    if kind == b"M" and json.loads(data)["type"] == "quit" or data == b"end":
        break
    say(kind + data)
"""
DEAF = """
import sys, time
sys.stdout.buffer.write(b"__GANGLION__\\nD\\0\\0\\0\\5ready")
sys.stdout.flush()
time.sleep(1_000)
"""
NOISY = """
import sys
sys.stdout.buffer.write(b"__GANGLION__\\n")
while True:
    sys.stdout.buffer.write(b"D\\0\\0\\xff\\xff" + b"x" * 0xffff)
"""
BREAKS = "import sys; sys.stdout.write('__GANGLION__\\n'); sys.exit(3)"


COOKIE = "5" * 32


class Browser:
    """What a browser at the page's own address would ask for, once the table has let its visitor in."""

    def __init__(self, session: aiohttp.ClientSession, address: str, page: Page, said: list[str]) -> None:
        self.session, self.address, self.page, self.said = session, address, page, said
        self.host = address.removeprefix("http://").rstrip("/")
        self.cookie = f"racktempo-{self.host.rpartition(':')[2]}"
        page.entry._known[COOKIE] = Visitor(name="Ada", code="maple", secret=bytes(16))

    async def get(self, path: str, **headers: str) -> aiohttp.ClientResponse:
        return await self.session.get(f"{self.address}{path}", headers=headers)

    def line(self, size: str = "?width=100&height=30", **headers: str) -> aiohttp.client._WSRequestContextManager:
        own = {"Origin": f"http://{self.host}", "Cookie": f"{self.cookie}={COOKIE}"} | headers
        return self.session.ws_connect(f"{self.address}line{size}", headers=own)

    def folders(self) -> list[Path]:
        return list(self.page.folder.iterdir())

    async def until_gone(self) -> None:
        """Let the page clear up after the lines that have ended."""
        while self.page.here.total():  # noqa: ASYNC110
            await asyncio.sleep(0.01)  # another process ends; there is nothing else to wait on


def program(code: str) -> page.Program:
    def command(folder: Path) -> Sequence[str]:
        return (sys.executable, "-I", "-c", code, str(folder))

    return command


@asynccontextmanager
async def opened(folder: Path, code: str = ECHO, **limits: float) -> AsyncIterator[Browser]:
    said: list[str] = []
    served = Page("192.0.2.20:15214", folder, program=program(code), say=said.append, **limits)  # type: ignore[arg-type]
    async with open_page(served, "127.0.0.1", 0) as reached, aiohttp.ClientSession() as session:
        (address,) = reached.addresses
        yield Browser(session, address, served, said)


async def test_the_page_and_what_it_needs_come_from_here_and_nothing_from_elsewhere(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser:
        shown = await (await browser.get("")).text()
        named = re.findall(r'(?:src|href)="([^"]*)"', shown)
        assert set(named) == {"data:,", "page.css"}
        shown = await (await browser.get("table", Cookie=f"{browser.cookie}={COOKIE}")).text()
        named = re.findall(r'(?:src|href)="([^"]*)"', shown)
        assert set(named) == {"data:,", "xterm.css", "page.css", "page.js", "textual.js"}
        for path in ("", "table", "xterm.css", "page.css", "page.js", "textual.js"):
            answer = await browser.get(path)
            assert answer.status == 200
            policy = answer.headers["Content-Security-Policy"]
            assert policy.startswith("default-src 'none'; script-src 'self'; ")
            assert "http" not in policy
            assert "frame-ancestors 'none'" in policy
        for path in ("static/", "download/1", "visit.json", "../page.py", "%2e%2e/page.py", "page.html", "index"):
            assert (await browser.get(path)).status == 404


@pytest.mark.parametrize("host", ["club.example", "club.example:15280", ""])
async def test_a_request_for_another_host_gets_nothing(tmp_path: Path, host: str) -> None:
    async with opened(tmp_path) as browser:
        for path in ("", "textual.js", "line"):
            assert (await browser.get(path, Host=host)).status == 403
        with pytest.raises(aiohttp.WSServerHandshakeError) as refusal:
            await browser.line(Host=host, Origin=f"http://{host}")
        assert refusal.value.status == 403
        assert browser.folders() == []


@pytest.mark.parametrize("origin", ["http://club.example", "null", "https://127.0.0.1", "http://127.0.0.1:9"])
async def test_a_page_from_elsewhere_opens_no_line(tmp_path: Path, origin: str) -> None:
    async with opened(tmp_path) as browser:
        with pytest.raises(aiohttp.WSServerHandshakeError) as refusal:
            await browser.line(Origin=origin)
        assert refusal.value.status == 403
        assert browser.folders() == []


async def test_what_names_no_page_opens_no_line_either(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser:
        with pytest.raises(aiohttp.WSServerHandshakeError):
            await browser.session.ws_connect(f"{browser.address}line", headers={"Cookie": f"{browser.cookie}={COOKIE}"})


async def test_keys_and_sizes_reach_the_visitors_own_process_and_nonsense_does_not(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser, browser.line("?width=99999&height=x") as line:
        told, *size = json.loads(await line.receive_bytes())
        assert told["address"] == "192.0.2.20:15214"
        assert size == [str(WIDEST), "24"]
        for nonsense in ("", "[[[", '["ping","1"]', '["deliver","x"]'):
            await line.send_str(nonsense)
        await line.send_bytes(b'["stdin","bytes"]')
        await line.send_str('["stdin","a"]')
        assert await line.receive_bytes() == b"Da"
        await line.send_str('["resize",{"width":80,"height":24}]')
        assert json.loads((await line.receive_bytes())[1:]) == {"type": "resize", "width": 80, "height": 24}


async def test_nothing_in_the_name_of_a_folder_is_a_command(tmp_path: Path) -> None:
    folder = tmp_path / 'it\'s `touch one` $(touch two) "&& touch three"'
    folder.mkdir()
    async with opened(folder) as browser, browser.line() as line:
        assert (await line.receive_bytes()).startswith(b"[")
    assert os.listdir(tmp_path) == [folder.name]


async def test_when_all_places_are_taken_the_next_visitor_is_told_so(tmp_path: Path) -> None:
    async with opened(tmp_path, most=2) as browser:
        async with browser.line() as one, browser.line() as two:
            await one.receive_bytes(), await two.receive_bytes()
            async with browser.line() as third:
                assert b"All 2 places of this page are taken." in await third.receive_bytes()
                assert (await third.receive()).type == aiohttp.WSMsgType.CLOSE
            assert len(browser.folders()) == 2
        await browser.until_gone()
        async with browser.line() as again:
            assert (await again.receive_bytes()).startswith(b"[")


async def test_one_address_cannot_take_all_places(tmp_path: Path) -> None:
    async with opened(tmp_path, each=1) as browser, browser.line() as one:
        await one.receive_bytes()
        async with browser.line() as another:
            assert b"There are 1 screens at your address already." in await another.receive_bytes()


async def bare_lines(browser: Browser, count: int) -> list[tuple[asyncio.StreamReader, asyncio.StreamWriter]]:
    """Ask for so many lines in one moment, and leave it at that."""
    lines = [await asyncio.open_connection("127.0.0.1", int(browser.host.rpartition(":")[2])) for _ in range(count)]
    asked = (
        f"GET /line HTTP/1.1\r\nHost: {browser.host}\r\nOrigin: http://{browser.host}\r\n"
        f"Cookie: {browser.cookie}={COOKIE}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    )
    for _, writer in lines:
        writer.write(asked.encode())
    return lines


async def test_a_browser_that_is_there_no_more_without_a_word_keeps_no_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "HEARTBEAT_S", 0.2)
    async with opened(tmp_path) as browser:
        [(reader, writer)] = await bare_lines(browser, 1)
        await reader.readuntil(b"[")
        assert len(browser.folders()) == 1
        async with asyncio.timeout(20):
            await browser.until_gone()
        assert browser.folders() == []
        writer.transport.abort()


async def test_who_asks_for_many_screens_in_one_moment_gets_no_more_than_one_after_the_other(tmp_path: Path) -> None:
    async with opened(tmp_path, each=2) as browser:
        lines = await bare_lines(browser, 8)
        said = await asyncio.gather(*(reader.readuntil(b"[") for reader, _ in lines))
        assert sum(b"\x1b" in text for text in said) == 6
        assert (browser.page.here.total(), len(browser.folders())) == (2, 2)
        for _, writer in lines:
            writer.transport.abort()
        await browser.until_gone()


async def test_nothing_is_left_of_a_visitor_who_goes(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser:
        async with browser.line() as line:
            await line.receive_bytes()
            (folder,) = browser.folders()
            assert folder.stat().st_mode & 0o077 == 0
        await browser.until_gone()
        assert browser.folders() == []
        assert browser.said == []


async def test_a_screen_that_ends_or_breaks_ends_the_line(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser, browser.line() as line:
        await line.receive_bytes()
        await line.send_str('["stdin","end"]')
        assert (await line.receive()).type == aiohttp.WSMsgType.CLOSE
    async with opened(tmp_path, BREAKS) as browser, browser.line() as line:
        assert (await line.receive()).type == aiohttp.WSMsgType.CLOSE
        await browser.until_gone()
        assert browser.said == ["Screens ended with an error, exit code 3 (1 so far, the last from a visitor)."]
        assert browser.folders() == []


async def test_a_screen_that_cannot_be_shown_ends_the_line_and_the_host_is_told_why(tmp_path: Path) -> None:
    def without_room(folder: Path) -> Sequence[str]:
        raise OSError(errno.ENOSPC, "No space left on device")

    async with opened(tmp_path) as browser:
        browser.page.program = without_room
        async with browser.line() as line:
            assert (await line.receive()).type == aiohttp.WSMsgType.CLOSE
            await browser.until_gone()
        assert browser.said == ["Screens could not be shown: the disk is full (1 so far, the last from a visitor)."]
        assert browser.folders() == []


async def test_a_screen_that_does_not_end_by_itself_is_ended(tmp_path: Path) -> None:
    async with opened(tmp_path, DEAF, end_s=0.05) as browser:
        async with browser.line() as line:
            assert await line.receive_bytes() == b"ready"
        await browser.until_gone()
        assert browser.folders() == []


async def test_a_browser_that_stops_reading_and_vanishes_leaves_no_process_behind(tmp_path: Path) -> None:
    async with opened(tmp_path, NOISY, end_s=0.05) as browser:
        line = await connect(
            f"ws://{browser.host}/line",
            origin=f"http://{browser.host}",  # type: ignore[arg-type]
            additional_headers={"Cookie": f"{browser.cookie}={COOKIE}"},
        )
        await line.recv()
        line.transport.pause_reading()  # type: ignore[attr-defined]
        assert len(browser.folders()) == 1
        line.transport.abort()
        await browser.until_gone()
        assert browser.folders() == []


async def test_a_message_that_is_too_long_ends_the_line(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser, browser.line() as line:
        await line.receive_bytes()
        await line.send_str('["stdin","' + "a" * MESSAGE_BYTES + '"]')
        closed = await line.receive()
        assert (closed.type, closed.data) == (aiohttp.WSMsgType.CLOSE, 1009)


async def test_when_the_page_closes_every_visit_ends_with_it(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser:
        line = await browser.line()
        await line.receive_bytes()
        assert len(browser.folders()) == 1
        await browser.page.close()
        assert (await line.receive()).data == 1001
    assert browser.folders() == []


async def test_a_port_that_cannot_be_had_is_one_sentence(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser:
        taken = int(browser.host.rpartition(":")[2])
        with pytest.raises(
            CannotServe, match=f"Port {taken} of 127.0.0.1 cannot be opened: it is in use by another program\\."
        ):
            async with open_page(browser.page, "127.0.0.1", taken):
                pass
        for nowhere in ("a" * 70, "no such name", "$(echo 127.0.0.1)"):
            with pytest.raises(CannotServe, match="cannot be opened: there is no machine of that name"):
                async with open_page(browser.page, nowhere, 0):
                    pass
    with pytest.raises(CannotServe, match=r"203\.0\.113\.9 cannot be opened: this machine has no such address\."):
        async with open_page(browser.page, "203.0.113.9", 0):  # set aside for documentation (RFC 5737)
            pass


@pytest.mark.parametrize(
    ("descriptors", "at_door", "visitors"),
    [(4_096, 64, 12), (400, 64, 12), (104, 26, 9), (64, 16, 6), (8, 2, 1), (1, 2, 1)],
)
def test_where_descriptors_are_few_the_door_gets_a_quarter_and_visitors_the_rest(
    descriptors: int, at_door: int, visitors: int, tmp_path: Path
) -> None:
    served = Page("192.0.2.20", tmp_path)
    limits = page._shared_out(served, page.AT_DOOR, descriptors)
    assert (limits.most, limits.descriptors, served.most) == (at_door, descriptors, visitors)
    assert limits.each == page.AT_DOOR.each


async def test_what_a_browser_sends_too_fast_is_read_no_faster_than_a_person_types(tmp_path: Path) -> None:
    async with opened(tmp_path) as browser, browser.line() as line:
        await line.receive_bytes()
        long, began_s = json.dumps(["stdin", "a" * 1_000]), time.monotonic()
        for message in (long, '["stdin","b"]'):
            await line.send_str(message)
        assert await line.receive_bytes() == b"D" + b"a" * 1_000
        assert await line.receive_bytes() == b"Db"
        waited_s = time.monotonic() - began_s
        assert len(long) / page.CHARACTERS_PER_S <= waited_s < 5


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
async def test_a_page_says_where_it_is_and_closes_at_the_hosts_word(
    number: signal.Signals, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    before, said = signal.signal(number, refuse), list[str]()
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        table = f"127.0.0.1:{nobody.getsockname()[1]}"
        serving = asyncio.create_task(page._serve(table, "127.0.0.1", 0, said.append))
        try:
            async with asyncio.timeout(20):
                while page.AT_HOME not in said:  # noqa: ASYNC110
                    await asyncio.sleep(0.01)  # the page opens; there is nothing else to wait on
                os.kill(os.getpid(), number)
                await serving
        finally:
            serving.cancel()
            signal.signal(number, before)
    assert re.fullmatch(r"Page: http://127\.0\.0\.1:\d+/", said[0])
    assert said[1:] == [f"Table: {table}, where nobody answers yet", page.AT_HOME, "Closing."]
    assert (tmp_path / "racktempo" / KEY_FILE).stat().st_size == KEY_BYTES


@pytest.mark.parametrize(
    ("fault", "code"), [(None, 0), (KeyboardInterrupt(), 0), (CannotServe("Port 80 cannot be opened."), 1)]
)
def test_a_page_that_was_ended_is_no_failure_and_one_that_could_not_begin_says_why(
    fault: BaseException | None, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def ends(*_: object) -> None:
        if fault:
            raise fault

    said: list[str] = []
    monkeypatch.setattr(page, "_serve", ends)
    assert page.serve("192.0.2.20", "127.0.0.1", 0, said.append) == code
    assert said == ["Port 80 cannot be opened."] * code


def refuse(*_: object) -> None:
    raise AssertionError("nobody heard the signal")


async def test_the_host_is_told_who_can_read_what_is_sent(tmp_path: Path) -> None:
    served = Page("192.0.2.20", tmp_path)
    async with open_page(served, "127.0.0.1", 0) as reached:
        assert reached.who_reads == page.AT_HOME
    async with open_page(served, "0.0.0.0", 0) as reached:
        assert reached.who_reads == page.READABLE
        assert all(re.fullmatch(r"http://.+:\d+/", address) for address in reached.addresses)
        assert not any("0.0.0.0" in address for address in reached.addresses)


async def test_a_table_that_does_not_answer_is_told_in_advance() -> None:
    async with await asyncio.start_server(lambda reader, writer: writer.close(), "127.0.0.1") as table:
        port = table.sockets[0].getsockname()[1]
        assert await page.answers(f"127.0.0.1:{port}")
    assert not await page.answers(f"127.0.0.1:{port}")

"""Who may have a screen on the page: only whom the table lets in, before anything is made for them."""

import asyncio
import contextlib
import json
import re
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import aiohttp
import pytest
from websockets.asyncio.client import connect

from client.browser import entry
from client.browser.entry import known_path
from client.browser.server import AT_DOOR, FORM_BYTES, Page, open_page
from server.net.door import DoorLimits
from tests.client.browser.test_server import DEAF, ECHO, program
from tests.client.relay import in_virtual_time
from tests.ports import free_port
from tests.server.players import CODE, House, Player, guess, open_house

SLOW_TO_BEGIN = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(1_000)"
TELLS_ENVIRONMENT = """
import sys
from pathlib import Path
told = Path("/proc/self/environ").read_bytes() + b"\\0|" + Path("/proc/self/cmdline").read_bytes()
sys.stdout.buffer.write(b"__GANGLION__\\nD" + len(told).to_bytes(4, "big") + told)
sys.stdout.flush()
sys.stdin.buffer.read()
"""


class Visitor:
    """A browser at the page of a real table."""

    def __init__(self, session: aiohttp.ClientSession, address: str, page: Page, house: House) -> None:
        self.session, self.address, self.page, self.house = session, address, page, house
        self.host = address.removeprefix("http://").rstrip("/")
        self.port = int(self.host.rpartition(":")[2])
        self.cookie = f"racktempo-{self.port}"

    async def join(self, name: str = "Ada", code: str = CODE, **headers: str) -> aiohttp.ClientResponse:
        own = {"Origin": f"http://{self.host}"} | headers
        form = {"name": name, "code": code}
        return await self.session.post(self.address, data=form, headers=own, allow_redirects=False)

    def line(self, **headers: str) -> aiohttp.client._WSRequestContextManager:
        return self.session.ws_connect(f"{self.address}line", headers={"Origin": f"http://{self.host}"} | headers)

    def has(self) -> str:
        """Return the cookie that the browser has."""
        return next((one.value for one in self.session.cookie_jar if one.key == self.cookie), "")

    def forget(self) -> None:
        self.session.cookie_jar.clear()

    def folders(self) -> list[Path]:
        return list(self.page.folder.iterdir())

    def sitting(self) -> list[str]:
        return [chair.name for chair in self.house.table.record.chairs if chair.sitter == "person"]


async def until(what: Callable[[], bool]) -> None:
    """Wait for other tasks and processes; there is nothing else to wait on."""
    async with asyncio.timeout(20):
        while not what():  # noqa: ASYNC110
            await asyncio.sleep(0.01)


@asynccontextmanager
async def page_of_a_table(folder: Path, code: str = ECHO, at_door: DoorLimits = AT_DOOR) -> AsyncIterator[Visitor]:
    async with open_house() as house:
        served = Page(f"127.0.0.1:{house.listener.port}", folder, program=program(code), say=lambda text: None)
        jar = aiohttp.CookieJar(unsafe=True)  # it keeps none for bare numbers else
        async with (
            open_page(served, "127.0.0.1", 0, at_door) as reached,
            aiohttp.ClientSession(cookie_jar=jar) as session,
        ):
            yield Visitor(session, reached.addresses[0], served, house)


async def test_without_a_code_that_was_right_there_is_no_screen_and_no_process(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        for cookie in ("", "5" * 32, "../../etc"):
            held = {"Cookie": f"{visitor.cookie}={cookie}"}
            shown = await visitor.session.get(f"{visitor.address}table", headers=held, allow_redirects=False)
            assert (shown.status, shown.headers["Location"]) == (303, "/")
            with pytest.raises(aiohttp.WSServerHandshakeError) as refusal:
                await visitor.line(**held)
            assert refusal.value.status == 403
        assert visitor.folders() == []
        assert visitor.page.here.total() == 0


async def test_a_stranger_gets_no_screen_because_somebody_else_was_let_in(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        await visitor.join()
        others = [f"{visitor.cookie}={'5' * 32}", f"{visitor.cookie}=", f"else={visitor.has()}"]
        visitor.forget()
        for cookie in others:
            shown = await visitor.session.get(
                f"{visitor.address}table", headers={"Cookie": cookie}, allow_redirects=False
            )
            assert (shown.status, shown.headers["Location"]) == (303, "/")
            with pytest.raises(aiohttp.WSServerHandshakeError) as refusal:
                await visitor.line(Cookie=cookie)
            assert refusal.value.status == 403
        assert visitor.folders() == []


def typed_into_first(form: str) -> str:
    [field] = re.findall(r'<input [^>]*name="(\w+)"[^>]* autofocus', form)
    return str(field)


async def test_a_wrong_code_is_said_on_the_page_and_opens_nothing(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        answer = await visitor.join('<b>"Ada"</b>', "wrong")
        shown = await answer.text()
        assert answer.status == 403
        assert "This is the wrong code" in shown
        assert typed_into_first(shown) == "code"
        assert typed_into_first(await (await visitor.session.get(visitor.address)).text()) == "name"
        assert 'value="&lt;b&gt;&quot;Ada&quot;&lt;/b&gt;"' in shown
        assert "<b>" not in shown
        assert visitor.has() == ""
        assert visitor.sitting() == []
        assert visitor.folders() == []
        assert visitor.house.admission.guesses.total == 1


@pytest.mark.parametrize(("name", "code"), [("", CODE), (" \u202e ", CODE), ("Ada", " ")])
async def test_who_says_no_name_or_no_code_is_asked_again_and_the_table_is_not(
    tmp_path: Path, name: str, code: str
) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        assert (await visitor.join(name, code)).status == 400
        assert visitor.sitting() == []
        assert visitor.house.admission.guesses.total == 0


async def test_who_has_the_code_sits_and_the_screen_gets_the_seat_that_was_held(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        answer = await visitor.join()
        assert (answer.status, answer.headers["Location"]) == (303, "/table")
        assert visitor.sitting() == ["Ada"]
        assert len(visitor.house.admission.keepers[0].lines) == 1
        async with visitor.line() as line:
            told = json.loads(await line.receive_bytes())[0]
        assert (told["name"], told["code"]) == ("Ada", CODE)
        secret = bytes.fromhex(told["secret"])
        screen = Player(visitor.house.listener.port)
        screen.token = entry.derived_token(secret, visitor.page.entry.where, CODE, "Ada")
        assert (await screen.come()).chair == 0
        await until(lambda: not visitor.page.entry._holding)
        assert visitor.sitting() == ["Ada"]
        await screen.go()


async def test_a_seat_is_held_only_so_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entry, "HOLD_S", 0.05)
    async with page_of_a_table(tmp_path) as visitor:
        await visitor.join()
        await until(lambda: not visitor.house.admission.keepers[0].lines)
        assert visitor.sitting() == ["Ada"]


async def test_the_cookie_is_new_whenever_a_code_was_right_and_one_from_elsewhere_never_counts(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        planted = "5" * 32
        answer = await visitor.join(Cookie=f"{visitor.cookie}={planted}")
        first = visitor.has()
        assert re.fullmatch("[0-9a-f]{32}", first)
        assert first != planted
        set_cookie = answer.headers["Set-Cookie"]
        assert "HttpOnly" in set_cookie
        assert "SameSite=Strict" in set_cookie
        assert "Max-Age=86400;" in set_cookie
        assert visitor.page.entry.visitor(planted) is None
        seat = visitor.page.entry.visitor(first)
        assert seat
        await visitor.join()
        second = visitor.has()
        assert second != first
        assert visitor.page.entry.visitor(first) is None
        assert visitor.page.entry.visitor(second) == seat
        assert visitor.sitting() == ["Ada"]
        await visitor.join("Bo")
        other = visitor.page.entry.visitor(visitor.has())
        assert other
        assert other.secret != seat.secret
        await visitor.join("Al")
        third = visitor.page.entry.visitor(visitor.has())
        assert third
        assert third.secret not in (seat.secret, other.secret)
        visitor.forget()
        await visitor.join()
        assert visitor.sitting() == ["Ada", "Bo", "Al", "Ada 4"]


@asynccontextmanager
async def page_at(
    house: House, port: int, folder: Path, kept: Path, session: aiohttp.ClientSession
) -> AsyncIterator[Visitor]:
    """Begin the page of a table at a port, once more if need be."""
    served = Page(f"127.0.0.1:{house.listener.port}", folder, program=program(ECHO), kept=kept, say=lambda text: None)
    async with open_page(served, "127.0.0.1", port) as reached:
        yield Visitor(session, reached.addresses[0], served, house)


async def told_to_a_screen(visitor: Visitor) -> dict[str, str]:
    async with visitor.line() as line:
        return dict(json.loads(await line.receive_bytes())[0])


async def test_visitors_have_their_seats_when_the_page_is_started_anew(tmp_path: Path) -> None:
    kept, folder, port = tmp_path / "state" / "known", tmp_path / "visits", free_port()
    folder.mkdir()
    async with open_house() as house, aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
        async with page_at(house, port, folder, kept, session) as visitor:
            await visitor.join()
            before, cookie = await told_to_a_screen(visitor), visitor.has()
        assert kept.stat().st_mode & 0o777 == 0o600
        async with page_at(house, port, folder, kept, session) as visitor:
            assert await told_to_a_screen(visitor) == before
            visitor.forget()
            with pytest.raises(aiohttp.WSServerHandshakeError):
                await visitor.line()
            # Who says name and code once more keeps the seat as well, and only the newest cookie counts.
            await visitor.join(Cookie=f"{visitor.cookie}={cookie}")
            assert await told_to_a_screen(visitor) == before
        async with page_at(house, port, folder, kept, session) as visitor:
            assert visitor.page.entry.visitor(cookie) is None
            assert await told_to_a_screen(visitor) == before
            assert visitor.sitting() == ["Ada"]


@pytest.mark.parametrize("noise", [b"", b"\xc1", b"\x81\xa1a\xa1b", None])
async def test_a_damaged_file_of_visitors_keeps_nobody_out(tmp_path: Path, noise: bytes | None) -> None:
    kept, folder = tmp_path / "known", tmp_path / "visits"
    folder.mkdir()
    kept.mkdir() if noise is None else kept.write_bytes(noise)
    jar = aiohttp.CookieJar(unsafe=True)
    async with (
        open_house() as house,
        aiohttp.ClientSession(cookie_jar=jar) as session,
        page_at(house, 0, folder, kept, session) as visitor,
    ):
        assert (await visitor.join()).status == 303
        assert visitor.sitting() == ["Ada"]


def test_each_page_has_a_file_of_its_own() -> None:
    paths = {known_path(table, port) for table in ("127.0.0.1", "127.0.0.1:15215") for port in (15280, 15281)}
    assert len(paths) == 4
    assert known_path("127.0.0.1", 15280) == known_path("127.0.0.1:15214", 15280)


async def test_browsers_that_are_known_are_not_remembered_without_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(entry, "KNOWN_MOST", 2)
    async with page_of_a_table(tmp_path) as visitor:
        cookies = []
        for name in ("Ada", "Bo", "Cy"):
            visitor.forget()
            await visitor.join(name)
            cookies.append(visitor.has())
        assert [visitor.page.entry.visitor(cookie) is not None for cookie in cookies] == [False, True, True]


@pytest.mark.parametrize("origin", ["null", "http://club.example", "https://127.0.0.1", ""])
async def test_a_page_from_elsewhere_can_ask_nothing(tmp_path: Path, origin: str) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        assert (await visitor.join(Origin=origin)).status == 403
        assert (await visitor.join(Host="club.example", Origin="http://club.example")).status == 403
        assert visitor.sitting() == []


async def test_a_form_that_is_too_long_is_not_read(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        assert (await visitor.join("A" * FORM_BYTES)).status == 413
        assert visitor.sitting() == []


# ---- a table that does not answer


@asynccontextmanager
async def page_of_a_silent_table(folder: Path) -> AsyncIterator[tuple[Visitor, list[asyncio.StreamWriter]]]:
    lines: list[asyncio.StreamWriter] = []
    async with await asyncio.start_server(lambda _, writer: lines.append(writer), "127.0.0.1") as table:
        served = Page(f"127.0.0.1:{table.sockets[0].getsockname()[1]}", folder, say=lambda text: None)
        async with open_page(served, "127.0.0.1", 0) as reached, aiohttp.ClientSession() as session:
            yield Visitor(session, reached.addresses[0], served, None), lines  # type: ignore[arg-type]
        for writer in lines:
            writer.close()


async def test_one_address_can_have_the_table_asked_so_often_at_once_and_who_hangs_up_asks_no_more(
    tmp_path: Path,
) -> None:
    async with page_of_a_silent_table(tmp_path) as (visitor, lines):
        asking = [asyncio.create_task(visitor.join(f"Ada {number}")) for number in range(entry.ASKING_EACH)]
        await until(lambda: len(lines) == entry.ASKING_EACH)
        assert (await visitor.join("Bo")).status == 503
        assert len(lines) == entry.ASKING_EACH
        began_s = time.monotonic()
        for task in asking:
            task.cancel()
        await until(lambda: not visitor.page.entry._asking and not visitor.page.entry._holding)
        assert time.monotonic() - began_s < 3
        assert visitor.page.entry.has_room("127.0.0.1")


async def test_an_address_is_counted_until_the_last_of_its_visitors_is_let_in_or_has_gone(tmp_path: Path) -> None:
    async with page_of_a_silent_table(tmp_path) as (visitor, lines):
        door, asking = visitor.page.entry, list[asyncio.Task[str]]()

        async def one_more() -> None:
            asking.append(asyncio.create_task(door.ask("192.0.2.1", "Ada", CODE)))
            seen = len(lines)
            await until(lambda: len(lines) > seen)

        await one_more()
        assert door.has_room("192.0.2.1")
        await one_more()
        assert not door.has_room("192.0.2.1")
        asking.pop().cancel()
        await until(lambda: door.has_room("192.0.2.1"))
        await one_more()
        assert not door.has_room("192.0.2.1")
        for task in asking:
            task.cancel()
        await asyncio.gather(*asking, return_exceptions=True)
        assert not door._asking


def test_who_waits_because_others_guess_is_not_given_up_and_the_seat_is_held_from_then_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(entry, "HOLD_S", 0.5)

    async def scene() -> tuple[float, float]:
        async with open_house() as house:
            for _ in range(7):
                await (await guess(house.listener.port)).end()
            door, loop = entry.Entry(f"127.0.0.1:{house.listener.port}"), asyncio.get_running_loop()
            began_s = loop.time()
            assert door.visitor(await door.ask("127.0.0.1", "Ada", CODE))
            let_in_s = loop.time()
            await asyncio.gather(*door._holding)
            return let_in_s - began_s, loop.time() - let_in_s

    waited_s, held_s = in_virtual_time(scene())
    assert waited_s > 3
    assert round(held_s, 1) == 0.5


async def test_the_table_is_asked_about_a_dozen_visitors_at_once_and_the_next_waits(tmp_path: Path) -> None:
    async with page_of_a_silent_table(tmp_path) as (visitor, lines):
        door, asking = visitor.page.entry, list[asyncio.Task[str]]()
        for number in range(12):
            assert door.has_room(f"192.0.2.{number}")
            asking.append(asyncio.create_task(door.ask(f"192.0.2.{number}", "Ada", CODE)))
            await until(lambda: len(lines) == len(asking))
        assert not door.has_room("192.0.2.12")
        asking.pop().cancel()
        await until(lambda: door.has_room("192.0.2.12"))
        for task in asking:
            task.cancel()
        await asyncio.gather(*asking, return_exceptions=True)
        assert door.has_room("192.0.2.0")


# ---- the door of the page


@pytest.mark.parametrize("said", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
async def test_half_a_request_is_ended_in_time(tmp_path: Path, said: bytes) -> None:
    async with page_of_a_table(tmp_path, at_door=DoorLimits(seconds=0.2)) as visitor:
        reader, writer = await asyncio.open_connection("127.0.0.1", visitor.port)
        writer.write(said)
        began_s = time.monotonic()
        assert await reader.read() == b""
        assert time.monotonic() - began_s < 2
        writer.close()


async def test_a_connection_on_which_nothing_more_is_asked_is_ended_too(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path, at_door=DoorLimits(seconds=0.2)) as visitor:
        reader, writer = await asyncio.open_connection("127.0.0.1", visitor.port)
        writer.write(b"GET /page.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        with contextlib.suppress(ConnectionError):
            assert (await reader.read()).startswith(b"HTTP/1.1 200 OK")
        writer.close()


async def test_a_crowd_of_half_requests_keeps_no_browser_waiting(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path) as visitor:
        crowd = []
        for number in range(300):
            _, writer = await asyncio.open_connection(
                "127.0.0.1", visitor.port, local_addr=(f"127.0.1.{1 + number % 30}", 0)
            )
            writer.write(b"GET / HTTP/1.1\r\n")
            crowd.append(writer)
        assert (await visitor.session.get(visitor.address)).status == 200
        for writer in crowd:
            writer.transport.abort()


async def test_a_visitor_who_is_shown_a_screen_stands_at_the_door_no_more(tmp_path: Path) -> None:
    async with page_of_a_table(tmp_path, at_door=DoorLimits(seconds=0.2)) as visitor:
        await visitor.join()
        async with visitor.line() as line:
            await line.receive_bytes()
            await asyncio.sleep(0.4)  # twice as long as anybody may stand at this door
            await line.send_str('["stdin","a"]')
            assert await line.receive_bytes() == b"Da"


# ---- processes


@pytest.mark.parametrize("code", [DEAF, SLOW_TO_BEGIN], ids=["deaf", "still beginning"])
async def test_a_process_ends_within_a_second_of_its_line(tmp_path: Path, code: str) -> None:
    async with page_of_a_table(tmp_path, code) as visitor:
        await visitor.join()
        line = await connect(
            f"ws://{visitor.host}/line",
            origin=f"http://{visitor.host}",  # type: ignore[arg-type]
            additional_headers={"Cookie": f"{visitor.cookie}={visitor.has()}"},
        )
        await until(lambda: bool(_with_word(tmp_path)))
        began_s = time.monotonic()
        line.transport.abort()
        await until(lambda: not _with_word(tmp_path))
        assert time.monotonic() - began_s < 1
        await until(lambda: visitor.folders() == [])


def _with_word(folder: Path) -> list[str]:
    """Return the processes whose command names a visit's folder (proc(5))."""
    found = []
    for command in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if str(folder / "visit-").encode() in command.read_bytes():
                found.append(command.parent.name)
    return found


async def test_nothing_of_the_hosts_environment_is_in_the_process_or_where_the_system_keeps_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOST_SECRET", "fish")
    async with page_of_a_table(tmp_path, TELLS_ENVIRONMENT) as visitor:
        await visitor.join()
        async with visitor.line() as line:
            environment, command = (await line.receive_bytes()).split(b"\0|")
        (folder,) = {value for name, _, value in _pairs(environment) if name == "HOME"}
        allowed = {"PATH", "LANG", "LC_ALL", "LC_CTYPE", "SSL_CERT_FILE", "SSL_CERT_DIR", "OPENBLAS_NUM_THREADS"}
        own = {"TEXTUAL_DRIVER", "TEXTUAL_COLOR_SYSTEM", "COLUMNS", "ROWS", "TMPDIR"}
        names = {name for name, _, _ in _pairs(environment)}
        assert {name for name in names if not name.startswith("XDG_")} - allowed - own == {"HOME"}
        assert {value for name, _, value in _pairs(environment) if name.startswith("XDG_")} == {folder}
        assert Path(folder).parent == tmp_path
        assert CODE.encode() not in command


def _pairs(environment: bytes) -> list[tuple[str, str, str]]:
    return [line.partition("=") for line in environment.decode().split("\0") if line]

"""The page on which a browser shows the full screen: a small web server for the visitors of one table.

Whoever comes says their name and the table's code first (client.browser.entry). Every visitor then gets a process of
their own (client.browser.visitor) with a temporary folder that goes when they go; textual-serve carries the screen
between it and the browser. Only here and in client.browser.process textual_serve and aiohttp are imported, which come
with the extra "web". Answers its own page and nobody else's, hands out no file of the host's, and needs no internet.
"""

import asyncio
import contextlib
import ipaddress
import secrets
import signal
import socket
import sys
import tempfile
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from html import escape
from pathlib import Path

import textual_serve
from aiohttp import web

from client.browser.entry import Entry, NotLetIn, Visitor, known_path
from client.browser.limits import (
    Focused,
    Message,
    Resized,
    Typed,
    fitting_texts,
    is_from_our_page,
    is_ours,
    read_message,
)
from client.browser.process import VisitorProcess
from client.browser.visitor import write_told
from client.connection.address import read_address
from client.console import say
from client.storage.files import data_folder
from server.net.addresses import own_addresses, with_port
from server.net.door import Door, DoorLimits, Refusals, free_descriptors, let_in
from shared.names import clean_name
from shared.troubles import describe_error
from shared.visitors import KEY_BYTES, KEY_FILE, page_key, visitor_proof
from shared.worker import own_path

VISITORS_MOST = 12
"""Browsers that may be here at once: each has a process on this machine."""
VISITORS_EACH = 4
"""Browsers of one address, so that one visitor cannot take all places."""
MESSAGE_BYTES = 4_096
CHARACTERS_PER_S = 4_000
"""What is read of a visitor in a second; the rest waits in their browser."""
END_S = 0.3
"""How long a visitor's process may take to answer that it is to end, and as long again until it has ended."""
FORM_BYTES = 2_048
AT_DOOR = DoorLimits(each=16)
"""Connections on which nothing that costs anything was asked yet; a browser opens several to fetch a page."""
FILES_EACH = 8
"""Descriptors that a visitor's line, process and folder take."""
HANG_UP_S = 2.0
HEARTBEAT_S = 15.0
"""How often a browser is asked whether it is still there; half of that it may take to answer."""
READABLE = "The page uses http: others on this network can read names, the code and racks."
AT_HOME = "Only this machine can reach the page; give --bind an address that others can reach."
_DAY_S = 24 * 60 * 60
_SHUT = {
    # No resources from elsewhere, no pop-ups, no downloads, no framing; xterm writes styles of its own.
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "sandbox allow-scripts allow-same-origin allow-forms",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # with none at all, browsers hide where our own form comes from
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

Program = Callable[[Path], Sequence[str]]
"""What to run for a visitor whose folder this is."""


class CannotServe(Exception):
    """The page cannot be served; the message is one sentence."""


def visit_program(folder: Path) -> Sequence[str]:
    """Return the command of a visit. Modules are found where ours are, and not in the working directory."""
    start = f"import sys; sys.path[:] = {own_path()!r}; from client.browser.visitor import main; main()"
    return (sys.executable, "-P", "-c", start, str(folder))


class Page:
    """The page of one table. folder is where visitors' folders are made; name is how the host calls this machine; with
    key the host of the table believes us whom we show it to; kept is the file of those who were let in, if any."""

    def __init__(
        self,
        table: str,
        folder: Path,
        name: str = "",
        *,
        program: Program = visit_program,
        most: int = VISITORS_MOST,
        each: int = VISITORS_EACH,
        end_s: float = END_S,
        key: bytes = b"",
        kept: Path | None = None,
        say: Callable[[str], None] = say,
    ) -> None:
        self.table, self.folder, self.names, self.key = table, folder, {name.lower()} - {""}, key
        self.program, self.most, self.each, self.end_s, self.say = program, most, each, end_s, say
        self.entry = Entry(table, key, kept)
        self.refusals = Refusals(say)
        self.here: Counter[str] = Counter()
        self._visits: dict[asyncio.Task[None], web.WebSocketResponse] = {}
        self._files = _files()

    def app(self) -> web.Application:
        """Return what aiohttp serves."""
        app = web.Application(client_max_size=FORM_BYTES)
        app.add_routes([web.get(path, self._file) for path in self._files])
        app.add_routes([web.get("/", self._form), web.post("/", self._join)])
        app.add_routes([web.get("/table", self._table), web.get("/line", self._line)])
        return app

    async def close(self) -> None:
        """End every visitor's line; their processes and folders go with them."""
        visits = dict(self._visits)
        await asyncio.gather(self.entry.close(), *(line.close(code=1001) for line in visits.values()))
        await asyncio.gather(*visits)

    # ---- what is asked for

    async def _file(self, request: web.Request) -> web.StreamResponse:
        if not self._is_ours(request):
            return _refused("This is not the host you asked for.")
        body, kind = self._files[request.path]
        return web.Response(body=body, content_type=kind, charset="utf-8", headers=_SHUT)

    async def _form(self, request: web.Request) -> web.StreamResponse:
        if not self._is_ours(request):
            return _refused("This is not the host you asked for.")
        return _elsewhere("/table") if self._visitor(request) else _form()

    async def _table(self, request: web.Request) -> web.StreamResponse:
        """Show the screen to whom the table knows."""
        if not self._is_ours(request):
            return _refused("This is not the host you asked for.")
        if not self._visitor(request):
            return _elsewhere("/")
        return web.Response(body=_own("page.html"), content_type="text/html", charset="utf-8", headers=_SHUT)

    async def _join(self, request: web.Request) -> web.StreamResponse:
        """Ask the table whether a visitor may come in; only then is anything made for them."""
        if not self._is_ours(request):
            return _refused("This is not the host you asked for.")
        if not is_from_our_page(request.headers.getall("Host"), request.headers.getall("Origin", ())):
            return _refused("Only the table's own page may ask this.")
        said = await request.post()
        name, code = (str(said.get(field, "")).strip() for field in ("name", "code"))
        if not clean_name(name) or not code:
            return _form(name, "Say who you are, and the words that the host's screen shows.", 400)
        peer = str(request.remote)
        if not self.entry.has_room(peer):
            self.refusals.tell("Too many browsers asked to come in at once", peer)
            return _form(name, "Others are being asked for their code. Try again in some seconds.", 503)
        assert request.transport
        let_in(request.transport)
        try:
            cookie = await self.entry.ask(peer, name, code, request.cookies.get(_cookie(request), ""))
        except NotLetIn as refusal:
            answer = _form(name, str(refusal), 403)
        else:
            answer = _elsewhere("/table")
            answer.set_cookie(_cookie(request), cookie, max_age=_DAY_S, httponly=True, samesite="Strict")
        answer.force_close()
        return answer

    async def _line(self, request: web.Request) -> web.StreamResponse:
        if not self._is_ours(request):
            return _refused("This is not the host you asked for.")
        if not is_from_our_page(request.headers.getall("Host"), request.headers.getall("Origin", ())):
            return _refused("Only the table's own page may open this line.")
        visitor = self._visitor(request)
        if not visitor:
            return _refused("Say the table's code first.")
        line = web.WebSocketResponse(
            timeout=HANG_UP_S, heartbeat=HEARTBEAT_S, max_msg_size=MESSAGE_BYTES, compress=False
        )
        await line.prepare(request)
        peer = str(request.remote)
        refusal = self._no_room(peer)
        if refusal:
            self.refusals.tell("Screens beyond those that an address, or all, may have", peer)
            await line.send_bytes(f"\x1b[2J\x1b[H{refusal}".encode())
            await line.close(code=1013)
            return line
        assert request.transport
        let_in(request.transport)
        size = fitting_texts(request.query.get("width", ""), request.query.get("height", ""))
        self.here[peer] += 1  # at once: the next request is looked at before the visit begins
        visit = asyncio.create_task(self._visit(line, size, visitor, peer))
        self._visits[visit] = line
        visit.add_done_callback(self._visits.pop)
        await asyncio.shield(visit)  # aiohttp ends this one with its connection, and a visit ends in good order
        return line

    def _is_ours(self, request: web.Request) -> bool:
        return is_ours(request.headers.getall("Host", ()), self.names)

    def _visitor(self, request: web.Request) -> Visitor | None:
        return self.entry.visitor(request.cookies.get(_cookie(request), ""))

    def _no_room(self, peer: str) -> str:
        """Return why a further visitor has no place, or nothing."""
        if self.here.total() >= self.most:
            return f"All {self.most} places of this page are taken. Try again when somebody has left."
        if self.here[peer] >= self.each:
            return f"There are {self.each} screens at your address already. Close one of them first."
        return ""

    # ---- a visit

    async def _visit(self, line: web.WebSocketResponse, size: tuple[int, int], visitor: Visitor, peer: str) -> None:
        """Show a visitor their screen, in a folder that goes when they go, also where it cannot be shown."""
        try:
            with tempfile.TemporaryDirectory(prefix="visit-", dir=self.folder, ignore_cleanup_errors=True) as folder:
                told = visitor.secret, visitor.name, visitor.code
                proof = visitor_proof(self.key, peer) if self.key else b""
                write_told(Path(folder), self.table, *told, peer, proof)
                await self._show(line, size, Path(folder))
        except OSError as error:
            self.refusals.tell(f"Screens could not be shown: {describe_error(error)}", "a visitor")
        finally:
            await line.close()
            self.here[peer] -= 1

    async def _show(self, line: web.WebSocketResponse, size: tuple[int, int], folder: Path) -> None:
        """Run a visitor's process until the line or the process ends."""

        async def hang_up() -> None:
            await line.close()

        service = VisitorProcess(self.program(folder), folder, line.send_bytes, hang_up)
        await service.start(*size)
        process = service.process
        reading, ending = asyncio.create_task(_pass_on(line, service)), asyncio.create_task(process.wait())
        try:
            await asyncio.wait((reading, ending), return_when=asyncio.FIRST_COMPLETED)
        finally:
            reading.cancel()
            await asyncio.gather(reading, return_exceptions=True)
            await _within(self.end_s, service.stop())
            await _within(self.end_s, asyncio.shield(ending))
            await self._bury(process)
            await ending

    async def _bury(self, process: asyncio.subprocess.Process) -> None:
        """End a process that has not ended (one that is still beginning cannot), and say what was wrong with it."""
        if process.returncode is None:
            process.kill()
        elif process.returncode:
            self.refusals.tell(f"Screens ended with an error, exit code {process.returncode}", "a visitor")
        # asyncio reports the end of a process only once its pipes are empty, so read what is left in them.
        for pipe in (process.stdout, process.stderr):
            if pipe is not None:
                await pipe.read()


async def _pass_on(line: web.WebSocketResponse, service: VisitorProcess) -> None:
    """Pass what the browser sends on to the visitor's process, no faster than a person acts."""
    async for message in line:
        said = read_message(message.data) if message.type == web.WSMsgType.TEXT else None
        await _tell(service, said)
        await asyncio.sleep(len(message.data or "") / CHARACTERS_PER_S)


async def _tell(service: VisitorProcess, said: Message | None) -> None:
    match said:
        case Typed(data):
            await service.send_bytes(data)
        case Resized(width, height):
            await service.set_terminal_size(width, height)
        case Focused(here):
            await (service.focus() if here else service.blur())


async def _within(seconds: float, what: Awaitable[object]) -> None:
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await what


def _cookie(request: web.Request) -> str:
    """Return the cookie's name: browsers send it to every port of a machine, so each page has one of its own."""
    return f"racktempo-{request.url.port}"


def _refused(text: str) -> web.StreamResponse:
    return web.Response(status=403, text=f"{text}\n", headers=_SHUT)


def _elsewhere(path: str) -> web.Response:
    return web.Response(status=303, headers=_SHUT | {"Location": path})


def _own(name: str) -> bytes:
    return Path(__file__).with_name("files").joinpath(name).read_bytes()


def _form(name: str = "", told: str = "", status: int = 200) -> web.Response:
    """Return the form for name and code; what a visitor or the table said stands in it as text."""
    focus = "focus_code" if name else "focus_name"
    filled = _own("join.html").decode()
    for field, text in (("focus_name", ""), ("focus_code", "")):
        filled = filled.replace(f"{{{field}}}", " autofocus" if field == focus else text)
    filled = filled.replace("{told}", escape(told), 1).replace("{name}", escape(name), 1)
    return web.Response(status=status, text=filled, content_type="text/html", charset="utf-8", headers=_SHUT)


def _files() -> dict[str, tuple[bytes, str]]:
    """Return everything that is served: by path the bytes and their kind."""
    theirs = Path(textual_serve.__file__).with_name("static")
    script, style = "text/javascript", "text/css"
    return {
        "/page.js": (_own("page.js"), script),
        "/page.css": (_own("page.css"), style),
        "/textual.js": ((theirs / "js" / "textual.js").read_bytes(), script),
        "/xterm.css": ((theirs / "css" / "xterm.css").read_bytes(), style),
    }


# ---- serving


@dataclass(frozen=True, slots=True)
class Reached:
    """Where a browser finds the page, and who else can read what is sent, in a sentence."""

    addresses: tuple[str, ...]
    who_reads: str


@asynccontextmanager
async def open_page(page: Page, bind: str, port: int, at_door: DoorLimits = AT_DOOR) -> AsyncIterator[Reached]:
    """Serve a page at an address of this machine, port 0 any free port.

    Raises:
        CannotServe: the port is taken, or the address is not ours.
    """
    runner = web.AppRunner(
        page.app(), access_log=None, handler_cancellation=True, shutdown_timeout=2 * END_S + HANG_UP_S
    )
    await runner.setup()
    assert runner.server
    # An aiohttp server is called for every connection.
    door = Door(runner.server, _shared_out(page, at_door, free_descriptors()), refusals=page.refusals)
    try:
        try:
            await door.open(bind, port)
        except (socket.gaierror, UnicodeError) as error:
            raise CannotServe(f"Port {port} of {bind} cannot be opened: there is no machine of that name.") from error
        except OSError as error:
            raise CannotServe(f"Port {port} of {bind} cannot be opened: {describe_error(error)}.") from error
        bound = [ipaddress.ip_address(str(at.getsockname()[0]).partition("%")[0]) for at in door.sockets]
        hosts = own_addresses() if any(at.is_unspecified for at in bound) else [str(host) for host in bound]
        open_port = int(door.sockets[0].getsockname()[1])
        yield Reached(
            tuple(f"http://{with_port(host, open_port)}/" for host in hosts),
            AT_HOME if all(at.is_loopback for at in bound) else READABLE,
        )
    finally:
        door.close()
        await page.close()
        await door.wait_closed()
        await runner.cleanup()


def _shared_out(page: Page, limits: DoorLimits, descriptors: int) -> DoorLimits:
    """Share descriptors out between the door and visitors, and have fewer of these where there are not enough."""
    at_door = min(limits.most, max(descriptors // 4, 2))
    page.most = min(page.most, max((descriptors - at_door) // FILES_EACH, 1))
    return replace(limits, most=at_door, descriptors=descriptors)


def serve(table: str, bind: str, port: int, say: Callable[[str], None]) -> int:
    """Serve the page of a table until SIGINT or SIGTERM; return the exit code."""
    try:
        asyncio.run(_serve(table, bind, port, say))
    except CannotServe as fault:
        say(str(fault))
        return 1
    except KeyboardInterrupt:
        return 0
    return 0


async def answers(table: str) -> bool:
    """Whether anybody answers at an address within three seconds."""
    where = read_address(table)
    with contextlib.suppress(OSError, TimeoutError):
        async with asyncio.timeout(3):
            _, writer = await asyncio.open_connection(where.host, where.port)
            writer.close()
            return True
    return False


async def _serve(table: str, bind: str, port: int, say: Callable[[str], None]) -> None:
    loop, stop = asyncio.get_running_loop(), asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # Windows; there an interrupt ends asyncio.run
            loop.add_signal_handler(number, stop.set)
    with tempfile.TemporaryDirectory(prefix="racktempo-") as folder:
        key = page_key(data_folder() / KEY_FILE, secrets.token_bytes(KEY_BYTES))
        page = Page(table, Path(folder), bind, key=key, kept=known_path(table, port), say=say)
        async with open_page(page, bind, port) as reached:
            for address in reached.addresses:
                say(f"Page: {address}")
            say(f"Table: {table}{'' if await answers(table) else ', where nobody answers yet'}")
            say(reached.who_reads)
            await stop.wait()
            say("Closing.")

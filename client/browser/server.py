"""The page on which a browser shows the full screen: a small web server for the visitors of one table.

Every visitor gets a process of its own (client.browser.visitor) with a temporary folder that goes when they go;
textual-serve carries the screen between it and the browser. The one module that imports textual_serve and aiohttp,
which come with the extra "web". Answers its own page and nobody else's, hands out no file of the host's, and needs no
internet.
"""

import asyncio
import contextlib
import ipaddress
import re
import secrets
import shlex
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import textual_serve
from aiohttp import web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

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
from client.browser.visitor import write_told
from client.connection.address import read_address
from client.console import say
from client.storage.files import data_folder
from server.net.addresses import own_addresses, with_port
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
END_S = 5.0
"""How long a visitor's process may take to answer that it is to end, and as long again until it has ended."""
HANG_UP_S = 2.0
HEARTBEAT_S = 15.0
"""How often a browser is asked whether it is still there; half of that it may take to answer."""
READABLE = "The page uses http: others on this network can read names, the code and racks."
AT_HOME = "Only this machine can reach the page; give --bind an address that others can reach."
_DAY_S = 24 * 60 * 60
_SECRET = re.compile("[0-9a-f]{32}")
_SHUT = {
    # No resources from elsewhere, no pop-ups, no downloads, no framing; xterm writes styles of its own.
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "sandbox allow-scripts allow-same-origin",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
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
    key the host of the table believes us whom we show it to."""

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
        say: Callable[[str], None] = say,
    ) -> None:
        self.table, self.folder, self.names, self.key = table, folder, {name.lower()} - {""}, key
        self.program, self.most, self.each, self.end_s, self.say = program, most, each, end_s, say
        self.here: Counter[str] = Counter()
        self._lines: set[web.WebSocketResponse] = set()
        self._files = _files()

    def app(self) -> web.Application:
        """Return what aiohttp serves."""
        app = web.Application()
        app.add_routes([web.get(path, self._file) for path in self._files])
        app.add_routes([web.get("/line", self._line)])
        return app

    async def close(self) -> None:
        """End every visitor's line; their processes and folders go with them."""
        await asyncio.gather(*(line.close(code=1001) for line in self._lines))

    # ---- what is asked for

    async def _file(self, request: web.Request) -> web.StreamResponse:
        if not is_ours(request.headers.getall("Host", ()), self.names):
            return _refused("This is not the host you asked for.")
        body, kind = self._files[request.path]
        answer = web.Response(body=body, content_type=kind, charset="utf-8", headers=_SHUT)
        if request.path == "/" and not _secret_of(request):
            answer.set_cookie(_cookie(request), secrets.token_hex(16), max_age=_DAY_S, httponly=True, samesite="Strict")
        return answer

    async def _line(self, request: web.Request) -> web.StreamResponse:
        hosts = request.headers.getall("Host", ())
        if not is_ours(hosts, self.names):
            return _refused("This is not the host you asked for.")
        if not is_from_our_page(hosts, request.headers.getall("Origin", ())):
            return _refused("Only the table's own page may open this line.")
        line = web.WebSocketResponse(
            timeout=HANG_UP_S, heartbeat=HEARTBEAT_S, max_msg_size=MESSAGE_BYTES, compress=False
        )
        await line.prepare(request)
        peer = str(request.remote)
        refusal = self._no_room(peer)
        if refusal:
            await line.send_bytes(f"\x1b[2J\x1b[H{refusal}".encode())
            await line.close(code=1013)
            return line
        self.here[peer] += 1
        self._lines.add(line)
        try:
            size = fitting_texts(request.query.get("width", ""), request.query.get("height", ""))
            await self._visit(line, size, _secret_of(request) or secrets.token_bytes(16), peer)
        finally:
            self._lines.discard(line)
            self.here[peer] -= 1
        return line

    def _no_room(self, peer: str) -> str:
        """Return why a further visitor has no place, or nothing."""
        if self.here.total() >= self.most:
            return f"All {self.most} places of this page are taken. Try again when somebody has left."
        if self.here[peer] >= self.each:
            return f"There are {self.each} screens at your address already. Close one of them first."
        return ""

    # ---- a visit

    async def _visit(self, line: web.WebSocketResponse, size: tuple[int, int], secret: bytes, peer: str) -> None:
        """Show a visitor their screen, in a folder that goes when they go, also where it cannot be shown."""
        try:
            with tempfile.TemporaryDirectory(prefix="visit-", dir=self.folder, ignore_cleanup_errors=True) as folder:
                proof = visitor_proof(self.key, peer) if self.key else b""
                write_told(Path(folder), self.table, secret, peer, proof)
                await self._show(line, size, Path(folder))
        except OSError as error:
            self.say(f"A visitor's screen could not be shown: {error.strerror or error}.")
        finally:
            await line.close()

    async def _show(self, line: web.WebSocketResponse, size: tuple[int, int], folder: Path) -> None:
        """Run a visitor's process until the line or the process ends."""

        async def hang_up() -> None:
            await line.close()

        service = AppService(
            f"exec {shlex.join(self.program(folder))}",
            write_bytes=line.send_bytes,
            write_str=_say_nothing,  # it would offer downloads and open addresses
            close=hang_up,
            download_manager=DownloadManager(),
        )
        await service.start(*size)
        process = service._process
        assert process is not None
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
        """End a process that has not ended, and say what was wrong with it."""
        if process.returncode is None:
            process.kill()
            self.say("A visitor's screen did not end by itself.")
        elif process.returncode:
            self.say(f"A visitor's screen ended with an error (exit code {process.returncode}).")
        # asyncio reports the end of a process only once its pipes are empty, so read what is left in them.
        for pipe in (process.stdout, process.stderr):
            if pipe is not None:
                await pipe.read()


async def _pass_on(line: web.WebSocketResponse, service: AppService) -> None:
    """Pass what the browser sends on to the visitor's process, no faster than a person acts."""
    async for message in line:
        said = read_message(message.data) if message.type == web.WSMsgType.TEXT else None
        await _tell(service, said)
        await asyncio.sleep(len(message.data or "") / CHARACTERS_PER_S)


async def _tell(service: AppService, said: Message | None) -> None:
    match said:
        case Typed(data):
            await service.send_bytes(data)
        case Resized(width, height):
            await service.set_terminal_size(width, height)
        case Focused(here):
            await (service.focus() if here else service.blur())


async def _say_nothing(text: str) -> None:
    """Drop a message for the page's script."""


async def _within(seconds: float, what: Awaitable[object]) -> None:
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await what


def _cookie(request: web.Request) -> str:
    """Return the cookie's name: browsers send it to every port of a machine, so each page has one of its own."""
    return f"racktempo-{request.url.port}"


def _secret_of(request: web.Request) -> bytes | None:
    """Return the secret of a browser that was here before."""
    text = request.cookies.get(_cookie(request), "")
    return bytes.fromhex(text) if _SECRET.fullmatch(text) else None


def _refused(text: str) -> web.StreamResponse:
    return web.Response(status=403, text=f"{text}\n", headers=_SHUT)


def _files() -> dict[str, tuple[bytes, str]]:
    """Return everything that is served: by path the bytes and their kind."""
    own, theirs = Path(__file__).with_name("files"), Path(textual_serve.__file__).with_name("static")
    script, style = "text/javascript", "text/css"
    return {
        "/": ((own / "page.html").read_bytes(), "text/html"),
        "/page.js": ((own / "page.js").read_bytes(), script),
        "/page.css": ((own / "page.css").read_bytes(), style),
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
async def open_page(page: Page, bind: str, port: int) -> AsyncIterator[Reached]:
    """Serve a page at an address of this machine, port 0 any free port.

    Raises:
        CannotServe: the port is taken, or the address is not ours.
    """
    runner = web.AppRunner(page.app(), access_log=None, shutdown_timeout=2 * END_S + HANG_UP_S)
    await runner.setup()
    try:
        try:
            await web.TCPSite(runner, bind, port).start()
        except (OSError, UnicodeError) as error:  # the second for what can be no name of a machine
            reason = describe_error(error) if isinstance(error, OSError) else "that is not the name of a machine"
            raise CannotServe(f"Port {port} of {bind} cannot be opened: {reason}.") from error
        bound = [ipaddress.ip_address(str(host).partition("%")[0]) for host, *_ in runner.addresses]
        hosts = own_addresses() if any(at.is_unspecified for at in bound) else [str(host) for host in bound]
        open_port = int(runner.addresses[0][1])
        yield Reached(
            tuple(f"http://{with_port(host, open_port)}/" for host in hosts),
            AT_HOME if all(at.is_loopback for at in bound) else READABLE,
        )
    finally:
        await page.close()
        await runner.cleanup()


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
        page = Page(table, Path(folder), bind, key=key, say=say)
        async with open_page(page, bind, port) as reached:
            for address in reached.addresses:
                say(f"Page: {address}")
            say(f"Table: {table}{'' if await answers(table) else ', where nobody answers yet'}")
            say(reached.who_reads)
            await stop.wait()
            say("Closing.")

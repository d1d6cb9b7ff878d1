"""One line to a table that survives cuts: commands are kept and sent again until the table has answered them.

Knows sockets and messages, and nothing of tiles, screens or rules. Every trouble is told as one plain sentence;
what cannot mend by itself is never tried again blindly.
"""

import asyncio
import contextlib
import errno
import hashlib
import re
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidStatus, WebSocketException

from client.connection.address import Address
from shared.codec import BadFrame
from shared.names import clean_name
from shared.rules.intents import Arrange, Intent, Lift
from shared.troubles import describe_error
from shared.wire.desk_intents import DeskIntent, DeskOrder
from shared.wire.messages import (
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    VIEW_LIMIT,
    AnyServerMessage,
    Close,
    Command,
    DeskCommand,
    Done,
    Hello,
    Refused,
    Role,
    Welcome,
)

DELAYS_MS = (100, 200, 400, 800, 1_000)
"""How long to wait before each try to come back; the last one again and again."""
_OPEN_S = 5.0
_WELCOME_S = 15.0
"""How long to wait for the table's answer; after wrong codes a table takes several seconds on purpose."""
_PING_S = 2.0
_PONG_S = 3.0
_REASON_CELLS = 120
_NO_ROUTE = {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ENETDOWN, errno.EHOSTDOWN}


@dataclass(frozen=True, slots=True)
class Connected:
    """The table took this client in, for the first time or again."""

    welcome: Welcome


@dataclass(frozen=True, slots=True)
class Lost:
    """The line is down; text says why, and in again_in_ms it is tried again."""

    text: str
    again_in_ms: int


@dataclass(frozen=True, slots=True)
class Ended:
    """The line has ended for good; text says why."""

    text: str


Heard = Connected | Lost | Ended | AnyServerMessage
Hear = Callable[[Heard], None]


@dataclass(slots=True)
class _Asked:
    id: int
    heat: int
    intent: Intent | DeskIntent
    sent: bool = False


class Link:
    """A line to the table at an address.

    token is 16 random bytes of our own, or those of an earlier line, whose seat is then regained; remember is
    called with it once the table has taken us in.
    """

    def __init__(
        self,
        address: Address,
        name: str,
        code: str,
        token: bytes,
        remember: Callable[[bytes], None] = lambda token: None,
        role: Role = "player",
    ) -> None:
        self._address, self._name, self._code = address, _sendable(name), _sendable(code)
        self._token, self._remember, self._role = token, remember, role
        self._asked: list[_Asked] = []
        self._last_id = 0
        self._place: tuple[str, int] | None = None
        self._before: int | None = None  # ids that this seat had used when we first sat down
        self._wake = asyncio.Event()
        self._closing = asyncio.Event()
        self._knocking: asyncio.Task[_Seat | Ended | str] | None = None
        self._line: ClientConnection | None = None
        self._reached = False
        self._failures = 0

    @property
    def rtt_ms(self) -> int:
        """The last measured round trip in milliseconds, 0 before the first."""
        return round(self._line.latency * 1_000) if self._line else 0

    def ask(self, intent: Intent | DeskIntent, heat: int) -> int:
        """Send an intent for a heat and return its id; it is sent again after every cut until it is answered.

        A draft (what is lifted, how the rack is arranged) takes the place of an older one that is still unsent.
        """
        self._last_id += 1
        if isinstance(intent, Lift | Arrange):
            self._asked = [asked for asked in self._asked if asked.sent or type(asked.intent) is not type(intent)]
        self._asked.append(_Asked(self._last_id, heat, intent))
        self._wake.set()
        return self._last_id

    def close(self) -> None:
        """End the line: what was asked and can be sent still goes; run returns without a further word."""
        self._closing.set()
        self._wake.set()
        if self._knocking:
            self._knocking.cancel()

    async def run(self, hear: Hear) -> None:
        """Carry messages until the line ends for good (Ended is heard last) or close is called."""
        while not self._closing.is_set():
            end = await self._visit(hear)
            if self._closing.is_set():
                return
            if isinstance(end, Ended):
                hear(end)
                return
            again_in_ms = DELAYS_MS[min(self._failures, len(DELAYS_MS) - 1)]
            self._failures += 1
            hear(Lost(end, again_in_ms))
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(again_in_ms / 1_000):
                    await self._closing.wait()

    async def _visit(self, hear: Hear) -> Ended | str:
        """Connect and carry messages until the connection ends; a mere sentence means that it may be tried again."""
        self._knocking = asyncio.create_task(self._knock())
        try:
            seat = await self._knocking
        except asyncio.CancelledError:
            if not self._closing.is_set():
                raise
            return "The line was closed."
        finally:
            self._knocking = None
        if not isinstance(seat, _Seat):
            return seat
        self._sit_down(seat)
        hear(Connected(seat.welcome))
        writing = asyncio.create_task(self._write(seat.line))
        try:
            return await self._read(seat.line, hear)
        finally:
            writing.cancel()
            await asyncio.gather(writing, return_exceptions=True)
            seat.line.transport.abort()
            self._line = None

    async def _knock(self) -> "_Seat | Ended | str":
        """Open a connection, say hello and wait for the welcome."""
        try:
            line = await connect(
                self._address.url,
                proxy=None,
                compression=None,
                user_agent_header=None,
                max_size=VIEW_LIMIT,
                open_timeout=_OPEN_S,
                close_timeout=1,
                ping_interval=_PING_S,
                ping_timeout=_PONG_S,
                ssl=_unverified() if self._address.fingerprint else self._address.private or None,
            )
        except (OSError, TimeoutError, WebSocketException) as error:
            text = _unreachable(error, self._address)
            # A line that breaks while it is opened may be a bad network, so it is tried a few times more.
            was_cut = isinstance(error.__cause__, EOFError | ConnectionError) and self._failures < len(DELAYS_MS)
            if was_cut:
                return "The line broke off while it was being opened."
            # What to look at helps the first time; a line that stood before is tried again, and the cause is enough.
            return f"{re.split('[:;] ', text)[0].rstrip('.')}." if self._reached else Ended(text)
        self._reached = True
        if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint):
            line.transport.abort()
            return Ended(f"{self._address} shows another certificate than the one you named; nothing was said to it.")
        try:
            return await self._greet(line)
        except BaseException:
            line.transport.abort()
            raise

    async def _greet(self, line: ClientConnection) -> "_Seat | Ended | str":
        hello = Hello(
            protocol=PROTOCOL, name=self._name[:200], code=self._code[:100], token=self._token, role=self._role
        )
        try:
            await line.ping()  # its answer comes before the first view, which then knows the round trip
            await line.send(TO_SERVER.pack(hello))
            async with asyncio.timeout(_WELCOME_S):
                first = _unpack(await line.recv())
        except ConnectionClosed:
            return _end_of(line)
        except TimeoutError:
            line.transport.abort()
            return "The table does not answer."
        except BadFrame as error:
            line.transport.abort()
            return Ended(_unreadable(error))
        if isinstance(first, Welcome):
            return _Seat(line, first)
        line.transport.abort()
        return Ended(_unreadable("it did not begin with a welcome"))

    def _sit_down(self, seat: "_Seat") -> None:
        self._line, self._failures = seat.line, 0
        self._take_place(seat.welcome)
        if self._before is None:
            self._before = seat.welcome.last_id
            self._remember(self._token)
        for asked in self._asked:
            asked.sent = False
        self._wake.set()

    def _take_place(self, welcome: Welcome) -> None:
        """Sit down; what was asked from another place and not answered is void.

        Ids go on from where they are: what is still on its way must not share one with what is asked next.
        """
        place = (welcome.table, welcome.chair)
        if self._place not in (None, place):
            self._asked.clear()
        self._token, self._place = welcome.token, place

    async def _read(self, line: ClientConnection, hear: Hear) -> Ended | str:
        try:
            async for frame in line:
                message = _unpack(frame)
                if isinstance(message, Done | Refused):
                    message = message.model_copy(update={"id": message.id - (self._before or 0)})
                    self._asked = [asked for asked in self._asked if asked.id != message.id]
                elif isinstance(message, Welcome):
                    self._take_place(message)
                if not self._closing.is_set():
                    hear(Connected(message) if isinstance(message, Welcome) else message)
        except ConnectionClosed:
            pass
        except BadFrame as error:
            return Ended(_unreadable(error))
        return _end_of(line)

    async def _write(self, line: ClientConnection) -> None:
        """Send what is asked, in order, as it comes; when the line is to close, close it behind the last."""
        with contextlib.suppress(ConnectionClosed):
            while True:
                await self._wake.wait()
                self._wake.clear()
                while asked := next((one for one in self._asked if not one.sent), None):
                    asked.sent = True
                    await line.send(TO_SERVER.pack(self._command(asked)))
                if self._closing.is_set():
                    await line.close()
                    return

    def _command(self, asked: _Asked) -> Command | DeskCommand:
        number = asked.id + (self._before or 0)
        if isinstance(asked.intent, DeskOrder):
            return DeskCommand(id=number, intent=asked.intent)
        return Command(id=number, heat=asked.heat, intent=asked.intent)


@dataclass(frozen=True, slots=True)
class _Seat:
    line: ClientConnection
    welcome: Welcome


def _sendable(text: str) -> str:
    """Return text without the lone surrogates in which Python keeps bytes of a command line that are no UTF-8."""
    return text.encode(errors="replace").decode()


def _unverified() -> ssl.SSLContext:
    """Return a context that takes any certificate; whoever uses it compares the fingerprint before saying a word."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def _certificate(line: ClientConnection) -> str:
    """Return the SHA-256 of the certificate that the other end has shown, in hexadecimal digits."""
    return hashlib.sha256(line.transport.get_extra_info("ssl_object").getpeercert(True)).hexdigest()


# ---- troubles in words


def _unpack(frame: str | bytes) -> AnyServerMessage:
    if isinstance(frame, str):
        raise BadFrame("This is text, and every message is binary.")
    return TO_CLIENT.unpack(frame)


def _unreadable(fault: object) -> str:
    return f"The table said something that this version of racktempo cannot read: {fault}"


def _end_of(line: ClientConnection) -> Ended | str:
    """Return why a closed connection was closed; a mere sentence means that it may be tried again."""
    code, reason = line.close_code or 1006, clean_name(line.close_reason or "", cells=_REASON_CELLS)
    said = f" It says: {reason}" if reason else ""
    if code == Close.TOO_SLOW:
        return "The table cut this line off because it read too slowly."
    if code in TRY_AGAIN:
        return f"The table says: {reason}" if reason else "The line is cut."
    known = _ENDS.get(code, "The table has ended the line." if said else f"The table ended the line with code {code}.")
    return Ended(f"{known}{said}")


_SELF_MADE = " For a certificate of the host's own making write # and its fingerprint behind the address."
_ENDS: dict[int, str] = {
    1000: "The table is closed.",
    Close.BAD_FRAME: "The table could not read what this client sent.",
    Close.TOO_BIG: "A message was too big.",
    Close.OTHER_VERSION: "This table speaks another version of racktempo.",
    Close.WRONG_CODE: "This is the wrong code; ask the host.",
    Close.TABLE_FULL: "The table is full.",
    Close.SEAT_TAKEN_OVER: "A newer window has your seat now.",
    Close.SENT_AWAY: "The host has sent you away from the table.",
    Close.TABLE_CLOSED: "The table is closed.",
    Close.NO_CLUB: "This host runs no evening of several tables.",
    Close.TOO_MANY: "The table ended the line because too many messages came over it.",
}


def _unreachable(error: Exception, address: Address) -> str:
    """Return why no connection came about."""
    numbers = {int(number) for number in re.findall(r"\[Errno (-?\d+)\]", str(error))}
    match error:
        case InvalidStatus() if error.response.status_code == 403:
            return f"The table at {address} takes no guests who come by this address."
        case WebSocketException() | EOFError():
            return f"What answers at {address} is no table of racktempo."
        case socket.gaierror():
            return f"No machine is known by the name {address.host}."
        case ssl.SSLCertVerificationError():
            fault = error.verify_message.rstrip(".")
            return f"The line to {address} cannot be made private by its certificate: {fault}.{_SELF_MADE}"
        case ssl.SSLError():
            return f"The line to {address} cannot be made private: what answers there does not speak TLS as it should."
        case TimeoutError():
            return f"{address} does not answer; a firewall may be in the way."
        case OSError() if error.errno == errno.ECONNREFUSED or errno.ECONNREFUSED in numbers:
            return f"Nobody answers at {address}: is the table open, and the port right?"
        case OSError() if error.errno in _NO_ROUTE or numbers & _NO_ROUTE:
            return f"There is no route to {address.host}: are both machines on the same network?"
    return f"{address} cannot be reached: {describe_error(error)}."

"""A connection to a table that reconnects by itself: it keeps commands and resends them until the table answers.

Must never know tiles, screens or rules, only sockets and messages. Every error becomes one plain sentence. It retries
only errors that can go away by themselves.
"""

import asyncio
import contextlib
import hashlib
import ssl
from collections.abc import Callable
from dataclasses import dataclass

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, WebSocketException

from client.connection.address import Address
from client.connection.hearing import Hearing
from client.connection.unreachable import unreachable
from shared.codec import BadFrame
from shared.codes import teachers_code
from shared.names import clean_name
from shared.rules.intents import Arrange, Intent, Lift, WallHash, WallValue
from shared.wire.desk_intents import DeskIntent, DeskOrder
from shared.wire.messages import (
    MOST_HEATS,
    NOTHING_HELD,
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
    HeatFile,
    Held,
    Hello,
    OwnHeat,
    OwnTimes,
    PageVisitor,
    Refused,
    Role,
    Welcome,
)

DELAYS_MS = (100, 200, 400, 800, 1_000)
"""The delay before each retry; the last one repeats."""
FULL_DELAYS_MS = (1_000, 2_000, 4_000, 8_000, 15_000)
"""The same while the table's door is full: a crowd that comes back at once keeps it so."""
ASKED_DELAY_MS = 2_000
"""The same while the host is asked whether to let this machine in: the clocks of a heat run on meanwhile."""
_OPEN_S = 5.0
_WELCOME_S = 130.0
"""The timeout for the welcome: where somebody at our address types wrong codes, 24 lines take turns of 5 s on purpose.
A table that is gone is noticed sooner, by its missing pongs."""
_PATIENT_S = 2.0
"""How long a newcomer waits for the welcome before they are told why it may take longer."""
MADE_TO_WAIT = (
    "The table has not let you in yet. While somebody tries wrong codes one waits 5 seconds, "
    "and up to 2 minutes if they share your address."
)
"""The longest waits of server.net.codes: one turn, or the 24 turns of an address."""
_DISK_S = 1.0
"""How long the host's disk gets before our part in a wall is sent to it again."""
_PING_S = 2.0
_PONG_S = 3.0
_REASON_CELLS = 120


@dataclass(frozen=True, slots=True)
class Connected:
    """The table admitted this client, for the first time or again."""

    welcome: Welcome


@dataclass(frozen=True, slots=True)
class Lost:
    """The connection is down; text says why. The next retry is in again_in_ms."""

    text: str
    again_in_ms: int


@dataclass(frozen=True, slots=True)
class Ended:
    """The connection has ended for good; text says why."""

    text: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """The table has heard us and does not let us in yet; text says why, and for how long at most."""

    text: str


Heard = Connected | Lost | Ended | Waiting | AnyServerMessage
Hear = Callable[[Heard], None]


@dataclass(slots=True)
class _Asked:
    id: int
    heat: int
    intent: Intent | DeskIntent
    sent: bool = False


class Link:
    """A connection to the table at an address, across reconnects.

    token is 16 random bytes of our own, or an earlier connection's token, to get its seat back. remember is called with
    the token once the table has admitted us. visitor is whom a page for browsers shows the table to. A teacher's code
    leads to the place from which a teacher sees racks.
    """

    def __init__(
        self,
        address: Address,
        name: str,
        code: str,
        token: bytes,
        remember: Callable[[bytes], None] = lambda token: None,
        role: Role = "player",
        visitor: PageVisitor | None = None,
    ) -> None:
        if role == "player" and (teachers := teachers_code(code)):
            role, code = "teacher", teachers
        self._address, self._name, self._code = address, _sendable(name), _sendable(code)
        self._token, self._remember, self._role, self._visitor = token, remember, role, visitor
        self._asked: list[_Asked] = []
        self._last_id = 0
        self._place: tuple[str, int] | None = None
        self._before: int | None = None  # the last id that this seat had used before us
        self._wake = asyncio.Event()
        self._closing = asyncio.Event()
        self._knocking: asyncio.Task[_Seat | Ended | str] | None = None
        self._line: ClientConnection | None = None
        self._reached = False
        self._failures = 0
        self._refusals = 0  # by a full door, one after the other
        self._held = NOTHING_HELD
        self._hearing = Hearing(self._closing)

    @property
    def rtt_ms(self) -> int:
        """The last measured round trip in milliseconds, 0 before the first."""
        return round(self._line.latency * 1_000) if self._line else 0

    def ask(self, intent: Intent | DeskIntent, heat: int) -> int:
        """Queue an intent for a heat and return its id; we resend it after every reconnect until the table answers.

        A draft (lifted tiles, order of the rack) replaces an older one that is still unsent.
        """
        self._last_id += 1
        if isinstance(intent, Lift | Arrange):
            self._asked = [asked for asked in self._asked if asked.sent or type(asked.intent) is not type(intent)]
        self._asked.append(_Asked(self._last_id, heat, intent))
        self._wake.set()
        return self._last_id

    def close(self) -> None:
        """Close the connection after sending what can still be sent; run then returns without another event."""
        self._closing.set()
        self._wake.set()
        if self._knocking:
            self._knocking.cancel()

    async def run(self, hear: Hear) -> None:
        """Run the connection until it ends for good (Ended is the last event) or until close."""
        while not self._closing.is_set():
            end = await self._visit(hear)
            if self._closing.is_set():
                return
            if isinstance(end, Ended):
                hear(end)
                return
            again_in_ms = self._delay_ms(end)
            hear(Lost(end, again_in_ms))
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(again_in_ms / 1_000):
                    await self._closing.wait()

    def _delay_ms(self, end: str) -> int:
        """Return how long to wait before the next try."""
        if isinstance(end, _HostAsked):
            return ASKED_DELAY_MS
        if isinstance(end, _Full):
            self._refusals += 1
            return FULL_DELAYS_MS[min(self._refusals, len(FULL_DELAYS_MS)) - 1]
        self._refusals = 0
        self._failures += 1
        return DELAYS_MS[min(self._failures, len(DELAYS_MS)) - 1]

    async def _visit(self, hear: Hear) -> Ended | str:
        """Connect and exchange messages until the connection ends; a plain sentence means: retry."""
        self._knocking = asyncio.create_task(self._knock(hear))
        try:
            seat = await self._knocking
        except asyncio.CancelledError:
            if not self._closing.is_set():
                raise
            return "The connection was closed."
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

    async def _knock(self, hear: Hear) -> "_Seat | Ended | str":
        """Open a connection, say hello and wait for the welcome."""
        try:
            line = await _ConnectThere(
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
            # A connection that breaks while opening may be a bad network, so retry a few times.
            was_cut = isinstance(error.__cause__, EOFError | ConnectionError) and self._failures < len(DELAYS_MS)
            if was_cut:
                return "The connection broke while it was being opened."
            text = unreachable(error, self._address, again=self._reached)
            return text if self._reached else Ended(text)
        self._reached = True
        if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint):
            line.transport.abort()
            return Ended(f"{self._address} shows another certificate than the one you named; we sent it nothing.")
        try:
            return await self._greet(line, hear)
        except BaseException:
            line.transport.abort()
            raise

    async def _greet(self, line: ClientConnection, hear: Hear) -> "_Seat | Ended | str":
        hello = Hello(
            protocol=PROTOCOL,
            name=self._name[:200],
            code=self._code[:100],
            token=self._token,
            role=self._role,
            table=self._held.table,
            held=self._held,
            visitor=self._visitor,
        )
        loop, is_new = asyncio.get_running_loop(), self._place is None  # who has a seat never waits
        waiting = loop.call_later(_PATIENT_S, hear, Waiting(MADE_TO_WAIT)) if is_new else None
        try:
            await line.ping()  # its answer comes before the first view, so the view can show the round trip
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
        finally:
            if waiting:
                waiting.cancel()
        if isinstance(first, Welcome):
            return _Seat(line, first)
        line.transport.abort()
        return Ended(_unreadable("the first message is not a welcome"))

    def _sit_down(self, seat: "_Seat") -> None:
        self._line, self._failures, self._refusals = seat.line, 0, 0
        self._take_place(seat.welcome)
        if self._before is None:
            self._before = seat.welcome.last_id
            self._remember(self._token)
        for asked in self._asked:
            asked.sent = False
        self._wake.set()

    def _take_place(self, welcome: Welcome) -> None:
        """Take the seat of a welcome; unanswered commands from another seat are void.

        Ids keep growing: a command that is still on its way must not share its id with the next one.
        """
        place = (welcome.table, welcome.chair)
        if self._place not in (None, place):
            self._asked.clear()
        self._token, self._place = welcome.token, place
        if welcome.table != self._held.table:
            self._held = Held(table=welcome.table)

    async def _read(self, line: ClientConnection, hear: Hear) -> Ended | str:
        try:
            async for frame in line:
                message = _unpack(frame)
                await self._hearing.wait(message, len(frame))
                if isinstance(message, Done | Refused):
                    message = message.model_copy(update={"id": message.id - (self._before or 0)})
                    if self._is_to_be_sent_again(message):
                        continue
                    self._asked = [asked for asked in self._asked if asked.id != message.id]
                elif isinstance(message, Welcome):
                    self._take_place(message)
                if not self._closing.is_set():
                    self._hold(message)
                    hear(Connected(message) if isinstance(message, Welcome) else message)
        except ConnectionClosed:
            pass
        except BadFrame as error:
            return Ended(_unreadable(error))
        return _end_of(line)

    def _is_to_be_sent_again(self, answer: Done | Refused) -> bool:
        """Say whether this was our part in a wall which the host's disk did not take: the round waits for it, so that
        it goes out again after a while."""
        asked = next((one for one in self._asked if one.id == answer.id), None)
        if asked is None or not isinstance(asked.intent, WallHash | WallValue):
            return False
        if not isinstance(answer, Refused) or answer.code != "disk":
            return False
        asyncio.get_running_loop().call_later(_DISK_S, self._send_again, asked)
        return True

    def _send_again(self, asked: _Asked) -> None:
        asked.sent = False
        self._wake.set()

    def _hold(self, message: AnyServerMessage) -> None:
        """Note the heats that we have, so that the table need not send them again when we come back."""
        own, whole = self._held.own, self._held.whole
        if isinstance(message, OwnHeat | OwnTimes):
            own = (*own, message.heat.number)
        elif isinstance(message, HeatFile):
            whole = (*whole, message.number)
        else:
            return
        self._held = Held(table=self._held.table, own=_last(own), whole=_last(whole))

    async def _write(self, line: ClientConnection) -> None:
        """Send queued commands in order; after close, close the connection behind the last one."""
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


class _ConnectThere(connect):
    """A connection to the address that the player named: what answers there sends nobody on to another."""

    def process_redirect(self, exc: Exception) -> Exception:
        """Return the refusal itself."""
        return exc


@dataclass(frozen=True, slots=True)
class _Seat:
    line: ClientConnection
    welcome: Welcome


class _Full(str):
    """Why there was no place for us, in a sentence; there may be one later."""


class _HostAsked(str):
    """What the host has been asked, in a sentence; the answer comes when they have read it."""


def _last(numbers: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(numbers))[-MOST_HEATS:]


def _sendable(text: str) -> str:
    """Replace lone surrogates, which Python uses for command-line bytes that are not UTF-8."""
    return text.encode(errors="replace").decode()


def _unverified() -> ssl.SSLContext:
    """Return a context that accepts any certificate; the caller must check the fingerprint before sending anything."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def _certificate(line: ClientConnection) -> str:
    """Return the SHA-256 of the other end's certificate, in hexadecimal digits."""
    return hashlib.sha256(line.transport.get_extra_info("ssl_object").getpeercert(True)).hexdigest()


# ---- errors in words


def _unpack(frame: str | bytes) -> AnyServerMessage:
    if isinstance(frame, str):
        raise BadFrame("It is a text frame, but every message is binary.")
    return TO_CLIENT.unpack(frame)


def _unreadable(fault: object) -> str:
    return f"The table sent something that this version of racktempo cannot read: {fault}"


def _end_of(line: ClientConnection) -> Ended | str:
    """Return why the connection was closed; a plain sentence means: retry."""
    code, reason = line.close_code or 1006, clean_name(line.close_reason or "", cells=_REASON_CELLS)
    said = f" It says: {reason}" if reason else ""
    if code == Close.TOO_SLOW:
        return "The table closed this connection because it read too slowly."
    if code == Close.TOO_MANY:
        return _Full(f"There is no room at the table now.{said}")
    if code == Close.ASKED_HOST:
        return _HostAsked(reason or "The host has been asked to let this machine in.")
    if code in TRY_AGAIN:
        return f"The table says: {reason}" if reason else "The connection broke."
    if code == Close.SEAT_TAKEN_OVER and reason:
        return Ended(reason)
    unknown = "The table closed the connection." if said else f"The table closed the connection with code {code}."
    return Ended(f"{_ENDS.get(code, unknown)}{said if code != Close.WRONG_CODE else ''}")


_ENDS: dict[int, str] = {
    1000: "The table is closed.",
    Close.BAD_FRAME: "The table could not read a message of this client.",
    Close.TOO_BIG: "A message was too big.",
    Close.OTHER_VERSION: "This table runs another version of racktempo.",
    Close.WRONG_CODE: "This is the wrong code; ask the host.",
    Close.TABLE_FULL: "The table is full.",
    Close.SEAT_TAKEN_OVER: "A newer window has your seat now.",
    Close.SENT_AWAY: "The host has sent you away from the table.",
    Close.TABLE_CLOSED: "The table is closed.",
    Close.NO_CLUB: "This host does not run an evening of several tables.",
}

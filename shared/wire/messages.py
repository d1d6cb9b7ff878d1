"""What travels between a client and a table: the closed set each way, with its limits and its close codes.

One binary WebSocket frame (RFC 6455) carries one MessagePack map. The first message of a client is hello;
the table answers welcome and then sends whole views, those of a clock where the tiles are real. Every command has an
id that grows by at least one, and is answered by done or refused with that id once its effect is on disk; an id that
was already applied is answered again and applied no more.
"""

from enum import IntEnum
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from shared import versions
from shared.codec import Codec
from shared.records import Record
from shared.rules.intents import Intent
from shared.rules.refusals import RefusalCode
from shared.rules.seat_heat import SeatHeat
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import DeskIntent
from shared.wire.group_views import GroupView
from shared.wire.views import View

PROTOCOL = versions.PROTOCOL
"""Client and server must hold the same number; a different one is refused with both named."""
PORT = 15214
FRAME_LIMIT = 16 * 1024
"""The longest frame a client may send, in bytes."""
VIEW_LIMIT = 1024 * 1024
"""The longest frame a server may send, in bytes."""


Role = Literal["player", "desk", "watcher", "teacher"]


class Hello(Record):
    """A client's first message: who knocks. token is what an earlier welcome gave for this seat, or 16 random
    bytes that the client wishes to have as the token of a new one; it then keeps the seat even if the welcome is
    lost on its way. Without one the table makes it up. role is what one wants to be in a club: its desk or a
    teacher, each with a code of its own, or a watcher; at a table of its own there are only players."""

    kind: Literal["hello"] = "hello"
    protocol: int
    name: str = Field(max_length=200)
    code: str = Field(max_length=100)
    token: bytes | None = Field(default=None, min_length=16, max_length=16)
    role: Role = "player"


class Command(Record):
    """An intent with its id; heat is the number of the heat it is meant for (0 before the first)."""

    kind: Literal["command"] = "command"
    id: int = Field(ge=1, le=2**53)
    heat: int = Field(ge=0, le=1_000_000)
    intent: Intent


class DeskCommand(Record):
    """A desk's intent with its id."""

    kind: Literal["desk command"] = "desk command"
    id: int = Field(ge=1, le=2**53)
    intent: DeskIntent


NO_CHAIR = -1


class Welcome(Record):
    """The table took the client in, or the desk moved it: then a second one comes on the same line. What was asked
    at another table or chair and not yet answered is void. table is the table's id; chair is NO_CHAIR for whoever
    plays at no table (yet). last_id is the highest command id already applied for this seat; card is the
    text of the table's card of hands (TOML), empty if it plays without one."""

    kind: Literal["welcome"] = "welcome"
    protocol: int
    token: bytes
    chair: int
    last_id: int
    card: str = ""
    table: str = ""


class Done(Record):
    """The command with this id took effect and is on disk."""

    kind: Literal["done"] = "done"
    id: int


class Refused(Record):
    """The command with this id changed nothing; late_ms says by how much it missed its deadline."""

    kind: Literal["refused"] = "refused"
    id: int
    code: RefusalCode
    text: str
    late_ms: int | None


class HeatFile(Record):
    """The whole heat, after the reveal, as the bytes of a saved heat."""

    kind: Literal["heat file"] = "heat file"
    data: bytes


class OwnHeat(Record):
    """A heat that ended, as this seat lived it; sent at its end and again after rejoining."""

    kind: Literal["own heat"] = "own heat"
    heat: SeatHeat


class OwnTimes(Record):
    """A heat with real tiles that this seat lived through whole; sent at its end and again after rejoining."""

    kind: Literal["own times"] = "own times"
    heat: SeatHeat


ClientMessage = Annotated[Hello | Command | DeskCommand, Field(discriminator="kind")]
AnyServerMessage = Welcome | View | Done | Refused | HeatFile | OwnHeat | ClubView | Evening | GroupView | OwnTimes
ServerMessage = Annotated[AnyServerMessage, Field(discriminator="kind")]

TO_SERVER: Codec[Hello | Command | DeskCommand] = Codec(ClientMessage, FRAME_LIMIT)
TO_CLIENT: Codec[AnyServerMessage] = Codec(ServerMessage, VIEW_LIMIT)


class Close(IntEnum):
    """Close codes of this protocol (RFC 6455, section 7.4.2: 4000-4999 are for private use)."""

    BAD_FRAME = 1008
    TOO_BIG = 1009
    OTHER_VERSION = 4001
    WRONG_CODE = 4002
    TABLE_FULL = 4003
    SEAT_TAKEN_OVER = 4004
    SENT_AWAY = 4005
    TABLE_CLOSED = 4006
    TOO_SLOW = 4007
    TOO_MANY = 4008
    NO_CLUB = 4009


TRY_AGAIN = frozenset({1001, 1006, 1011, 1012, Close.TOO_SLOW})
"""Close codes after which a client reconnects by itself; after any other it says why and stops."""


def schemas() -> dict[str, Any]:
    """Return the protocol as JSON Schema (draft 2020-12): the messages each way, the limits and close codes."""
    return {
        "protocol": PROTOCOL,
        "frame_limit_bytes": FRAME_LIMIT,
        "close_codes": {code.name.lower().replace("_", " "): int(code) for code in Close},
        "to_server": TypeAdapter(ClientMessage).json_schema(),
        "to_client": TypeAdapter(ServerMessage).json_schema(),
    }

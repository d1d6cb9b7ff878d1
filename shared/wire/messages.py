"""The messages between a client and a table: the closed set each way, with limits and close codes.

One binary WebSocket frame (RFC 6455) carries one MessagePack map. The client's first message is hello; the table
answers welcome and then sends whole views (group views at a shared clock). Every command has a growing id. The table
answers done or refused with this id once the effect is on disk. It answers a repeated id again, but never applies it
twice.
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
from shared.rules.steps import STEPS
from shared.rules.tiles import JOKER, KINDS
from shared.wire.club_views import ClubView, Evening, Ranking
from shared.wire.desk_intents import DeskIntent
from shared.wire.group_views import GroupView
from shared.wire.views import View

PROTOCOL = versions.PROTOCOL
"""The protocol version. Client and server must have the same one; the refusal names both."""
PORT = 15214
FRAME_LIMIT = 16 * 1024
"""The longest frame a client may send, in bytes."""
VIEW_LIMIT = 1024 * 1024
"""The longest frame a server may send, in bytes."""
MOST_HEATS = 64
"""How many heats a client can say that it has; a set has fewer."""


Role = Literal["player", "desk", "watcher", "teacher"]


class Held(Record):
    """The heats of one table that a client has and need not be sent again: numbers of those of its own seat, and of
    whole ones."""

    table: str = Field(default="", max_length=64)
    own: tuple[int, ...] = Field(default=(), max_length=MOST_HEATS)
    whole: tuple[int, ...] = Field(default=(), max_length=MOST_HEATS)


NOTHING_HELD = Held()


class PageVisitor(Record):
    """Whom a browser's page on the host's machine shows the table: the browser's address, and the proof that it was
    our page which says so (shared.visitors)."""

    address: str = Field(max_length=64)
    proof: bytes = Field(min_length=32, max_length=32)


class Hello(Record):
    """A client's first message. token is the seat's token from an earlier welcome, or 16 random bytes to become the
    token of a new seat: then the client can come back even if the welcome is lost. Without one the table makes a token.
    role desk or teacher is for clubs, each with its own code; a watcher watches an evening, or one table. table is
    the id of the table whose code this is, needed only where a host has several that are no club. Nothing else may be
    sent before the welcome."""

    kind: Literal["hello"] = "hello"
    protocol: int
    name: str = Field(max_length=200)
    code: str = Field(max_length=100)
    token: bytes | None = Field(default=None, min_length=16, max_length=16)
    role: Role = "player"
    table: str = Field(default="", max_length=64)
    held: Held = NOTHING_HELD
    visitor: PageVisitor | None = None


class Command(Record):
    """An intent with its id; heat is the number of its heat (0 before the first)."""

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
    """The table admitted the client. When the desk moves a client, another welcome comes on the same connection, and
    unanswered commands for the old chair are void. table is the table's id; chair is NO_CHAIR for a client without a
    chair. last_id is the highest command id already applied for this seat; card is the text of the table's card of
    hands (TOML), empty if its owner does not share it; title and digest say which card it is, and both are empty at a
    table without one."""

    kind: Literal["welcome"] = "welcome"
    protocol: int
    token: bytes
    chair: int
    last_id: int
    card: str = ""
    card_title: str = ""
    card_digest: str = ""
    table: str = ""


class Done(Record):
    """The command with this id took effect and is on disk."""

    kind: Literal["done"] = "done"
    id: int


class Refused(Record):
    """The command with this id changed nothing; late_ms is how late it was, if that is the reason."""

    kind: Literal["refused"] = "refused"
    id: int
    code: RefusalCode
    text: str
    late_ms: int | None


class HeatFile(Record):
    """A whole heat as the bytes of a saved heat; sent only after the reveal, and after rejoining to who lacks it."""

    kind: Literal["heat file"] = "heat file"
    number: int = 0
    data: bytes


class OwnHeat(Record):
    """This seat's record of a heat; sent when the heat ends, and after rejoining to who lacks it."""

    kind: Literal["own heat"] = "own heat"
    heat: SeatHeat


class OwnTimes(Record):
    """This seat's times of a heat with real tiles, if it took part in every step; sent as OwnHeat is."""

    kind: Literal["own times"] = "own times"
    heat: SeatHeat


ClientMessage = Annotated[Hello | Command | DeskCommand, Field(discriminator="kind")]
AnyServerMessage = (
    Welcome | View | Done | Refused | HeatFile | OwnHeat | ClubView | Evening | Ranking | GroupView | OwnTimes
)
ServerMessage = Annotated[AnyServerMessage, Field(discriminator="kind")]

TO_SERVER: Codec[Hello | Command | DeskCommand] = Codec(ClientMessage, FRAME_LIMIT)
TO_CLIENT: Codec[AnyServerMessage] = Codec(ServerMessage, VIEW_LIMIT)


HELLO_MS = 5_000
"""How long a client may take to say hello."""
HOW_TO_TALK = """\
Open a WebSocket to the host's address, over TLS if its address begins with wss://. No subprotocol is asked for and no \
compression is needed; an Origin header other than the host's own is refused. Every frame is binary and holds one \
MessagePack map: text as str, bytes as bin, nothing as nil, tuples as arrays. "kind" says which message it is.
Say hello first, within hello_within_ms, with this protocol's number, a name, the code that the host shows, and 16 \
random bytes as token: whoever has the token has the seat, so keep it and send it again to come back. Another number \
is refused with close code "other version". Say nothing more until welcome has come. A wrong code closes the line.
Then the table sends views. Each view is the whole state for your chair: forget the one before. Chairs are counted \
from 0; no_chair in a welcome says that you have none (you wait for one, or watch) and get club views until another \
welcome gives you one.
A command carries an id, the number of the heat (heat_number of the last view) and an intent. Ids begin above last_id \
of the welcome and grow. Each is answered once by done or refused with its id; send it again after a cut line, and it \
is never done twice. A value that is not in the schema is refused too, as "no such value"; only a frame that is no \
command at all, or such values again and again, close the line.
While no heat runs, say ready; the heat begins when all people are, and bots take the empty chairs. Then a wall is \
made: wall hash and wall value add your own randomness to it, and after five seconds it is made without yours.
In a heat you are asked something while heat.owes is true and heat.paused is false; constants.steps says what each \
step asks. "pass" and "give": answer with pass, naming the step and heat.give tiles of heat.rack, never a joker \
(with blind, fewer: up to heat.most_blind are passed on unseen). "vote": answer with vote. "offer": with offer; at \
"side offer" its to is "right" or "left". "plan": with plan. An answer not given when heat.clock.left_ms has run out \
is given for you. The heat is over when phase is no longer "heat", which can be at once, if East wins with the deal; \
results then hold everybody's times.
A closed line has a code: after one of try_again_after come back with the same token, later each time; after any \
other show the reason and stop."""


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
    ASKED_HOST = 4010


TRY_AGAIN = frozenset({1001, 1006, 1011, 1012, Close.TOO_SLOW, Close.TOO_MANY, Close.ASKED_HOST})
"""Close codes after which a client reconnects by itself, after TOO_MANY (the door is full) and ASKED_HOST (the host has
been asked whether this machine may have its seat) ever more slowly; after any other it shows the reason and stops."""


def schemas() -> dict[str, Any]:
    """Return the protocol for somebody who writes another client: how to talk, the limits, close codes and constants,
    and the messages each way as JSON Schema (draft 2020-12)."""
    return {
        "description": HOW_TO_TALK,
        "protocol": PROTOCOL,
        "transport": {
            "connection": "WebSocket (RFC 6455)",
            "url": ["ws://HOST:PORT/", "wss://HOST:PORT/"],
            "port": PORT,
            "frame": "binary",
            "encoding": "MessagePack",
            "hello_within_ms": HELLO_MS,
        },
        "frame_limit_bytes": FRAME_LIMIT,
        "view_limit_bytes": VIEW_LIMIT,
        "close_codes": {code.name.lower().replace("_", " "): int(code) for code in Close},
        "try_again_after": sorted(int(code) for code in TRY_AGAIN),
        "constants": {
            "no_chair": NO_CHAIR,
            "tiles": list(KINDS),
            "joker": JOKER,
            "steps": {step.name: step.ask for step in STEPS.values()},
        },
        "to_server": TypeAdapter(ClientMessage).json_schema(),
        "to_client": TypeAdapter(ServerMessage).json_schema(),
    }

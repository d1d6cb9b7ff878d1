"""A host of ill will puts escape sequences into every text it sends: none reaches the player's terminal.

Both clients, and the desk of another machine's evening, run in a terminal of their own, are told one of everything
that a host can say, and every byte that they write is looked at.
"""

import asyncio
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from websockets.asyncio.server import ServerConnection, serve

from shared.rules.heat import HEAT
from shared.rules.intents import Pause
from shared.wire.club_views import ClubRole, Evening
from shared.wire.desk_intents import StartAll
from shared.wire.messages import TO_CLIENT, AnyServerMessage, HeatFile, OwnHeat, Refused, Welcome
from tests.client.hostile import EVIL, EVIL_NAME, SIGN, Terminal, assert_harmless, spoilt, terminal_of, text_fields
from tests.clubs import QUICK, ClubEvening

CARD = f'[card]\ntitle = "{EVIL.encode("unicode_escape").decode().replace(chr(92) + "x", chr(92) + "u00")}"\n'
UP, DOWN, LEFT, RIGHT, ESCAPE = b"\x1b[A", b"\x1b[B", b"\x1b[D", b"\x1b[C", b"\x1b"


def told_by_a_table() -> dict[str, AnyServerMessage]:
    """Return what a player of an evening with one deal is told, spoilt, by the name of what is shown then."""
    evening = ClubEvening(QUICK.model_copy(update={"same_deal": True, "hints": "after each pass"}), tables=2, people=6)
    told: dict[str, AnyServerMessage] = {"seating": evening.view("P1")}
    evening.do(StartAll(in_ms=0))
    told["heat"] = evening.view("P1")
    evening.say("P1", Pause())
    told["paused"] = evening.view("P1")
    evening.wait(0)
    evening = ClubEvening(QUICK.model_copy(update={"same_deal": True, "hints": "after each pass"}), tables=2, people=6)
    for name in ("between", "over"):
        evening.do(StartAll(in_ms=0))
        evening.play(*evening.tokens)
        told[name] = evening.view("P1")
    own = next(message for message in evening.files["P1"] if isinstance(message, OwnHeat))
    whole = next(message for message in evening.files["P1"] if isinstance(message, HeatFile))
    told["own heat"] = own
    told["refused"] = Refused(id=1, code="late", text="No.", late_ms=1)
    spoiling = {name: spoilt(message, but=("heat.card",)) for name, message in told.items()}
    spoiling["unreadable own heat"] = spoilt(own)
    spoiling["heat file"] = HeatFile(data=HEAT.pack(spoilt(HEAT.unpack(whole.data), but=("card",))))
    spoiling["no heat file"] = HeatFile(data=EVIL.encode())
    return spoiling


def told_by_a_club() -> dict[str, AnyServerMessage]:
    """Return what is told beside the tables of an evening, spoilt, by role."""
    evening = ClubEvening(QUICK, tables=2, people=9)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3")
    roles: tuple[ClubRole, ...] = ("desk", "teacher", "watcher", "waiting")
    told: dict[str, AnyServerMessage] = {role: evening.shown(role) for role in roles}
    played = spoilt(Evening(played=evening.club.played()), but=("played.person",)).played
    tables = [one.model_copy(update={"table": f"{EVIL}{number // 4}"}) for number, one in enumerate(played)]
    spoiling = {name: spoilt(message) for name, message in told.items()}
    return {**spoiling, "evening": Evening(played=tuple(tables)), "impossible evening": Evening(played=played)}


class IllHost:
    """A host that listens to nobody."""

    def __init__(self) -> None:
        self.port = 0
        self._came = asyncio.Event()
        self._line: ServerConnection | None = None

    async def serve(self, line: ServerConnection) -> None:
        self._line = line
        self._came.set()
        await line.wait_closed()

    async def says(self, *messages: AnyServerMessage) -> None:
        await self._came.wait()
        assert self._line is not None
        for message in messages:
            await self._line.send(TO_CLIENT.pack(message))

    async def hangs_up(self, code: int) -> None:
        assert self._line is not None
        await self._line.close(code, EVIL[:30])
        self._came.clear()


@asynccontextmanager
async def ill_host() -> AsyncIterator[IllHost]:
    host = IllHost()
    async with serve(host.serve, "127.0.0.1", 0, compression=None) as server:
        host.port = next(iter(server.sockets)).getsockname()[1]
        yield host


def welcome(chair: int = 0) -> Welcome:
    return Welcome(protocol=1, token=bytes(16), chair=chair, last_id=0, card=CARD, table=EVIL)


async def looked_through(
    host: IllHost, terminal: Terminal, told: dict[str, AnyServerMessage], keys: dict[str, Iterable[bytes]]
) -> None:
    """Let the host say things in this order, and press keys where each of them is shown."""
    await host.says(welcome())
    for name, pressed in keys.items():
        await host.says(told[name])
        await terminal.until(SIGN.encode())
        await terminal.quiet()
        assert not terminal.has_ended(), f"{name}: {terminal.seen[-2_000:].decode(errors='replace')}"
        await terminal.type(*pressed)
    await host.hangs_up(4005)
    await terminal.quiet()


def test_every_text_that_a_host_can_send_is_spoilt_here() -> None:
    told = {**told_by_a_table(), **told_by_a_club()}
    fields = {name: text_fields(message) for name, message in told.items()}
    between = {"table", "code", "chairs.name", "commitment", "results.commitment", "results.secret"}
    assert between <= fields["between"]
    assert {"club.evening", "club.speed.name", "club.elsewhere.name", "club.elsewhere.table"} <= fields["between"]
    assert {"heat.names", "heat.table", "heat.played_at", "heat.commitment"} <= fields["own heat"]
    assert "heat.card" in fields["unreadable own heat"]
    assert fields["refused"] == {"text"}
    desk = {"name", "tables.name", "tables.chairs.name", "tables.chairs.person", "desk.code"}
    assert desk | {"waiting.name", "waiting.person", "tables.results.chairs.name"} <= fields["desk"]
    assert {"played.name", "played.deal"} <= fields["evening"]
    file = told["heat file"]
    assert isinstance(file, HeatFile)
    assert {"table", "names", "played_at", "commitment", "digest"} <= text_fields(HEAT.unpack(file.data))


def test_no_escape_sequence_of_a_host_reaches_a_terminal_in_plain_lines(tmp_path: Path) -> None:
    async def scene() -> None:
        told = told_by_a_table()
        words = ("join", "--name", EVIL_NAME, "--code", "otter-plum", "--plain")
        async with ill_host() as host, terminal_of(*words, f"127.0.0.1:{host.port}", home=tmp_path) as terminal:
            keys = dict.fromkeys(told, (b"help\n", b"\n"))
            await looked_through(host, terminal, told, keys)
            assert_harmless(terminal.seen)

    asyncio.run(scene())


def test_no_escape_sequence_of_a_host_reaches_a_terminal_from_a_screen(tmp_path: Path) -> None:
    async def scene() -> None:
        told = told_by_a_table()
        words = ("join", "--name", EVIL_NAME, "--code", "otter-plum")
        async with ill_host() as host, terminal_of(*words, f"127.0.0.1:{host.port}", home=tmp_path) as terminal:
            keys: dict[str, Iterable[bytes]] = {
                "seating": (b"?", ESCAPE, b"a", ESCAPE, DOWN),
                "heat": (b"v", b"w", SIGN.encode(), b"\r", ESCAPE, b"\x1bOR", b"\x1bOR", b"y", ESCAPE, b"?", ESCAPE),
                "refused": (b"a",),
                "paused": (),
                "own heat": (),
                "unreadable own heat": (),
                "heat file": (),
                "no heat file": (),
                "between": (b"r", RIGHT, RIGHT, RIGHT, b"s", UP, b"q", *(RIGHT,) * 6),
                "over": (*(RIGHT,) * 8, b"?", ESCAPE),
            }
            await looked_through(host, terminal, told, keys)
            await terminal.type(b"y", *(RIGHT,) * 4, b"\r", RIGHT, b"q", b"q", b"d", DOWN, DOWN, DOWN, b"\r")
            assert_harmless(terminal.seen)

    asyncio.run(scene())


def test_no_escape_sequence_of_a_host_reaches_the_terminal_of_a_desk(tmp_path: Path) -> None:
    async def scene() -> None:
        told = told_by_a_club()
        words = ("desk", "--code", "otter-plum", "--at")
        async with ill_host() as host, terminal_of(*words, f"127.0.0.1:{host.port}", home=tmp_path) as terminal:
            keys: dict[str, Iterable[bytes]] = {
                "desk": (b" ", DOWN, RIGHT, ESCAPE, b"?", ESCAPE, b"r", ESCAPE, b"k", b"n", b"g", ESCAPE),
                "evening": (b"v", RIGHT, RIGHT, b"e", ESCAPE, b"a", ESCAPE),
                "teacher": (b"v", DOWN),
                "watcher": (DOWN,),
                "waiting": (DOWN,),
                "impossible evening": (DOWN,),
            }
            await looked_through(host, terminal, told, keys)
            assert_harmless(terminal.seen)

    asyncio.run(scene())

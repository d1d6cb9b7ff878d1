"""A host of ill will puts escape sequences into every text it sends: none reaches the player's terminal.

Both clients run in a pseudo-terminal of their own, and every byte that they write to it is looked at.
"""

import asyncio
import contextlib
import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from websockets.asyncio.client import connect
from websockets.asyncio.server import ServerConnection, serve
from websockets.exceptions import ConnectionClosed

from shared.messages import TO_CLIENT, AnyServerMessage, Refused, Welcome
from shared.settings import Settings
from shared.views import View
from tests.server.players import CODE, open_house

ROOT = Path(__file__).parents[2]
SIGN = "EVIL"
EVIL = f"\x1b]777;own\x07\x9d777;own\x9c{SIGN}\x1b[31m\x9b31m\x1bP0q\x1b\\\x08\x7f\u202e[bold]"
ACTS = (
    b"\x1b]777",
    b"777;own\x07",
    b"\xc2\x9d",
    b"\xc2\x9b",
    b"\x1bP",
    b"EVIL\x1b",
    b"\xe2\x80\xae",
    b"\x7f",
)
"""What of it would act: a title or clipboard sequence, C1 controls, device strings, colours, text that runs back."""


def spoilt(message: AnyServerMessage) -> AnyServerMessage:
    """Return a message with ill words wherever a text may stand."""
    match message:
        case View():
            chairs = tuple(chair.model_copy(update={"name": EVIL}) for chair in message.chairs)
            results = tuple(
                result.model_copy(update={"names": (EVIL,) * 4}) if hasattr(result, "names") else result
                for result in message.results
            )
            return message.model_copy(update={"table": EVIL, "code": EVIL, "chairs": chairs, "results": results})
        case Welcome():
            words = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
            return message.model_copy(update={"card": message.card.replace('title = "', f'title = "{words}')})
        case Refused():
            return message.model_copy(update={"text": EVIL})
        case _:
            return message


@asynccontextmanager
async def ill_host(seconds: float) -> AsyncIterator[int]:
    """A real table behind a host that spoils what it says, and ends every line with ill words after some seconds."""
    async with open_house(Settings(seed=7, level_ms=30_000, bot_pace="quick")) as house:

        async def between(client: ServerConnection) -> None:
            async with connect(f"ws://127.0.0.1:{house.door.port}", compression=None) as table:

                async def up() -> None:
                    async for frame in client:
                        await table.send(frame)

                async def down() -> None:
                    async for frame in table:
                        assert isinstance(frame, bytes)
                        await client.send(TO_CLIENT.pack(spoilt(TO_CLIENT.unpack(frame))))
                        await client.send(TO_CLIENT.pack(Refused(id=1, code="late", text=EVIL, late_ms=1)))

                ways = [
                    asyncio.create_task(up()),
                    asyncio.create_task(down()),
                ]
                await asyncio.wait(ways, timeout=seconds)
                for way in ways:
                    way.cancel()
                await asyncio.gather(*ways, return_exceptions=True)
                with contextlib.suppress(ConnectionClosed):
                    await client.close(4005, EVIL[:30])

        async with serve(between, "127.0.0.1", 0, compression=None) as server:
            yield next(iter(server.sockets)).getsockname()[1]


def written_by(command: list[str], keys: bytes, folder: Path, seconds: float) -> bytes:
    """Run a client in a pseudo-terminal, type keys once it shows the host's words, and return all that it wrote."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    termios.tcsetattr(theirs, termios.TCSANOW, _without_echo(theirs))
    homes = {name: str(folder) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}
    environment = {**os.environ, **homes, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, env=environment)
    os.close(theirs)
    seen, waiting, ends_s = bytearray(), list(keys), time.monotonic() + seconds
    while time.monotonic() < ends_s:
        if select.select([ours], [], [], 0.3)[0]:
            try:
                seen.extend(os.read(ours, 65_536))
            except OSError:
                break  # the client has ended
        elif waiting and SIGN.encode() in seen:
            os.write(ours, bytes([waiting.pop(0)]))
    process.kill()
    process.wait()
    os.close(ours)
    return bytes(seen)


def _without_echo(terminal: int) -> list:  # type: ignore[type-arg]
    how = termios.tcgetattr(terminal)
    how[3] &= ~termios.ECHO
    return how


@pytest.mark.parametrize("way", ["plain", "screen"])
def test_no_escape_sequence_of_a_host_reaches_the_terminal(way: str, tmp_path: Path) -> None:
    async def scene() -> bytes:
        async with ill_host(6) as port:
            command = [sys.executable, "-m", "client.cli", "join", f"127.0.0.1:{port}", "--name", EVIL, "--code", CODE]
            if way == "plain":
                return await asyncio.to_thread(written_by, [*command, "--plain"], b"help\n", tmp_path, 9)
            return await asyncio.to_thread(written_by, command, b"\r?\x1bccvv", tmp_path, 9)

    seen = asyncio.run(scene())
    assert SIGN.encode() in seen, "nothing of the host's words was shown at all"
    assert [act for act in ACTS if act in seen] == []

"""What is attacked, each in a process of its own: a host with tables, a host with an evening, the page for browsers.

    python -m tests.bench.victims FILE [--descriptors 64] [--port 0] [--tables 0] [--evening]

A host prints its two ports, the second with TLS, and when its standard input ends, what became of it, as JSON.
"""

import argparse
import asyncio
import contextlib
import json
import os
import resource
import secrets
import ssl
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import trustme

from server.admission import Admission
from server.clock import spare_pauses, wall_time
from server.club.club import new_club
from server.net.listener import open_listener
from server.store import Store
from server.table.table import Table
from shared.rules.settings import Settings
from tests.bench.returning import played_table
from tests.clubs import club_record
from tests.server.players import make_table

ROOT = Path(__file__).parents[2]
ATTACKED, BESIDE = "acorn-alley-amber-01", "zodiac-zigzag-zone-99"
EVENING, DESK = "marigold-otter-lemon-07", "bronze-piano-atlas-34"
"""The codes of an evening and of its desk."""
EVENING_TABLES = 3


def code_of(number: int) -> str:
    """Return the code of one of many tables."""
    return f"acorn-alley-atlas-{number:03}"


async def serve(path: Path, descriptors: int, port: int, tables: int, is_evening: bool) -> None:
    """Be the host until standard input ends."""
    if descriptors:
        resource.setrlimit(resource.RLIMIT_NOFILE, (descriptors, descriptors))
    spare_pauses()
    store = Store.open(path)
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trustme.CA().issue_cert("127.0.0.1").configure_cert(tls)
    async with Admission.open(store) as admission:
        if is_evening:
            record = club_record(Settings(), EVENING, DESK)
            club = await admission.add_club(new_club(record, secrets.token_bytes, wall_time))
            for _ in range(EVENING_TABLES):
                await club.open_table()
        else:
            left = {one.record.id: one for one in store.load()}
            named = [(ATTACKED, "Attacked"), (BESIDE, "Beside")]
            for code, name in (*named, *((code_of(number), f"Table {number}") for number in range(tables))):
                table, stored = make_table(Settings(), code, name), left.get(f"t {code}")
                admission.add(Table(stored.record, secrets.token_bytes, wall_time) if stored else table, stored)
            admission.add(played_table())
        async with (
            open_listener(admission, "127.0.0.1", port) as listener,
            open_listener(admission, "127.0.0.1", 0, tls=tls) as private,
        ):
            print(listener.port, private.port, flush=True)
            await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
            is_over = admission.club is not None and admission.club.club.record.phase == "over"
            print(json.dumps({"wrong codes": admission.guesses.total, "evening ended": is_over}), flush=True)
            os._exit(0)


@dataclass
class Host:
    """A host's process."""

    process: asyncio.subprocess.Process
    port: int
    private: int
    log: Path

    def memory_mb(self) -> float:
        """Return the memory that the host has (proc(5))."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.partition("VmRSS:")[2].split()[0]) / 1_024

    async def end(self) -> dict[str, int]:
        """End it in good order and return what it says of itself."""
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.close()
        told: dict[str, int] = json.loads(await self.process.stdout.readline())
        return told


@asynccontextmanager
async def open_host(
    folder: Path, descriptors: int = 0, port: int = 0, tables: int = 0, is_evening: bool = False
) -> AsyncIterator[Host]:
    """Run a host whose file and log are in a folder; whatever is running at the end is killed."""
    path, log = folder / "tables.sqlite3", folder / "log"
    numbers = ("--descriptors", descriptors, "--port", port, "--tables", tables)
    command = (sys.executable, "-m", "tests.bench.victims", path, *numbers, *(("--evening",) if is_evening else ()))
    pipe = asyncio.subprocess.PIPE
    with log.open("ab") as said:
        process = await asyncio.create_subprocess_exec(
            *map(str, command), cwd=ROOT, stdin=pipe, stdout=pipe, stderr=said
        )
    assert process.stdout
    try:
        port, private = map(int, (await process.stdout.readline()).split())
        yield Host(process, port, private, log)
    finally:
        with contextlib.suppress(ProcessLookupError):
            process.kill()
        await process.wait()


@asynccontextmanager
async def open_page(folder: Path, table: int, port: int) -> AsyncIterator[asyncio.subprocess.Process]:
    """Run racktempo web at a port for a host with an evening, since the page's form names no table."""
    start = "import sys; from client.cli import main; sys.exit(main())"
    command = (sys.executable, "-c", start, "web", f"127.0.0.1:{table}", "--port", str(port))
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(
        *command, cwd=ROOT, stdout=pipe, env=os.environ | {"HOME": str(folder)}
    )
    assert process.stdout
    try:
        await process.stdout.readline()
        yield process
    finally:
        with contextlib.suppress(ProcessLookupError):
            process.terminate()
        await process.communicate()


def main() -> None:
    """Be a host."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.victims", description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--descriptors", type=int, default=0)
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--tables", type=int, default=0)
    parser.add_argument("--evening", action="store_true")
    options = parser.parse_args()
    asyncio.run(serve(options.file, options.descriptors, options.port, options.tables, options.evening))


if __name__ == "__main__":
    main()

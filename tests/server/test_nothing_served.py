"""A running heat lies on the host's disk for its owner alone: no request brings any of it out, nobody else reads it."""

import asyncio
import stat
from pathlib import Path

import pytest

from shared.rules.intents import Ready
from tests.server.players import Player, open_house, owes


@pytest.mark.parametrize(
    "path",
    ["/", "/tables.sqlite3", "/../tables.sqlite3", "/%2e%2e/tables.sqlite3", "/tables.sqlite3-wal", "//etc/passwd"],
)
async def test_no_request_is_answered_with_anything_that_the_host_keeps(path: str, tmp_path: Path) -> None:
    async with open_house(path=tmp_path / "tables.sqlite3") as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.ask(Ready())
        await ann.until(owes)
        reader, writer = await asyncio.open_connection("127.0.0.1", house.listener.port)
        writer.write(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        answer = await reader.read()
        writer.close()
        assert answer.startswith(b"HTTP/1.1 4")
        assert b"SQLite" not in answer
        assert b"maple" not in answer
        assert len(answer) < 600
        await ann.go()


async def test_every_file_of_a_running_heat_is_its_owners_alone(tmp_path: Path) -> None:
    async with open_house(path=tmp_path / "data" / "tables.sqlite3") as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.ask(Ready())
        await ann.until(owes)
        kept = [tmp_path / "data", *(tmp_path / "data").iterdir()]
        assert len(kept) >= 3, "the database and its log"
        assert [path.name for path in kept if stat.S_IMODE(path.stat().st_mode) & 0o077] == []
        await ann.go()

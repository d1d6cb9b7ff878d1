"""A short soak: real processes and sockets, a bad network, kill -9, and nothing acknowledged is lost."""

import asyncio
from pathlib import Path

from tests.soak.run import soak


def test_what_a_host_acknowledged_survives_kills_and_a_bad_network(tmp_path: Path) -> None:
    result = asyncio.run(soak(tmp_path / "tables.sqlite3", 18))
    assert result.is_well, result
    assert result.kills >= 1
    assert result.acknowledged >= 12
    assert result.connections > 4 * (1 + result.kills) // 2
    assert sum(result.faults.values()) >= 3

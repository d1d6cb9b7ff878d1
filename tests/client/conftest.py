"""Screens are drawn when nothing goes on any more.

Textual's pilot waits until the processor idles: at least 20 ms after every key, and up to a second on a busy machine.
The loop knows better: it is quiet when no task can go on and no thread works for it.
"""

import asyncio
from asyncio import AbstractEventLoop
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from tests.loop import QuietLoop


def pytest_asyncio_loop_factories(
    config: pytest.Config, item: pytest.Item
) -> Mapping[str, Callable[[], AbstractEventLoop]]:
    return {"quiet": QuietLoop}


async def until_quiet(min_sleep: float = 0, max_sleep: float = 1) -> None:
    loop = asyncio.get_running_loop()
    assert isinstance(loop, QuietLoop)
    await loop.quiet()


@pytest.fixture(autouse=True)
def _pilot_waits_until_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("textual.app.wait_for_idle", until_quiet)
    monkeypatch.setattr("textual.pilot.wait_for_idle", until_quiet)


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's folders (XDG base directories), in a place of their own."""
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    return tmp_path

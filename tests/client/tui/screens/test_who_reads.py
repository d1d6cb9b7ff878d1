"""The host's screen says plainly who else can read what is sent."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from client.connection.opened import Opened
from client.storage.preferences import Storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtSolo
from server.host import READABLE
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.tables import TableLine, Time, openers_to


@pytest.mark.parametrize("words", [READABLE, "Private: guests type wss://ADDRESS#f9242e03dd010247aaaf"])
async def test_the_lobby_says_whether_others_on_the_network_can_read_along(words: str) -> None:
    now_ms = Time()
    line = TableLine(Settings(seed=7), now_ms)

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line, ("192.0.2.20:15214",), who_reads=words)

    openers = replace(openers_to(line), solo=lambda settings, name, card: opening())
    app = RacktempoApp(openers, AtSolo(), name="Anna", now_ms=now_ms, random_bytes=bytes, storage=Storage())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert words in text_of(app)

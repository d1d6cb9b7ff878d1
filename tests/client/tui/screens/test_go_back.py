"""A host who left comes back from home: the table that waits is offered before anything else."""

from contextlib import AbstractAsyncContextManager
from dataclasses import replace

import pytest

from client.connection.opened import Opened
from client.tui.ports import AtHome
from client.tui.screens.go_back import GoBackScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.seats import SeatsScreen
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.player import Player, at

WORDS = "Boathouse, heat 2, first left"


def leave(player: Player, opened: list[str]) -> None:
    """Let a table wait for its host."""
    host = player.app.openers.host

    def opening(what: str) -> AbstractAsyncContextManager[Opened]:
        opened.append(what)
        return host(Settings(), "Anna", 0, "")

    player.app.openers = replace(
        player.app.openers,
        left=lambda: WORDS,
        go_back=lambda: opening("back"),
        host_anew=lambda settings, name, port, card: opening("anew"),
    )


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_h_offers_the_table_that_waits_before_anything_else(size: tuple[int, int]) -> None:
    opened: list[str] = []
    async with at(size, AtHome()) as player:
        leave(player, opened)
        await player.press("h")
        assert isinstance(player.app.screen, GoBackScreen)
        assert f"Go on with {WORDS}" in text_of(player.app)
        await player.press("q")
        assert isinstance(player.app.screen, HomeScreen)
        assert f"Host a table             {WORDS} waits for you" in text_of(player.app)
        await player.press("h", "enter")
        assert isinstance(player.app.screen, SeatsScreen)
        assert opened == ["back"]


async def test_another_table_is_a_key_away_and_drops_the_one_that_waits() -> None:
    opened: list[str] = []
    async with at((80, 24), AtHome()) as player:
        leave(player, opened)
        await player.press("h", "n")
        assert isinstance(player.app.screen, HostScreen)
        await player.press("f5")
        assert isinstance(player.app.screen, SeatsScreen)
        assert opened == ["anew"]


async def test_with_no_table_left_h_leads_to_the_setup() -> None:
    async with at((80, 24), AtHome()) as player:
        await player.press("h")
        assert isinstance(player.app.screen, HostScreen)

"""Help for what is on the screen: everything in it can be read, and leaving it leaves nothing else."""

import pytest

from client.tui.screens.help import HelpScreen
from client.tui.screens.table import TableScreen
from tests.client.frozen import text_of
from tests.client.player import at


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (100, 30), (120, 40)])
async def test_every_word_of_the_help_can_be_read(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        table = player.app.screen
        assert isinstance(table, TableScreen)
        await player.press("question_mark")
        read = text_of(player.app)
        while "space more" in text_of(player.app):
            await player.press("space")
            assert text_of(player.app) not in read
            read += text_of(player.app)
        for key, does, _ in table.help_keys():
            assert key in read
            assert all(word in read for word in does.split()), does
        await player.press("q")
        assert player.app.screen is table


async def test_keys_typed_faster_than_the_help_closes_close_nothing_else() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.press("question_mark")
        helped = player.app.screen
        assert isinstance(helped, HelpScreen)
        for key in ("q", "q", "x", "escape"):
            helped.do(key)
        await player.settle()
        assert isinstance(player.app.screen, TableScreen)

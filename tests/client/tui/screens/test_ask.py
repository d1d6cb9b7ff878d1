"""Ask about a rack on the screen: typed, answered, asked otherwise, all of it, and back."""

import pytest

from client.tui.ports import AtAsk, AtHome
from client.tui.screens.ask import AskScreen, ReadingScreen
from client.tui.screens.home import HomeScreen
from tests.client.frozen import check_frozen, text_of
from tests.client.player import Player, at

RACK = "1123b567c9dNEFFJ"


async def asking(player: Player) -> AskScreen:
    player.app.go(AtAsk())
    await player.until(lambda: isinstance(player.app.screen, AskScreen))
    screen = player.app.screen
    assert isinstance(screen, AskScreen)
    return screen


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)])
async def test_a_rack_is_typed_and_answered(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        screen = await asking(player)
        await player.press(*RACK)
        await player.until(lambda: screen.model.answer)
        check_frozen(player.app, "ask")
        await player.press("down", "down")
        await player.until(lambda: screen.model.answered and screen.model.answered.question == "vote")
        shown = text_of(player.app)
        assert "Go on" in shown
        await player.press("f2")
        assert isinstance(player.app.screen, ReadingScreen)
        assert "Likeliest hands" in text_of(player.app)
        await player.press("q", "escape")
        assert isinstance(player.app.screen, HomeScreen)


async def test_what_cannot_be_read_is_said_at_once_and_passed_tiles_count() -> None:
    async with at((80, 24), AtHome()) as player:
        screen = await asking(player)
        await player.press(*"10b")
        assert "no such rank" in text_of(player.app)
        await player.press("backspace", "backspace", "backspace", *RACK, "tab", *"J")
        await player.until(lambda: screen.told)
        assert "A joker is never passed" in text_of(player.app)

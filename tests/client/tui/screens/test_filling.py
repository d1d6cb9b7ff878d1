"""A rack played on, from the end of a heat, from its review and from a typed rack: bars, one game, stop, and back."""

import pytest

from client.tui.ports import AtAsk, AtHome
from client.tui.screens.ask import AskScreen
from client.tui.screens.end import SetEndScreen
from client.tui.screens.filling import FillScreen
from client.tui.screens.review import ReviewScreen
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, text_of
from tests.client.here import CoachHere
from tests.client.player import Player, at


async def at_the_end(player: Player) -> SetEndScreen:
    await player.press("enter")
    await player.others_play()
    await player.play_to("the end")
    screen = player.app.screen
    assert isinstance(screen, SetEndScreen)
    await player.until(lambda: player.model.own)
    await player.until(lambda: screen.end().points)
    return screen


async def filled(player: Player) -> FillScreen:
    await player.press("f")
    screen = player.app.screen
    assert isinstance(screen, FillScreen)
    await player.until(lambda: screen.model.filled and screen.model.filled.done == 1)
    return screen


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)])
async def test_one_key_at_the_end_of_a_heat_plays_the_rack_on(size: tuple[int, int]) -> None:
    async with at(size, settings=Settings(seed=7, heats=1)) as player:
        end = await at_the_end(player)
        screen = await filled(player)
        check_frozen(player.app, "fill")
        await player.press("space")
        await player.until(lambda: screen.model.turns)
        await player.press(*["space"] * 6)
        check_frozen(player.app, "fill-game")
        await player.press("enter")
        assert "Played on 1,000 times" in text_of(player.app)
        await player.press("q")
        assert player.app.screen is end


async def test_the_last_page_of_a_review_plays_the_rack_on() -> None:
    async with at((80, 24), settings=Settings(seed=7, heats=1)) as player:
        await at_the_end(player)
        await player.press("r")
        review = player.app.screen
        assert isinstance(review, ReviewScreen)
        await player.until(lambda: review.looking().done == 1)
        await player.press("f")
        assert player.app.screen is review
        await player.press("left")
        await filled(player)
        assert "Played on 1,000 times" in text_of(player.app)


async def test_it_can_be_stopped_and_begun_again() -> None:
    coach = CoachHere()
    async with at((80, 24), settings=Settings(seed=9, heats=1), coach=coach) as player:
        await at_the_end(player)
        coach.held = 3
        await player.press("f")
        screen = player.app.screen
        assert isinstance(screen, FillScreen)
        await player.until(lambda: screen.model.filled)
        await player.press("x")
        await player.until(lambda: not screen.model.running)
        assert "Stopped." in text_of(player.app)
        coach.held = None
        await player.press("x")
        await player.until(lambda: screen.model.filled and screen.model.filled.done == 1)


async def test_a_typed_rack_is_played_on_too() -> None:
    async with at((80, 24), AtHome()) as player:
        player.app.go(AtAsk())
        await player.until(lambda: isinstance(player.app.screen, AskScreen))
        ask = player.app.screen
        assert isinstance(ask, AskScreen)
        await player.press(*"1b1b3b5c5c5c6c6c7cFFFJ", "up")
        await player.until(lambda: ask.model.answer and ask.model.answered and ask.model.answered.question == "fill")
        check_frozen(player.app, "ask-fill")
        await player.press("f3")
        screen = player.app.screen
        assert isinstance(screen, FillScreen)
        await player.until(lambda: screen.model.filled and screen.model.filled.done == 1)
        assert ask.model.answer
        assert ask.model.answer.headline in text_of(player.app)

"""Browsing cards from home: the ones that come with racktempo, and one's own with what is wrong with it."""

from pathlib import Path

import pytest

from client.tui.ports import AtHome
from client.tui.screens.cards import CardScreen
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import Player, at

BAD = """
[card]
title = "Boathouse card"
year = 2026

[[section]]
name = "Oars"
about = "Invented for a test."
[[section.hand]]
id = "oars-1"
groups = "F^4 n.p^3 n+9.p^7"
value = 30
"""


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A config folder of the test's own with one bad card in it."""
    monkeypatch.setattr("client.storage.card_files.config_folder", lambda: tmp_path)
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards" / "boathouse.toml").write_text(BAD, "utf-8")
    return tmp_path


async def opened(player: Player) -> CardScreen:
    await player.press("c")
    screen = player.app.screen
    assert isinstance(screen, CardScreen)
    await player.until(lambda: len(screen._cards) == 3)
    return screen


@sized
async def test_every_card_can_be_looked_through(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        await opened(player)
        await player.press("z", "down")
        check_frozen(player.app, "cards")
        await player.press("right")
        check_frozen(player.app, "cards-first-evening")
        await player.press("right")
        check_frozen(player.app, "cards-faults")
        await player.press("right", "l")
        check_frozen(player.app, "cards-legend")


async def test_the_way_back_from_the_legend_leads_to_the_card() -> None:
    async with at((80, 24), AtHome()) as player:
        screen = await opened(player)
        await player.press("l")
        assert "is a tile that you lack" in text_of(player.app)
        await player.press("escape")
        assert player.app.screen is screen
        assert "is a tile that you lack" not in text_of(player.app)
        await player.press("escape")
        assert player.app.screen is not screen


async def test_what_is_wrong_with_an_own_card_is_told_with_its_place() -> None:
    async with at((80, 24), AtHome()) as player:
        await opened(player)
        await player.press("left")
        shown = text_of(player.app)
        assert "section Oars, hand oars-1, column" in shown


async def test_a_search_takes_the_letters_that_else_leave_the_screen() -> None:
    async with at((80, 24), AtHome()) as player:
        screen = await opened(player)
        await player.press("w", *"quint", "enter")
        assert player.app.screen is screen
        found = screen.found()
        assert found is not None
        assert found.pane.marked is not None
        assert "^5" in found.pane.marked.groups
        await player.press("q")
        assert player.app.screen is not screen


async def test_faults_scroll_and_the_last_one_can_be_read(own_folder: Path) -> None:
    hands = "".join(f'"F^4 n.p^3 n+{number}.p^9",' for number in range(9, 37))
    text = f'[card]\ntitle = "Boathouse"\nyear = 2026\n[[section]]\nname = "Oars"\nhand = [{hands}]\n'
    (own_folder / "cards" / "boathouse.toml").write_text(text, "utf-8")
    async with at((80, 24), AtHome()) as player:
        await opened(player)
        await player.press("left")
        assert "hand #28" not in text_of(player.app)
        assert "20 below" in text_of(player.app)
        await player.press(*["down"] * 27)
        shown = text_of(player.app)
        assert "27 above" in shown
        assert "hand #28" in shown
        await player.press("up")
        assert "hand #27" in text_of(player.app)

"""The rules and the glossary: one key from the help of any screen, as the table plays, and all of it can be read."""

import pytest

from client.reports.rules import GLOSSARY, rules_of
from client.tui.ports import AtClock, AtHome, AtHost
from client.tui.screens.base import BaseScreen
from client.tui.screens.drills import DrillScreen
from client.tui.screens.help import HelpScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.real_tiles import RealTilesScreen
from client.tui.screens.rules import RulesScreen, WordsScreen
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import Player, at

OWN = Settings(seed=7, level_ms=90_000, jokers=0, second="never", blind=False, courtesy=False, incoming="wall")


def rows(player: Player) -> list[str]:
    return [line.strip(" ▴▾") for line in text_of(player.app).splitlines()[1:-1]]


async def read_through(player: Player, key: str) -> list[str]:
    """Return all rows of a page, from the first on, as it is scrolled."""
    read = rows(player)
    while True:
        before = rows(player)
        await player.press(key)
        if rows(player) == before:
            return read
        read += rows(player)


@sized
async def test_the_rules_and_the_words(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter", "question_mark", "r")
        check_frozen(player.app, "rules")
        await player.press("w", *"gap")
        check_frozen(player.app, "words-found")
        await player.press("backspace", "backspace", "backspace")
        check_frozen(player.app, "words")


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("key", ["down", "space", "pagedown"])
async def test_every_sentence_of_the_rules_can_be_read(size: tuple[int, int], key: str) -> None:
    async with at(size, settings=OWN) as player:
        await player.press("enter", "question_mark", "r")
        text = " ".join(await read_through(player, key))
        for section in rules_of(OWN):
            assert section.title in text
            for line in section.lines:
                assert all(word in text for word in line.split()), line


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_every_word_of_the_glossary_can_be_read(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        await player.press("question_mark", "w")
        text = " ".join(await read_through(player, "pagedown"))
        for word, means in GLOSSARY.items():
            assert word in text
            assert all(part in text for part in means.split()), word


async def test_a_table_shows_its_own_rules_and_q_leads_back_to_it() -> None:
    async with at((80, 40), settings=OWN) as player:
        await player.press("enter")
        table = player.app.screen
        assert isinstance(table, TableScreen)
        await player.press("question_mark")
        assert "r rules" in text_of(player.app)
        await player.press("r")
        shown = " ".join(text_of(player.app).split())
        assert "as this table plays" in shown
        assert "0:46.8 at most" in shown, "steps that are not played take no time"
        assert "This table plays no second Charleston." in shown
        await player.press("q")
        assert player.app.screen is table


async def test_the_rules_of_a_set_up_are_those_that_the_form_shows() -> None:
    async with at((80, 40), AtHost(OWN)) as player:
        screen = player.app.screen
        assert isinstance(screen, HostScreen)
        screen.form = screen.form.moved(screen.form.place_of("jokers")).changed(1)
        assert screen.form.settings.jokers == 8
        await player.press("f1", "r")
        assert "8 jokers" in text_of(player.app)
        assert "no second Charleston" in text_of(player.app)


async def test_the_clock_for_real_tiles_shows_its_own_rules() -> None:
    async with at((80, 40), AtClock(OWN)) as player:
        assert isinstance(player.app.screen, RealTilesScreen)
        await player.press("question_mark", "r")
        assert "0:46.8 at most" in text_of(player.app)


@pytest.mark.parametrize("screen", [None, DrillScreen()])
async def test_without_a_table_the_usual_settings_are_told(screen: BaseScreen | None) -> None:
    async with at((80, 40), AtHome()) as player:
        if screen is not None:
            player.app.push_screen(screen)
            await player.settle()
        below = player.app.screen
        await player.press("question_mark", "r")
        assert isinstance(player.app.screen, RulesScreen)
        assert "with the usual settings" in text_of(player.app)
        await player.press("escape")
        assert player.app.screen is below


async def test_words_are_found_while_they_are_typed_and_nothing_else_happens() -> None:
    async with at((80, 24), AtHome()) as player:
        await player.press("question_mark", "w")
        screen = player.app.screen
        assert isinstance(screen, WordsScreen)
        await player.press(*"white dra")
        assert next(row.split()[0] for row in rows(player) if row) == "soap"
        assert "find: white dra_   1 entry" in text_of(player.app)
        await player.press(*"q?w")
        assert player.app.screen is screen
        assert "No entry holds these letters" in text_of(player.app)
        await player.press("f1")
        assert isinstance(player.app.screen, HelpScreen)
        await player.press("x", "escape")
        assert player.app.screen is not screen


async def test_the_mouse_scrolls_and_turns_pages() -> None:
    async with at((60, 20), settings=OWN) as player:
        await player.press("enter", "question_mark", "r")
        top = rows(player)
        screen = player.app.screen
        assert isinstance(screen, RulesScreen)
        await player.pilot.click(screen.paper, offset=(58, screen.paper.size.height - 1))
        await player.settle()
        below = rows(player)
        assert below != top
        await player.pilot.click(screen.paper, offset=(58, 0))
        await player.settle()
        assert rows(player) == top

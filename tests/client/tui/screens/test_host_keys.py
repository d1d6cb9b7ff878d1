"""What the host does from the table: settings between heats, and what everybody is told of it."""

import pytest

from client.plain.sentences import changes
from client.tui.screens.end import HeatEndScreen
from client.tui.screens.host import TableSettingsScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from shared.rules.intents import ChangeSettings
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.player import at

QUICK = Settings(seed=7, bot_pace="quick", bot_skill="simple", hints="none")
SIZES = [(80, 24), (120, 40)]
CHANGED = "Changed: Clock: 2:50, was 3:00."


@pytest.mark.parametrize("size", SIZES)
async def test_the_host_changes_the_clock_between_heats_and_everybody_reads_it(size: tuple[int, int]) -> None:
    async with at(size, settings=QUICK) as player:
        assert "F8 settings" in text_of(player.app)
        await player.press("enter")
        await player.play_to("over")
        assert isinstance(player.app.screen, HeatEndScreen)
        assert "F8 settings" in text_of(player.app)
        await player.press("f8")
        assert isinstance(player.app.screen, TableSettingsScreen)
        await player.press("left", "f5")
        assert isinstance(player.app.screen, HeatEndScreen)
        assert CHANGED in text_of(player.app)
        assert player.line.table.record.settings == QUICK.model_copy(update={"level_ms": 170_000})
        await player.press("enter")
        assert isinstance(player.app.screen, TableScreen)
        assert "Clock: 2:50, was 3:00" in text_of(player.app), "said again at the first step"
        assert player.line.heat().route[0].length_ms == player.line.table.record.settings.length_ms("first right")


async def test_what_is_changed_before_the_first_heat_is_told_against_what_was_there() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("f8", "left", "f5")
        assert isinstance(player.app.screen, SeatsScreen)
        assert CHANGED in text_of(player.app)
        await player.press("f8", "right", "f5")
        assert "Changed:" not in text_of(player.app)


async def test_a_running_heat_keeps_its_settings_and_says_so() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("enter", "f8")
        assert isinstance(player.app.screen, TableScreen)
        assert "Settings change between heats; this heat goes on as it began." in text_of(player.app)


async def test_the_form_without_a_change_asks_nothing_and_the_way_back_changes_nothing() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("f8", "f5", "f8", "left", "escape")
        assert isinstance(player.app.screen, SeatsScreen)
        assert not any(isinstance(intent, ChangeSettings) for intent in player.line.asked)
        assert player.line.table.record.settings == QUICK


async def test_plain_lines_tell_the_same_words() -> None:
    async with at((80, 24), settings=QUICK) as player:
        before = player.line.table.view(1, 0)
        await player.press("f8", "left", "f5")
        assert CHANGED in changes(before, player.line.table.view(1, 0), ())

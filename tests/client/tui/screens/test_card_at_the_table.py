"""The card while a heat runs: it never moves a tile, and it never knows one."""

from typing import Literal

import pytest

from client.tui.screens.table import TableScreen
from client.tui.widgets.pane import Pane
from shared.rules.intents import Lift, Pass, Plan
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.player import Player, at
from tests.client.tui.screens.test_whole_heat import click

Hints = Literal["none", "at the end", "after each pass"]


def pane_text(player: Player) -> list[str]:
    wide = player.app.screen.has_class("-wide")
    pane = player.app.screen.query_one("#beside" if wide else "#over", Pane)
    canvas = pane.canvas()
    return ["".join(segment.text for segment in canvas.strip(y)) for y in range(canvas.height)]


async def test_typing_in_a_search_lifts_and_passes_nothing() -> None:
    async with at((80, 24)) as player:
        await player.press("enter", "w", *"abcdefgh", "1", "enter")
        assert player.model.rack.lifted == ()
        assert not any(isinstance(asked, Lift | Pass) for asked in player.line.asked)
        await player.press("w", *"kong", "enter", player.free()[0])
        assert len(player.model.rack.lifted) == 1
        assert player.model.pane.pinned


async def test_the_card_is_the_same_whatever_rack_one_holds() -> None:
    for size in ((80, 24), (120, 40)):
        shown = set()
        for seed in (1, 2, 3):
            async with at(size, settings=Settings(seed=seed, hints="none")) as player:
                await player.press("enter")
                racks = player.model.rack.tiles
                await player.press("f2", "z", "w", *"pung", "escape", "down", "r")
                shown.add(tuple(pane_text(player)))
                assert len(racks) == 14
        assert len(shown) == 1


async def test_tiles_can_be_passed_while_the_card_is_open() -> None:
    async with at((80, 24)) as player:
        await player.press("enter", "v")
        await player.press(*player.free()[:3], "enter")
        assert isinstance(player.line.asked[-1], Pass)
        assert isinstance(player.app.screen, TableScreen)
        assert "0:4" in text_of(player.app).splitlines()[0], "the clock stays in sight"


async def test_escape_ends_a_search_first_and_then_puts_the_card_away() -> None:
    async with at((80, 24)) as player:
        await player.press("enter", "w", *"kong", "escape")
        assert player.app.screen.has_class("open")
        await player.press("escape")
        assert not player.app.screen.has_class("open")


async def test_the_pinned_hand_stays_below_the_rack_until_the_next_heat() -> None:
    async with at((80, 24)) as player:
        await player.press("enter", "v", "r", "v")
        told = player.model.pane.told_pinned
        assert told is not None
        line = text_of(player.app).splitlines()[-2]
        assert told.name in line
        assert told.tiles in line
        await player.play_to("the end")
        await player.press("enter")
        assert player.model.pane.pinned == ""


@pytest.mark.parametrize("hints", ["none", "at the end", "after each pass"])
async def test_the_pinned_hand_stands_against_the_rack_only_where_hints_are_given_during_the_heat(hints: Hints) -> None:
    async with at((80, 24), settings=Settings(seed=7, hints=hints)) as player:
        await player.press("enter", "v", "r", "v")
        told, heat = player.model.pane.told_pinned, player.model.heat
        assert told is not None
        assert heat is not None
        drawn = told.nearest(heat.rack)
        line = text_of(player.app).splitlines()[-2]
        assert drawn.picture.text() != told.tiles
        assert (drawn.picture.text() in line) == (hints == "after each pass")
        assert (f"{drawn.away} to go" in line) == (hints == "after each pass")
        assert (told.tiles in line) == (hints != "after each pass")


async def test_the_hand_named_in_the_plan_is_the_one_from_the_card() -> None:
    async with at((80, 24), settings=Settings(seed=7, plan=True)) as player:
        await player.press("enter")
        await player.play_to("plan")
        await click(player, "hand 2")
        await player.press(player.free()[0], "enter")
        plan = player.line.asked[-1]
        assert isinstance(plan, Plan)
        assert plan.hand == player.model.pane.hands[2].id
        assert len(plan.discards) == 1


async def test_sections_and_hands_can_be_clicked_beside_the_table() -> None:
    async with at((120, 40)) as player:
        await player.press("enter")
        await click(player, "section 3")
        assert player.model.pane.section == player.model.pane.sections[3].name
        await click(player, f"hand {player.model.pane.at + 1}")
        pinned = player.model.pane.told_pinned
        assert pinned
        assert pinned.hand == player.model.pane.marked

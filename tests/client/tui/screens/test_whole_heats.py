"""Drills from the screens: laid, played, marked as such in the history, and a saved heat played again from a step."""

import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from client.connection.opened import Opened
from client.storage.files import data_folder
from client.storage.history_db import HistoryEntry, Read, Source
from client.storage.journal import Added, Journal
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.ports import AtHome
from client.tui.screens.review import ReviewScreen
from client.tui.screens.table import TableScreen
from client.tui.screens.whole_heats import WholeHeatsScreen
from shared.rules.drills import Laid
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.intents import Ready
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import Player, at
from tests.client.tables import TableLine

WHOLE = ("d", "up", "up", "up", "enter")
"""From home to the whole heats."""


def with_drills(player: Player) -> list[Laid]:
    """Let the app open a table of drills in the player's time; return what is laid there."""
    opened: list[Laid] = []

    @asynccontextmanager
    async def opening(laid: tuple[Laid, ...]) -> AsyncIterator[Opened]:
        opened.extend(laid)
        player.line = TableLine(laid[0].settings, player.line.now_ms, "Anna", "Drill", laid)
        player.line.ask(Ready(), 0)
        yield Opened(player.line)

    app: RacktempoApp = player.app
    app.openers = replace(app.openers, drill=lambda laid, name, card: opening(laid))
    return opened


@sized
async def test_the_whole_heats_from_home(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        await player.press(*WHOLE)
        check_frozen(player.app, "whole-heats")


@pytest.mark.parametrize("downs", [0, 1, 2])
async def test_a_tempting_deal_is_played_and_marked(downs: int) -> None:
    kept: list[tuple[SeatHeat, Source, str]] = []

    def add(heat: SeatHeat, source: Source, detail: str, first: int) -> Added:
        kept.append((heat, source, detail))
        return Added(is_new=True)

    async with at((80, 24), AtHome(), journal=Journal(add=add)) as player:
        opened = with_drills(player)
        await player.press(*WHOLE, "left", *["down"] * downs, "enter")
        await player.until(lambda: isinstance(player.app.screen, TableScreen))
        assert opened[0].what in text_of(player.app).splitlines()[0]
        assert opened[0].settings.level_ms == 120_000
        await player.play_to("the end")
        await player.until(lambda: kept)
        ((heat, source, detail),) = kept
        assert (source, detail) == ("drill", opened[0].what)
        assert heat.commitment == ""
        await player.until(lambda: re.search(r"Your decisions lost \d+\.\d points", text_of(player.app)))


async def test_with_nothing_to_drill_the_screen_says_so() -> None:
    async with at((80, 24), AtHome()) as player:
        with_drills(player)
        await player.press(*WHOLE, "up", "up", "enter")
        await player.until(lambda: "No measurable mistakes yet." in text_of(player.app))
        assert isinstance(player.app.screen, WholeHeatsScreen)


async def played_heat() -> tuple[SeatHeat, SavedHeat]:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own and player.model.whole)
        return player.model.own[1], HEAT.unpack(HEAT.pack(player.model.whole[1]))


async def test_a_saved_heat_is_played_again_from_any_step_of_its_review() -> None:
    own, whole = await played_heat()
    look = Look(second_try=False)
    journal = Journal(
        read=lambda: Read((HistoryEntry(1, own),)), add=lambda *_: Added(is_new=True), whole=lambda heat: whole
    )
    async with at((80, 24), AtHome(), look=look, journal=journal) as player:
        opened = with_drills(player)
        await player.press("y", "left", "enter")
        screen = player.app.screen
        assert isinstance(screen, ReviewScreen)
        await player.until(lambda: screen.looking().done == 1)
        await player.press("right", "right", "r")
        await player.until(lambda: isinstance(player.app.screen, TableScreen))
        assert opened[0].what == "replay from first across"
        heat = player.model.heat
        assert heat is not None
        assert heat.step == "first across"
        assert sorted(heat.rack) == sorted(screen.looking().review.steps[1].lived.rack)  # type: ignore[union-attr]
        await player.play_to("the end")
        before = opened[0].lost
        await player.until(lambda: f"; {before:.1f} less before." in text_of(player.app))
        assert "First across again: " in text_of(player.app)


async def test_without_the_other_racks_a_heat_is_not_played_again() -> None:
    own, _ = await played_heat()
    journal = Journal(read=lambda: Read((HistoryEntry(1, own),)))
    async with at((80, 24), AtHome(), look=Look(second_try=False), journal=journal) as player:
        with_drills(player)
        await player.press("y", "left", "enter")
        screen = player.app.screen
        assert isinstance(screen, ReviewScreen)
        await player.until(lambda: screen.looking().done == 1)
        await player.press("right", "r")
        await player.until(lambda: "cannot be played again" in text_of(player.app))


async def test_a_deal_for_real_tiles_shows_the_rack_and_hides_what_comes_in() -> None:
    async with at((80, 24), AtHome()) as player:
        await player.press(*WHOLE, "up", "up", "up", "enter")
        shown = text_of(player.app)
        assert "Take these 14 tiles, and you are East:" in shown
        assert "first right" not in shown
        check_frozen(player.app, "deal-sheet")
        await player.press("space")
        shown = text_of(player.app)
        assert "first right" in shown
        check_frozen(player.app, "deal-sheet-open")
        await player.press("s")
        await player.until(lambda: "Written to " in text_of(player.app))
        (file,) = (data_folder() / "deals").iterdir()
        assert "fold here" in file.read_text()
        assert "Lay face down, in this order:" in file.read_text()


async def test_a_tempting_deal_can_be_laid_out_with_real_tiles() -> None:
    async with at((80, 24), AtHome()) as player:
        await player.press(*WHOLE, "t")
        await player.until(lambda: "Take these 14 tiles" in text_of(player.app))
        assert "On paper: racktempo deal rival --real --seed 0" in text_of(player.app)

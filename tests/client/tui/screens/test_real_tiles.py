"""The clock for real tiles on the screen: what the room reads, what each key does, and which heats are kept."""

import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from textual.pilot import Pilot

from client.models.real_tiles import MINE
from client.storage.journal import Journal, disk_journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.screens.ask import AskScreen
from client.tui.screens.real_tiles import RealTilesScreen
from shared.clock.real_clock import RealHeat
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.tables import TableLine, Time, openers_to

TWO_MINUTES = Settings(level_ms=120_000, heats=2)


@dataclass
class Room:
    """People at a table with tiles, and the screen beside them."""

    app: RacktempoApp
    pilot: Pilot[None]
    time: Time
    screen: RealTilesScreen
    kept: list[RealHeat] = field(default_factory=list)
    trouble: str = ""

    def keep(self, heat: RealHeat) -> str:
        if not self.trouble:
            self.kept.append(heat)
        return self.trouble

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.pilot.press(key)
            await self.app._keeping.done()
        await self.pilot.pause()

    async def found(self) -> None:
        """Wait until a set that was cut off was looked for."""
        await self.app.workers.wait_for_complete(list(self.screen.workers))
        await self.pilot.pause()

    async def after(self, seconds: float, *keys: str) -> None:
        """Let time pass, then press."""
        self.time.ms += round(seconds * 1000)
        self.screen.tick()
        await self.press(*keys)

    async def play_heat(self) -> None:
        await self.press("enter")
        for _ in range(9):
            await self.after(10, "space")


@asynccontextmanager
async def real_tiles_at(
    size: tuple[int, int],
    settings: Settings = TWO_MINUTES,
    look: Look | None = None,
    journal: Journal | None = None,
) -> AsyncIterator[Room]:
    now_ms = Time()
    storage = Storage(load_look=lambda: look or Look(), load_whose=lambda: MINE)
    app = RacktempoApp(openers_to(TableLine(settings, now_ms)), now_ms=now_ms, storage=storage, journal=journal)
    async with app.run_test(size=size) as pilot:
        set_id = secrets.token_hex(8)
        keep = journal.real_tiles(settings, set_id) if journal else lambda heat: room.keep(heat)
        screen = RealTilesScreen(settings, keep, lambda: "2030-01-01T20:00:00Z", set_id)
        room = Room(app, pilot, now_ms, screen)
        app.push_screen(screen)
        await pilot.pause()
        yield room


@sized
async def test_the_room_reads_the_step_its_arrow_and_both_clocks(size: tuple[int, int]) -> None:
    async with real_tiles_at(size) as room:
        check_frozen(room.app, "real-tiles-ready")
        await room.press("enter")
        await room.after(12.3)
        await room.press()
        check_frozen(room.app, "real-tiles-right")
        await room.press("space")
        await room.after(40)
        await room.press()
        check_frozen(room.app, "real-tiles-late")
        await room.press("space", "space")
        check_frozen(room.app, "real-tiles-go-on")
        await room.press("p")
        check_frozen(room.app, "real-tiles-paused")
        await room.press("p", *["space"] * 6)
        await room.after(65)
        await room.press()
        check_frozen(room.app, "real-tiles-set-up")


@sized
async def test_a_set_that_is_over_shows_its_heats(size: tuple[int, int]) -> None:
    async with real_tiles_at(size) as room:
        await room.play_heat()
        await room.play_heat()
        check_frozen(room.app, "real-tiles-over")


async def test_ascii_alone_is_enough() -> None:
    async with real_tiles_at((80, 24), look=Look(ascii=True)) as room:
        await room.press("enter", "space")
        shown = text_of(room.app)
        assert shown.isascii()
        check_frozen(room.app, "real-tiles-ascii")


@pytest.mark.parametrize("size", [(60, 20), (40, 18), (200, 60)])
async def test_other_sizes_are_served_as_well(size: tuple[int, int]) -> None:
    async with real_tiles_at(size) as room:
        await room.press("enter", "space")
        assert "█" in text_of(room.app)
        assert "whole heat" in text_of(room.app)


async def test_a_heat_is_kept_once_the_next_one_begins_and_the_last_one_on_leaving() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.play_heat()
        assert room.kept == []
        await room.after(30, "enter")
        assert [heat.number for heat in room.kept] == [1]
        for _ in range(9):
            await room.after(10, "space")
        await room.press("q")
        assert [(heat.number, heat.total_ms, heat.setup_ms) for heat in room.kept] == [
            (1, 90_000, None),
            (2, 90_000, 30_000),
        ]
        assert room.app.screen is not room.screen


async def test_whoever_ends_the_program_keeps_the_heats_that_are_over() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.play_heat()
    assert [heat.number for heat in room.kept] == [1]


async def test_a_running_heat_is_left_only_after_a_second_q() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.press("enter", "q")
        assert room.app.screen is room.screen
        assert "Leave with q again" in text_of(room.app)
        await room.press("space", "q")
        assert room.app.screen is room.screen
        await room.press("q")
        assert room.app.screen is not room.screen
        assert room.kept == []


async def test_space_twice_at_the_end_of_a_heat_does_not_begin_the_next_one() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.play_heat()
        await room.press("space", "space")
        assert room.screen.face().phase == "set-up"


async def test_a_step_taken_back_runs_on_as_if_it_had_not_been_done() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.press("enter")
        await room.after(5, "space")
        await room.after(5, "u")
        face = room.screen.face()
        assert (face.step, face.left_ms) == ("first right", 18_800)


async def test_a_heat_that_cannot_be_kept_says_why_and_is_tried_again() -> None:
    async with real_tiles_at((80, 24)) as room:
        room.trouble = "The disk is full."
        await room.play_heat()
        await room.press("enter")
        assert "The disk is full." in text_of(room.app)
        room.trouble = ""
        await room.press("space")
        assert [heat.number for heat in room.kept] == [1]


async def test_the_bell_rings_once_when_the_time_of_a_step_is_up(monkeypatch: pytest.MonkeyPatch) -> None:
    rung: list[int] = []
    async with real_tiles_at((80, 24), look=Look(bell=True)) as room:
        monkeypatch.setattr(room.app, "bell", lambda: rung.append(room.time.ms))
        begun_ms = room.time.ms
        await room.press("enter")
        for _ in range(400):
            room.time.ms += 100
            room.screen.tick()
        assert rung == [begun_ms + 28_800]


async def test_home_leads_to_the_clock_at_the_chosen_level_and_its_heats_are_kept() -> None:
    kept: list[RealHeat] = []
    asked: list[Settings] = []

    def real_tiles(settings: Settings, set_id: str) -> Callable[[RealHeat], str]:
        asked.append(settings)
        return lambda heat: (kept.append(heat), "")[1]

    now_ms = Time()
    app = RacktempoApp(
        openers_to(TableLine(TWO_MINUTES, now_ms)), now_ms=now_ms, journal=Journal(real_tiles=real_tiles)
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("left", "t")
        assert isinstance(app.screen, RealTilesScreen)
        assert asked[0].level_ms == 120_000
        await pilot.press("1", "enter", *["space"] * 9, "q")
        assert len(kept) == 1


async def test_the_coach_can_be_asked_while_the_clock_runs_on() -> None:
    async with real_tiles_at((80, 24)) as room:
        await room.press("enter", "t")
        assert isinstance(room.app.screen, AskScreen)
        await room.after(12)
        await room.press("escape")
        assert room.screen.face().left_ms == TWO_MINUTES.length_ms("first right") - 12_000


@pytest.mark.parametrize("presses", [["enter", "space"], ["enter", *["space"] * 9], ["enter", "space", "p"]])
async def test_a_set_that_was_killed_is_gone_on_with_its_clock_stopped(tmp_path: Path, presses: list[str]) -> None:
    path = tmp_path / "history.sqlite3"

    async with real_tiles_at((80, 24), journal=disk_journal(path)) as room:
        for key in presses:
            await room.after(11, key)
        await room.after(7)
        await room.press()
        before, whose = room.screen.face(), room.screen.model.set_id
    async with real_tiles_at((80, 24), journal=disk_journal(path)) as room:
        room.time.ms += 77_000_000
        await room.found()
        assert f"A set was cut off in heat {before.heat} of 2: g goes on" in text_of(room.app)
        if before.heat == 1 and not before.paused:
            check_frozen(room.app, "real-tiles-cut-off")
        await room.press("g")
        face = room.screen.face()
        assert face.paused
        assert room.screen.model.set_id == whose
        assert (face.phase, face.heat, face.step) == (before.phase, before.heat, before.step)
        assert face.left_ms == before.left_ms
        await room.after(500, "p")
        assert not room.screen.face().paused
        assert room.screen.face().left_ms == before.left_ms
        await room.press("q", "q")
    async with real_tiles_at((80, 24), journal=disk_journal(path)) as room:
        await room.found()
        assert "cut off" not in text_of(room.app), "who leaves by a key has left"


async def test_a_set_that_goes_on_after_a_kill_is_kept_once(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite3"
    for keys in (["enter", *["space"] * 9, "enter", "space"], ["g", "p", *["space"] * 8]):
        async with real_tiles_at((80, 24), journal=disk_journal(path)) as room:
            await room.found()
            for key in keys:
                await room.after(10, key)
            if keys[0] == "g":
                await room.press("q")
    read = disk_journal(path).read()
    assert sorted(entry.heat.number for entry in read.entries) == [1, 2]

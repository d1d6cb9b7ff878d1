"""The clock knows what lay on the rack: tiles typed in the pauses, kept at once, reviewed as far as they go."""

import signal
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from client.storage.history_db import HistoryEntry
from client.storage.journal import Journal, disk_journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.ports import AtClock
from client.tui.screens.ask import AskScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.real_racks import RacksScreen
from client.tui.screens.real_set import RealSetScreen
from client.tui.screens.real_tiles import RealTilesScreen
from client.tui.screens.review import ReviewScreen
from shared.cards.play import shipped_text
from shared.rules.settings import Settings
from shared.rules.steps import PASSES
from shared.rules.tiles import by_suit
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.here import CoachHere
from tests.client.real_heats import PlayedHeat, played_heat
from tests.client.tables import TableLine, Time, openers_to

ROOT = Path(__file__).parents[4]
THREE = Settings(level_ms=180_000)


@dataclass
class Practitioner:
    """Somebody alone with tiles; journal is the history on the disk."""

    app: RacktempoApp
    pilot: Pilot[None]
    time: Time
    journal: Journal
    keys: int = 0

    async def press(self, *keys: str) -> None:
        self.keys += len(keys)
        await self.pilot.press(*keys)
        await self.settle()

    async def type(self, text: str) -> None:
        await self.press(*("space" if character == " " else character for character in text))

    async def settle(self) -> None:
        for _ in range(3):
            await self.app._keeping.done()
            await self.pilot.pause()

    async def until(self, holds: Callable[[], object]) -> None:
        ends_at = time.monotonic() + 300
        while not holds():
            assert time.monotonic() < ends_at, "it never came about"
            await self.pilot.pause(0.02)
        await self.settle()

    async def ready_to_type(self) -> RacksScreen:
        await self.until(lambda: isinstance(self.app.screen, RacksScreen) and self.app.screen._is_ready)
        assert isinstance(self.app.screen, RacksScreen)
        return self.app.screen

    async def play(self, seconds: float = 10, declines: bool = True) -> None:
        """Press through a heat; the courtesy is declined, as one alone does."""
        await self.press("enter")
        screen = self.app.screen
        assert isinstance(screen, RealTilesScreen)
        while step := screen.face().step:
            self.time.ms += round(seconds * 1000)
            await self.press("0" if step == "courtesy offer" and declines else "space")

    async def type_deal(self, heat: PlayedHeat) -> None:
        await self.press("t")
        await self.ready_to_type()
        await self.type(next(heat.typed()))
        await self.press("enter")

    async def type_passes(self, heat: PlayedHeat) -> None:
        await self.press("t")
        await self.ready_to_type()
        for line in list(heat.typed())[1:]:
            await self.type(line)
            await self.press("enter")

    def shown(self) -> str:
        return text_of(self.app)

    def entries(self) -> tuple[HistoryEntry, ...]:
        return self.journal.read().entries


@asynccontextmanager
async def alone_at(
    path: Path,
    settings: Settings = THREE,
    size: tuple[int, int] = (80, 24),
    whose: str = "yours alone",
    look: Look | None = None,
) -> AsyncIterator[Practitioner]:
    now_ms, kept = Time(), {"whose": whose}
    journal = disk_journal(path / "history.sqlite3", path)
    storage = Storage(
        load_look=lambda: look or Look(),
        load_whose=lambda: kept["whose"],
        save_whose=lambda said: kept.update(whose=said),
    )
    app = RacktempoApp(
        openers_to(TableLine(settings, now_ms)),
        AtClock(settings),
        now_ms=now_ms,
        storage=storage,
        journal=journal,
        coach=CoachHere(),
        stamp=lambda: "2030-01-01T20:00:00Z",
    )
    async with app.run_test(size=size) as pilot:
        person = Practitioner(app, pilot, now_ms, journal)
        await person.settle()
        yield person


async def test_three_heats_with_racks_typed_in_the_pauses_end_in_a_review_of_all_three(tmp_path: Path) -> None:
    """The practitioner's evening: 14, 13 and 14 tiles at 3:00, then a heat at 2:00, and nothing but keys."""
    heats = [played_heat(seed, tiles) for seed, tiles in ((1, 14), (2, 13), (3, 14))]
    async with alone_at(tmp_path, whose="") as person:
        await person.press("enter")
        assert "First say whose times these are" in person.shown()
        await person.press("1")
        for number, heat in enumerate(heats):
            if number:
                await person.press("t")
                await person.ready_to_type()
                assert f"heat {number + 1}" in person.shown()
                await person.type(next(heat.typed()))
                await person.press("enter")
            else:
                await person.type_deal(heat)
            assert isinstance(person.app.screen, RealTilesScreen), "enter leads back to the clock"
            await person.play(seconds=15)
            before = person.keys
            await person.type_passes(heat)
            assert person.keys - before < 110
            assert "All of it is there" in person.shown() or number < 2
            if isinstance(person.app.screen, RacksScreen):
                await person.press("escape")
        face = person.app.screen
        assert isinstance(face, RealTilesScreen)
        assert face.face().phase == "over"
        await person.press("r")
        screen = person.app.screen
        assert isinstance(screen, RealSetScreen)
        await person.until(
            lambda: len(screen.seen) == 3 and all(one.looking and one.looking.done == 1 for one in screen.seen)
        )
        shown = person.shown()
        assert shown.count("dealt ") == 3
        assert shown.count("nearest ") == 3
        assert shown.count("to go") >= 3
        assert "14 tiles" in shown
        assert "13 tiles" in shown
        check_frozen(person.app, "real-set")
        await person.press("down", "enter")
        assert isinstance(person.app.screen, ReviewScreen)
        assert "Review: heat 2, you, north" in person.shown()
        await person.press("q", "q", "q")
        assert isinstance(person.app.screen, HomeScreen)
        entries = person.entries()
        assert [(entry.source, len(entry.heat.dealt)) for entry in entries] == [
            ("real tiles", 14),
            ("real tiles", 13),
            ("real tiles", 14),
        ]
        for entry, heat in zip(entries, heats, strict=True):
            assert by_suit(entry.heat.final) == by_suit(heat.final)
            assert all(step.spent_ms == 15_000 for step in entry.heat.steps)
            assert set(entry.losses) >= set(PASSES), "the review was kept"
        await person.press("left", "t")
        screen_at_two = person.app.screen
        assert isinstance(screen_at_two, RealTilesScreen)
        assert screen_at_two.table_settings.level_ms == 120_000
        await person.play(seconds=10)
        await person.press("q")
        assert len(person.entries()) == 4


async def test_the_deal_alone_gives_strength_and_the_first_pass(tmp_path: Path) -> None:
    heat = played_heat(4, 14)
    async with alone_at(tmp_path) as person:
        await person.type_deal(heat)
        await person.play()
        await person.press("t")
        await person.ready_to_type()
        assert "F2: how strong the deal is, and the first pass." in person.shown()
        await person.press("f2")
        screen = person.app.screen
        assert isinstance(screen, AskScreen)
        await person.until(lambda: screen.model.answer)
        assert screen.model.rack.tiles == by_suit(heat.dealt)
        assert "Pass " in person.shown()
        assert "in 100" in person.shown()


async def test_some_passes_are_reviewed_as_far_as_they_go_and_are_not_kept_as_a_whole_heat(tmp_path: Path) -> None:
    heat = played_heat(5, 14)
    async with alone_at(tmp_path) as person:
        await person.type_deal(heat)
        await person.play()
        await person.press("t")
        await person.ready_to_type()
        for line in list(heat.typed())[1:5]:
            await person.type(line)
            await person.press("enter")
        assert "F2 reviews the first 2 passes" in person.shown()
        await person.press("f2")
        screen = person.app.screen
        assert isinstance(screen, ReviewScreen)
        await person.until(lambda: screen.looking().done == 1)
        review = screen.looking().review
        assert review
        assert [step.lived.step.step for step in review.steps] == ["first right", "first across"]
        assert all(step.verdict for step in review.steps)
        assert review.ledger is None
        assert review.end is None
        assert "Judged as far as the tiles are known." in person.shown()
        assert "page 1 of 3" in person.shown(), "no last rack is known, so there is no page of the end"
        (entry,) = person.entries()
        assert entry.heat.dealt == ()
        assert not entry.losses


async def test_the_last_rack_alone_gives_the_hand_and_the_first_discard(tmp_path: Path) -> None:
    heat = played_heat(6, 14)
    async with alone_at(tmp_path) as person:
        await person.play()
        await person.press("t")
        screen = await person.ready_to_type()
        await person.press(*["enter"] * (len(screen.model.heat.lines) - 1))
        assert screen.model.line == "final"
        await person.type("".join(by_suit(heat.final)))
        await person.press("f2")
        asked = person.app.screen
        assert isinstance(asked, AskScreen)
        await person.until(lambda: asked.model.answer)
        assert asked.model.question == "discard"
        assert "Discard " in person.shown()


@pytest.mark.parametrize(
    ("deal", "passes", "said"),
    [
        ("112b", (), "A rack has 13 tiles, or 14 for the dealer; these are 3."),
        ("22222b 3456789c NE", (), "There are 5 of 2 bam, but the set holds 4."),
        ("1123b 567c 9d NEE FF J", ("J12b",), "A joker is never passed."),
        ("1123b 567c 9d NEE FF J", ("12b8d",), "There was no 8 dot on your rack then."),
        ("1123b 567c 9d NEE FF J", ("12b",), "Three tiles go at first right; these are 2."),
        ("1123b 567c 9d NEE FF J", ("12b9d", "4b"), "As many tiles come as go; 3 went, and these are 1."),
        ("1123b 567c 9d NEE FF J", ("12b9d", "4bJ5b"), "A joker is never passed, so none comes."),
        ("1123b 567c 9d NEE FF J", ("12b9d", "EEE"), "With these the rack holds 5 of east: too many."),
        ("1123b 567c 9d NEE FF J", ("12b9q",), "At 4: 9q is no tile"),
    ],
)
async def test_a_line_that_cannot_be_right_says_why_and_keeps_its_text(
    tmp_path: Path, deal: str, passes: tuple[str, ...], said: str
) -> None:
    async with alone_at(tmp_path) as person:
        await person.play()
        await person.press("t")
        screen = await person.ready_to_type()
        for line in (deal, *passes):
            await person.type(line)
            await person.press("enter")
        assert said in person.shown()
        typed = [deal, *passes]
        assert [screen.model.lines[line] for line in screen.model.heat.lines[: len(typed)]] == typed
        (kept,) = person.journal.racks().values()
        assert [kept[line] for line in screen.model.heat.lines[: len(typed)]] == typed
        await person.until(person.entries)  # the heat is kept beside the event loop
        assert person.entries()[0].heat.dealt == ()


async def test_the_tables_times_enter_nobodys_history_whatever_is_typed_and_reviewed(tmp_path: Path) -> None:
    heat = played_heat(7, 14)
    async with alone_at(tmp_path, settings=THREE.model_copy(update={"heats": 1})) as person:
        await person.press("4")
        await person.type_deal(heat)
        await person.play()
        await person.type_passes(heat)
        await person.press("f2")
        screen = person.app.screen
        assert isinstance(screen, ReviewScreen)
        await person.until(lambda: screen.looking().done == 1)
        await person.press("q", "escape", "r")
        await person.settle()
        await person.press("q", "q")
        assert isinstance(person.app.screen, HomeScreen)
        assert person.entries() == ()


async def test_a_rack_typed_later_from_the_history_makes_the_heat_whole(tmp_path: Path) -> None:
    heat = played_heat(8, 14)
    async with alone_at(tmp_path) as person:
        await person.play()
        await person.press("q", "y")
        await person.press("left", "enter")
        await person.ready_to_type()
        for line in heat.typed():
            await person.type(line)
            await person.press("enter")
        assert "All of it is there: F2 reviews the heat." in person.shown()
        (entry,) = person.entries()
        assert by_suit(entry.heat.final) == by_suit(heat.final)


@sized
async def test_the_lines_and_the_rack_stand_side_by_side(tmp_path: Path, size: tuple[int, int]) -> None:
    heat = played_heat(9, 14)
    async with alone_at(tmp_path, size=size) as person:
        await person.type_deal(heat)
        await person.play()
        await person.press("t")
        await person.ready_to_type()
        for line in list(heat.typed())[1:6]:
            await person.type(line)
            await person.press("enter")
        await person.type("9d")
        check_frozen(person.app, "real-racks")


async def test_ascii_alone_is_enough(tmp_path: Path) -> None:
    async with alone_at(tmp_path, look=Look(ascii=True)) as person:
        await person.type_deal(played_heat(9, 14))
        await person.press("t")
        await person.ready_to_type()
        assert person.shown().isascii()


KILLED = """
import asyncio, os, signal, sys
from pathlib import Path
from tests.client.real_heats import played_heat
from tests.client.tui.screens.test_real_racks import alone_at

async def main():
    async with alone_at(Path(sys.argv[1])) as person:
        heat = played_heat(13, 14)
        await person.type_deal(heat)
        await person.play()
        await person.press("t")
        await person.ready_to_type()
        await person.pilot.press(*"123b", "enter", *"9")
        await person.pilot.pause(1)
        os.kill(os.getpid(), signal.SIGKILL)

asyncio.run(main())
"""


def test_a_kill_in_between_loses_no_typed_rack_and_no_heat(tmp_path: Path) -> None:
    ended = subprocess.run([sys.executable, "-c", KILLED, str(tmp_path)], cwd=ROOT, check=False, timeout=120)
    assert ended.returncode == -signal.SIGKILL
    journal = disk_journal(tmp_path / "history.sqlite3", tmp_path)
    assert list(journal.racks().values()) == [
        {"dealt": next(played_heat(13, 14).typed()), "first right out": "123b", "first right in": "9"}
    ]
    (entry,) = journal.read().entries
    assert len(entry.heat.steps) >= 8


async def test_the_rack_typed_at_the_clock_is_offered_where_racks_are_asked_about(tmp_path: Path) -> None:
    heat = played_heat(14, 14)
    async with alone_at(tmp_path) as person:
        await person.type_deal(heat)
        await person.press("a")
        screen = person.app.screen
        assert isinstance(screen, AskScreen)
        await person.until(lambda: "F4: the rack typed last at the clock, " in person.shown())
        await person.press("f4")
        assert screen.model.rack.tiles == by_suit(heat.dealt)


async def test_a_disk_that_is_full_is_told_and_the_line_stays(tmp_path: Path) -> None:
    async with alone_at(tmp_path) as person:
        person.app.journal = replace(person.journal, keep_racks=lambda clocked, lines: "The disk is full.")
        await person.press("t")
        screen = await person.ready_to_type()
        await person.type("112b")
        assert "The disk is full." in person.shown()
        assert screen.model.lines["dealt"] == "112b"


async def test_keys_that_come_before_the_lines_are_there_are_not_lost(tmp_path: Path) -> None:
    async with alone_at(tmp_path) as person:
        clock = person.app.screen
        assert isinstance(clock, RealTilesScreen)
        heats = clock.model.heats(person.time.ms)
        screen = RacksScreen(heats, shipped_text(), 2026, keeps=True, may_stay=lambda: True)
        person.app.push_screen(screen)
        for key in "112b":
            screen.press(key)
        assert not screen._is_ready
        await person.ready_to_type()
        assert screen.model.lines["dealt"] == "112b"
        assert "112b" in person.shown()

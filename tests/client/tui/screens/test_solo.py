"""Playing alone: the row, the card before a heat, the guided heat, going on, help."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from client.connection.opened import Opened
from client.models.guided import WORDS
from client.models.table import TableModel
from client.storage.preferences import Storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtHome, Openers
from client.tui.screens.home import HomeScreen
from client.tui.screens.start import StartScreen
from client.tui.screens.table import TableScreen
from shared.rules.intents import Extend, Pause, Ready, Resume
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, text_of
from tests.client.here import CoachHere
from tests.client.player import AtScreen
from tests.client.tables import TableLine, Time


class Alone(AtScreen):
    """A person at the home screen, whose tables for one are all the same way in; what was asked for is kept."""

    line: TableLine
    kept: Settings | None
    asked: list[Settings]


@asynccontextmanager
async def alone(
    size: tuple[int, int] = (80, 24), kept: Settings | None = None, waits: str = ""
) -> AsyncIterator[Alone]:
    now_ms = Time()

    def solo(settings: Settings, name: str, card: str):  # type: ignore[no-untyped-def]
        person.asked.append(settings)
        person.line = TableLine(settings.model_copy(update={"seed": 7}), now_ms, name, "Practice", card=card)

        @asynccontextmanager
        async def opening() -> AsyncIterator[Opened]:
            yield Opened(person.line, alone=True)

        return opening()

    def save(settings: Settings) -> None:
        person.kept = settings

    openers = Openers(
        solo,
        lambda *_: solo(Settings(), "", ""),
        lambda *_: solo(Settings(), "", ""),
        unkept=solo,
        waiting=lambda: waits,
        go_on=lambda: solo(Settings(heats=2), "Anna", ""),
    )
    storage = replace(Storage(), load_solo=lambda: person.kept, save_solo=save)
    app = RacktempoApp(
        openers, AtHome(), name="Anna", now_ms=now_ms, random_bytes=bytes, storage=storage, coach=CoachHere()
    )
    async with app.run_test(size=size) as pilot:
        person = Alone(app, pilot)
        person.kept, person.asked = kept, []
        await person.settle()
        yield person


SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])


@SIZES
async def test_the_row_the_card_and_the_first_step_of_the_guided_heat(size: tuple[int, int]) -> None:
    async with alone(size) as person:
        await person.press("p")
        check_frozen(person.app, "solo")
        await person.press("g")
        check_frozen(person.app, "start-guided")
        await person.press("enter")
        check_frozen(person.app, "guided-first")


async def test_a_guided_heat_asks_for_more_time_before_its_hidden_clock_runs_out() -> None:
    async with alone() as person:
        await person.press("p", "g", "enter")
        person.line.pass_time(530_000)
        assert isinstance(person.app.screen, TableScreen)
        person.app.screen.tick()
        assert not [intent for intent in person.line.asked if isinstance(intent, Extend)]
        person.line.pass_time(15_000)
        person.app.screen.tick()
        assert Extend(by_ms=600_000) in person.line.asked


async def test_what_the_row_chooses_is_played_by_and_remembered() -> None:
    async with alone() as person:
        await person.press("p", "right", "right", "up", "left", "left", "down", "enter")
        (asked,) = person.asked
        assert (asked.level_ms, asked.hints, asked.bot_pace) == (120_000, "none", "no wait")
        assert person.kept == asked
    async with alone(kept=Settings(hints="after each pass", bot_pace="quick", heats=5)) as person:
        await person.press("p", "enter")
        assert (person.asked[0].hints, person.asked[0].bot_pace, person.asked[0].heats) == (
            "after each pass",
            "quick",
            5,
        )


async def test_the_rest_is_on_a_key_and_plays_too() -> None:
    async with alone() as person:
        await person.press("p", "s")
        assert "Heats in a set" in text_of(person.app)
        await person.press("f5")
        assert isinstance(person.app.screen, StartScreen)
        assert person.kept == person.asked[0]


async def test_only_enter_starts_a_heat_and_no_time_runs_before() -> None:
    async with alone() as person:
        await person.press("p", "enter")
        assert isinstance(person.app.screen, StartScreen)
        assert "You are East, the dealer: 14 tiles." in text_of(person.app)
        await person.press("a", "b", "space", "s", "1")
        person.line.pass_time(100_000)
        await person.settle()
        assert isinstance(person.app.screen, StartScreen)
        assert person.line.asked == []
        await person.press("enter")
        assert isinstance(person.app.screen, TableScreen)
        assert [type(intent) for intent in person.line.asked] == [Ready]


async def test_the_clock_stands_while_help_is_read_alone_and_runs_again_afterwards() -> None:
    async with alone() as person:
        await person.press("p", "enter", "enter", "?")
        assert isinstance(person.line.asked[-1], Pause)
        left_ms = person.model.face(person.app.now_ms()).left_ms
        person.line.pass_time(30_000)
        await person.settle()
        await person.press("r")  # from the help to the rules: still reading
        assert not any(isinstance(intent, Resume) for intent in person.line.asked)
        await person.press("q")
        person.app._tick()
        await person.settle()
        assert isinstance(person.line.asked[-1], Resume)
        assert person.model.stage == "deciding"
        assert person.model.face(person.app.now_ms()).left_ms == left_ms


async def test_the_guided_heat_has_a_word_at_each_step_and_is_offered_once() -> None:
    async with alone() as person:
        await person.press("p")
        assert "First time?" in text_of(person.app)
        await person.press("g", "enter")
        seen = []
        while isinstance(person.app.session, TableModel) and (step := person.model.step):
            shown = " ".join(text_of(person.app).split())
            assert " ".join(WORDS[step.name][0].split()[:6]) in shown, step.name
            assert "no clock" in shown
            seen.append(step.name)
            free = [letter for place, letter in enumerate("abcdefghijklmn") if person.model.rack.may_lift(place)]
            keys = {"vote": ["1"], "offer": ["1"]}.get(step.ask, free[: person.model.wanted])
            await person.press(*keys, "enter")
            person.line.pass_time(0)
            await person.settle()
        assert seen[:4] == ["first right", "first across", "first left", "go on"]
    async with alone(kept=Settings()) as person:
        await person.press("p")
        assert "First time?" not in text_of(person.app)
        await person.press("?")
        assert "the guided heat" in text_of(person.app)


async def test_home_offers_to_go_on_with_the_set_that_waits() -> None:
    async with alone(waits="heat 2 of 3") as person:
        assert "heat 2 of 3 waits as you left it" in text_of(person.app)
        await person.press("g")
        assert person.asked == [Settings(heats=2)]
    async with alone() as person:
        assert "Go on" not in text_of(person.app)
        await person.press("g")
        assert isinstance(person.app.screen, HomeScreen)


async def test_leaving_a_set_alone_says_that_it_waits_and_gives_no_seat_up() -> None:
    async with alone() as person:
        await person.press("p", "enter", "enter", "q")
        assert "it waits until you go on with it" in text_of(person.app)
        await person.press("y")
        assert [type(intent).__name__ for intent in person.line.asked][-1] != "Leave"

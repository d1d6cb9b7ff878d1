"""The shared clock of several machines on the screen: what is read from afar, what keys do, what is kept."""

import pytest

from client.storage.journal import Added, Journal
from client.theme import Look
from client.tui.screens.help import LeaveScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.shared_clock import SharedClockScreen
from shared.rules.intents import GoWithout, NotReady, Pause, Resume, SitAt, StepDone, TakeBack
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from tests.client.clocks import clock_at
from tests.client.frozen import check_frozen, text_of
from tests.groups import READY, Circle

sized = pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)], ids=["80x24", "120x40", "60x20"])


@sized
async def test_the_room_reads_the_step_ones_own_clock_and_who_is_done(size: tuple[int, int]) -> None:
    async with clock_at(size) as clock:
        circle = clock.circle
        check_frozen(clock.app, "together-ready")
        circle.ready(1, 3)
        await clock.press("enter")
        check_frozen(clock.app, "together-waiting")
        circle.ready(2)
        await clock.show(7.5)
        check_frozen(clock.app, "together-right")
        circle.done(1)
        await clock.press("space")
        await clock.show(3)
        check_frozen(clock.app, "together-done")
        circle.cut(3)
        await clock.show(25)
        check_frozen(clock.app, "together-others-late")
        await clock.press("u")
        check_frozen(clock.app, "together-late")
        await clock.press("p")
        check_frozen(clock.app, "together-paused")


@sized
async def test_questions_the_set_up_and_the_end(size: tuple[int, int]) -> None:
    async with clock_at(size) as clock:
        circle = clock.circle
        circle.ready()
        for _ in range(3):
            circle.wait(9)
            circle.done()
        circle.done(2, says_no=True)
        await clock.show(2)
        check_frozen(clock.app, "together-go-on")
        await clock.press("space")
        circle.done(1, 3)
        circle.play_heat()
        circle.ready(1, 3)
        await clock.show(65)
        check_frozen(clock.app, "together-set-up")
        circle.ready(0, 2)
        circle.cut(3)
        circle.done(0, 1, 2)
        circle.do(0, GoWithout())
        circle.play_heat(0, 1, 2)
        await clock.show()
        check_frozen(clock.app, "together-over")


@sized
async def test_a_guest_with_two_at_the_table_who_is_east(size: tuple[int, int]) -> None:
    circle = Circle(people=2)
    circle.ready(0, 1)
    circle.play_heat(0, 1)
    async with clock_at(size, chair=1, circle=circle) as clock:
        await clock.show(12)
        check_frozen(clock.app, "together-east")
        await clock.press("question_mark")
        check_frozen(clock.app, "help-together")


async def test_ascii_alone_is_enough() -> None:
    async with clock_at((80, 24), look=Look(ascii=True)) as clock:
        clock.circle.ready()
        clock.circle.done(0, 1)
        await clock.show(31)
        assert text_of(clock.app).isascii()
        check_frozen(clock.app, "together-ascii")


@pytest.mark.parametrize("size", [(40, 18), (200, 60), (100, 30)])
async def test_other_sizes_are_served_as_well(size: tuple[int, int]) -> None:
    async with clock_at(size) as clock:
        clock.circle.ready()
        clock.circle.done(1)
        await clock.show(3)
        shown = text_of(clock.app)
        assert "█" in shown
        assert "done" in shown
        assert "thinking" in shown


async def test_nothing_is_shown_as_done_before_the_table_says_so() -> None:
    async with clock_at((80, 24)) as clock:
        clock.circle.ready()
        await clock.show()
        clock.line.show = lambda: None  # type: ignore[method-assign]
        await clock.press("space")
        assert clock.line.asked == [StepDone(step="first right")]
        shown = text_of(clock.app)
        assert "sending ..." in shown
        assert "your step" in shown
        assert "done 0.0" not in shown
        await clock.press("space", "u")
        assert len(clock.line.asked) == 1, "what is on its way is not asked twice"


async def test_keys_ask_the_table_for_what_they_say() -> None:
    async with clock_at((80, 24), people=2) as clock:
        await clock.press("3", "enter", "n", "enter")
        clock.circle.ready(1)
        await clock.show()
        await clock.press("space", "u", "0", "p", "space", "p")
        right = StepDone(step="first right")
        asked = [SitAt(place=3), READY, NotReady(), READY, right, TakeBack(step="first right"), Pause(), Resume()]
        assert clock.line.asked == asked
        clock.circle.cut(1)
        await clock.show()
        assert "go without" in text_of(clock.app)
        await clock.press("w")
        assert clock.line.asked[-1] == GoWithout()
        assert clock.circle.stands() == ["free", "not waited for", "thinking", "free"]


async def test_a_guest_has_no_keys_of_the_host() -> None:
    async with clock_at((80, 24), chair=1) as clock:
        clock.circle.ready()
        clock.circle.cut(2)
        await clock.show()
        before = len(clock.line.asked)
        await clock.press("p", "w")
        assert len(clock.line.asked) == before
        assert "pause" not in text_of(clock.app)


async def test_a_click_on_a_place_sits_down_there() -> None:
    async with clock_at((80, 24), people=1) as clock:
        await clock.pilot.click(offset=(45, 21))
        await clock.settle()
        assert clock.line.asked == [SitAt(place=3)]


async def test_own_times_are_kept_and_trouble_is_told() -> None:
    kept: list[tuple[SeatHeat, str]] = []

    def add(heat: SeatHeat, source: str, detail: str, first: int) -> Added:
        kept.append((heat, source))
        return Added(True, "The disk is full." if len(kept) > 1 else "")

    circle = Circle(people=2)
    async with clock_at((80, 24), circle=circle, journal=Journal(add=add)) as clock:
        for number in (1, 2):
            circle.ready(0, 1)
            circle.play_heat(0, 1)
            await clock.show()
            while len(kept) < number:
                await clock.settle()
        await clock.settle()
        assert [(heat.number, source, len(heat.steps)) for heat, source in kept] == [
            (1, "real tiles", 9),
            (2, "real tiles", 9),
        ]
        assert "The disk is full." in text_of(clock.app)


async def test_the_bell_rings_once_when_ones_own_time_is_up(monkeypatch: pytest.MonkeyPatch) -> None:
    rung: list[int] = []
    async with clock_at((80, 24), look=Look(bell=True)) as clock:
        monkeypatch.setattr(clock.app, "bell", lambda: rung.append(clock.line.now_ms.ms))
        clock.circle.ready()
        await clock.show()
        begun_ms = clock.line.now_ms.ms
        for _ in range(400):
            clock.line.now_ms.ms += 100
            clock.screen.tick()
        assert rung == [begun_ms + 28_800]


async def test_leaving_a_running_heat_asks_and_says_what_it_means() -> None:
    async with clock_at((80, 24), chair=1) as clock:
        clock.circle.ready()
        await clock.show()
        await clock.press("q")
        assert isinstance(clock.app.screen, LeaveScreen)
        assert "the others go on without you" in text_of(clock.app)
        await clock.press("n")
        assert isinstance(clock.app.screen, SharedClockScreen)
        await clock.press("q", "y")
        assert isinstance(clock.app.screen, HomeScreen)
        assert clock.circle.stands()[1] == "not waited for"


async def test_a_host_who_leaves_hears_that_the_clock_closes_for_all() -> None:
    async with clock_at((80, 24)) as clock:
        clock.circle.ready()
        await clock.show()
        await clock.press("q")
        assert "This machine hosts the clock" in text_of(clock.app)


async def test_another_set_is_the_hosts_to_begin() -> None:
    circle = Circle(people=1, settings=Settings(level_ms=120_000, heats=1))
    circle.ready(0)
    circle.play_heat(0)
    async with clock_at((80, 24), circle=circle) as clock:
        assert "another set" in text_of(clock.app)
        await clock.press("enter")
        assert circle.view().phase == "ready"


async def test_the_clock_for_one_machine_leads_to_the_one_for_several() -> None:
    async with clock_at((80, 24), together=False) as clock:
        assert "a machine each" in text_of(clock.app)
        await clock.press("m")
        assert isinstance(clock.app.screen, SharedClockScreen)

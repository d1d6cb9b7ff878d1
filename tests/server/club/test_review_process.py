"""The real coach in its process: the same numbers as a person's own review, the lowest priority, and an end at once."""

import asyncio
import os
import signal
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from client.hosting.table import play_bots
from server.club.review_process import ReviewerEnded, ReviewProcess
from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.heats import comes_to
from shared.coach.lived import LivedHeat, lived
from shared.coach.review import review, seed_of
from shared.rules.heat import final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from tests.loop import end
from tests.poison import poison

CARD = shipped_text("first-evening")


@pytest.fixture
def _no_lower_priority(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """The process stays as urgent as the tests: on a busy machine the lowest priority may wait for minutes."""
    folder = tmp_path_factory.mktemp("site")
    (folder / "sitecustomize.py").write_text("import os\nos.nice = lambda by: 0\n")
    monkeypatch.syspath_prepend(folder)


urgent = pytest.mark.usefixtures("_no_lower_priority")


def south() -> SeatHeat:
    """A heat on the small card, every step of it a person's decision."""
    heat = play_bots(Settings(seed=8, heats=1, second="never"), card=CARD)[0]
    lived = seat_heat(heat, final_state(heat), Seat.SOUTH)
    steps = tuple(step.model_copy(update={"by": "person"}) for step in lived.steps)
    return lived.model_copy(update={"steps": steps})


@asynccontextmanager
async def reviewer() -> AsyncIterator[ReviewProcess]:
    process = ReviewProcess()
    try:
        yield process
    finally:
        await process.close()


def own_review(heat: SeatHeat) -> object:
    """What the person's own screen would say of the heat."""
    coach, judged = coach_of(CARD), lived(heat)
    assert isinstance(coach, Coach)
    assert isinstance(judged, LivedHeat)
    *_, whole = review(coach, judged, seed_of(heat))
    return comes_to(whole)


@urgent
async def test_what_it_finds_is_what_the_persons_own_review_says() -> None:
    heat = south()
    async with reviewer() as process:
        found = await process.look(heat)
        assert found == own_review(heat)
        assert found.unforced >= 3
        assert await process.look(heat) == found


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="this system has no priorities to ask for")
async def test_it_gives_way_to_everything_else_on_the_machine() -> None:
    """From its first moment on: nobody waits here for what it finds."""
    async with reviewer() as process:
        looking = asyncio.create_task(process.look(south()))
        ends_at = time.monotonic() + 60
        while not process.pid or os.getpriority(os.PRIO_PROCESS, process.pid) != 19:
            assert time.monotonic() < ends_at
            assert not looking.done()
            await asyncio.sleep(0.01)
        await end(looking)


@urgent
async def test_packages_in_the_working_directory_are_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    was_run = poison(tmp_path)
    monkeypatch.chdir(tmp_path)
    async with reviewer() as process:
        assert await process.look(south()) is not None
    assert not was_run.exists()


@urgent
async def test_a_heat_with_nothing_to_judge_is_answered_and_the_next_one_too() -> None:
    unreadable = south().model_copy(update={"card": "no card"})
    async with reviewer() as process:
        assert await process.look(unreadable) is None
        assert await process.look(south()) is not None


@urgent
async def test_whoever_is_cancelled_leaves_no_process_behind() -> None:
    async with reviewer() as process:
        await process.look(south())
        pid = process.pid
        assert pid
        task = asyncio.create_task(process.look(south().model_copy(update={"card": shipped_text()})))
        await asyncio.sleep(0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
        assert await process.look(south()) is not None


@urgent
async def test_a_process_that_is_killed_is_told_and_replaced() -> None:
    async with reviewer() as process:
        await process.look(south())
        assert process.pid
        os.kill(process.pid, signal.SIGKILL)
        with pytest.raises(ReviewerEnded):
            await process.look(south())
        assert await process.look(south()) is not None


async def test_a_process_that_cannot_be_started_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("sys.executable", str(tmp_path / "nothing"))
    async with reviewer() as process:
        with pytest.raises(ReviewerEnded):
            await process.look(south())

"""The coach in a process of its own: answers as they come, faults as sentences, and an end at any moment."""

import asyncio
import os
from collections.abc import Iterator
from contextlib import aclosing
from pathlib import Path

import pytest

from client.coach.jobs import compare_pass, review_heat
from client.coach.process import CoachFailed, CoachService
from client.hosting.table import play_bots
from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.heats import to_review
from shared.coach.review import review, seed_of
from shared.rules.heat import final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from tests.poison import poison

CARD = shipped_text("first-evening")
FOR_EVER = 10**12


def south() -> SeatHeat:
    heat = play_bots(Settings(seed=8, heats=1), card=CARD)[0]
    return seat_heat(heat, final_state(heat), Seat.SOUTH)


def count_on(start: int) -> Iterator[int]:
    yield from range(start, FOR_EVER)


def count_at_once(end: int) -> int:
    return sum(1 for _ in range(end))


def process_id() -> int:
    return os.getpid()


def die() -> None:
    os._exit(3)


async def test_a_review_from_the_process_is_the_one_made_here() -> None:
    asked = to_review(south())
    coach = coach_of(CARD)
    assert isinstance(coach, Coach)
    async with CoachService() as service:
        there = [seen async for seen in service.each(review_heat, asked)]
    here = list(review(coach, asked.lived, seed_of(asked.heat)))
    assert there == here
    assert [seen.done for seen in there] == sorted(seen.done for seen in there)


async def test_the_process_stays_for_the_next_job() -> None:
    async with CoachService() as service:
        first = await service.one(process_id)
        assert await service.one(process_id) == first != os.getpid()


async def test_packages_in_the_working_directory_are_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    was_run = poison(tmp_path)
    monkeypatch.chdir(tmp_path)
    async with CoachService() as service:
        assert await service.one(count_at_once, 10) == 10
    assert not was_run.exists()


async def test_jobs_wait_for_their_turn() -> None:
    async with CoachService() as service:
        assert await asyncio.gather(*(service.one(count_at_once, end) for end in (30, 10, 20))) == [30, 10, 20]


async def test_a_job_that_is_closed_early_is_stopped_and_the_next_is_answered() -> None:
    async with CoachService() as service:
        first = await service.one(process_id)
        async with aclosing(service.each(count_on, 5)) as counted:
            assert [await anext(counted), await anext(counted)] == [5, 6]
        assert await service.one(process_id) != first


async def test_a_job_whose_task_is_cancelled_is_stopped() -> None:
    async with CoachService() as service:
        task = asyncio.create_task(service.one(count_at_once, FOR_EVER))
        await asyncio.sleep(0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        assert await service.one(count_at_once, 3) == 3


async def test_what_a_job_finds_wrong_is_told_and_the_process_stays() -> None:
    position = to_review(south()).lived.steps[0].position
    assert position is not None
    async with CoachService() as service:
        first = await service.one(process_id)
        with pytest.raises(CoachFailed, match="no legal pass"):
            await service.one(compare_pass, CARD, position, ("J", "J", "J"), 0)
        assert await service.one(process_id) == first


async def test_a_process_that_dies_is_told_in_a_sentence_and_replaced() -> None:
    async with CoachService() as service:
        with pytest.raises(CoachFailed, match=r"ask again\.$"):
            await service.one(die)
        assert await service.one(count_at_once, 4) == 4


async def test_a_coach_that_cannot_be_started_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.executable", "/nowhere/python")
    async with CoachService() as service:
        with pytest.raises(CoachFailed, match=r"^The coach cannot be started: .*\.$"):
            await service.one(count_at_once, 10)

"""Seats looked at one after the other: in order, again after an end, never for ever, and stopped at once."""

import asyncio

import pytest

from server.club.reviewing import Reviewing
from server.records import SeatKey, SeatReview
from shared.measures.standings import Reviewed
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from tests.loop import end
from tests.reviewers import FakeReviewer
from tests.tables import Evening

FOUND = Reviewed(loss=1.0, unforced=2, points=3.0)


class Club:
    """What is left to look at, and what was found."""

    def __init__(self, seats: int = 4) -> None:
        self.heat: SavedHeat = Evening(people=4).play_heat()
        self.keys = [SeatKey(1, 1, seat) for seat in range(seats)]
        self.found: list[SeatReview] = []

    def heat_of(self, key: SeatKey) -> SeatHeat:
        return seat_heat(self.heat, final_state(self.heat), Seat(key.seat))

    def tell(self, review: SeatReview) -> None:
        self.found.append(review)
        self.keys.remove(SeatKey(review.table, review.heat, review.seat))

    @property
    def seats(self) -> list[int]:
        return [review.seat for review in self.found]


def reviewing(club: Club, reviewer: FakeReviewer) -> Reviewing:
    return Reviewing(reviewer, lambda: tuple(club.keys), club.heat_of, club.tell)


async def test_one_seat_after_the_other_and_then_the_reviewer_rests_until_there_is_more() -> None:
    club, reviewer = Club(), FakeReviewer(lambda heat: FOUND)
    looking = reviewing(club, reviewer)
    task = asyncio.create_task(looking.run())
    await asyncio.sleep(3.5)
    assert (club.seats, reviewer.closed) == ([0, 1, 2], 0)
    await asyncio.sleep(60)
    assert (club.seats, reviewer.closed, reviewer.most_at_once) == ([0, 1, 2, 3], 1, 1)
    club.keys.append(SeatKey(1, 1, 0))
    club.keys.append(SeatKey(1, 2, 0))
    looking.look_again()
    await asyncio.sleep(60)
    assert [(review.heat, review.seat) for review in club.found][4:] == [(2, 0)], "what was told is not asked again"
    await end(task)


async def test_a_reviewer_that_ends_is_asked_again_after_the_others() -> None:
    club, reviewer = Club(), FakeReviewer(lambda heat: FOUND, ends_at=[1])
    task = asyncio.create_task(reviewing(club, reviewer).run())
    await asyncio.sleep(60)
    assert club.seats == [0, 2, 3, 1]
    await end(task)


async def test_a_heat_at_which_it_always_ends_is_given_up_for_now_and_keeps_nobody_from_theirs() -> None:
    club, reviewer = Club(), FakeReviewer(lambda heat: 1 / 0 if heat.seat == 1 else FOUND)  # type: ignore[arg-type,return-value]
    looking = reviewing(club, reviewer)
    task = asyncio.create_task(looking.run())
    await asyncio.sleep(60)
    assert club.seats == [0, 2, 3]
    assert looking.given_up == {SeatKey(1, 1, 1)}
    assert len(reviewer.asked) == 5
    await end(task)


async def test_an_error_while_it_looks_for_heats_is_logged_with_its_place_and_ends_nothing(
    caplog: pytest.LogCaptureFixture,
) -> None:
    club, reviewer = Club(), FakeReviewer(lambda heat: FOUND)
    broken = [True]

    def left() -> tuple[SeatKey, ...]:
        if broken:
            raise LookupError(f"5b {broken.pop()}")
        return tuple(club.keys)

    task = asyncio.create_task(Reviewing(reviewer, left, club.heat_of, club.tell).run())
    await asyncio.sleep(60)
    assert club.seats == [0, 1, 2, 3]
    line = left.__code__.co_firstlineno + 2
    assert f"LookupError at {__name__}, {left.__qualname__}, line {line}" in caplog.text
    assert "5b" not in caplog.text
    await end(task)


async def test_stopping_stops_in_the_middle_of_a_heat() -> None:
    club, reviewer = Club(), FakeReviewer(lambda heat: FOUND)
    task = asyncio.create_task(reviewing(club, reviewer).run())
    await asyncio.sleep(1.5)
    await end(task)
    assert (club.seats, reviewer.at_once, reviewer.closed) == ([0], 0, 1)

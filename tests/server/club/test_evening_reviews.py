"""An evening while the coach looks at its heats: standings fill in, nobody waits, and what was found is kept."""

import asyncio
from pathlib import Path

import pytest

from shared.measures.standings import standings
from shared.wire.club_views import Evening
from tests.client.full_disk import full_disk
from tests.reviewers import FakeReviewer
from tests.server.club.house import THREE_STEPS, ClubHouse, open_club, play_together, results


async def test_standings_fill_in_while_the_coach_looks_and_say_how_far_it_is() -> None:
    reviewer = FakeReviewer(seconds=4)
    async with open_club(THREE_STEPS.model_copy(update={"same_deal": True}), 2, reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest(f"G0{number}") for number in range(1, 9)]
        for guest in guests:
            await guest.come()
        began_s = asyncio.get_running_loop().time()
        shown = await desk.see(lambda shown: True)
        assert (shown.looked, shown.to_look_at) == (0, 0)
        await play_together(desk, guests)
        await desk.see(lambda shown: (shown.looked, shown.to_look_at) == (0, 8))
        ended_s = asyncio.get_running_loop().time()
        assert ended_s - began_s < 3, "nobody waited for the coach"
        told_before = sum(isinstance(one, Evening) for one in desk.heard)
        shown = await desk.see(lambda shown: 0 < shown.looked < 8)
        assert shown.to_look_at == 8
        played = await results(desk, lambda played: sum(one.loss is not None for one in played) == 8)
        assert asyncio.get_running_loop().time() - ended_s == pytest.approx(32, abs=0.5)
        # After 10, 20, 30 and 32 seconds: 2, 5, 7 and all 8 of them.
        assert sum(isinstance(one, Evening) for one in desk.heard) == told_before + 4
        assert [(line.name, line.value) for line in standings(played).loss] == [
            (f"G0{number}", number * 500) for number in range(1, 9)
        ]
        assert {line.name: line.value for line in standings(played).points} == {
            f"G0{number}": int(number > 4) for number in range(1, 9)
        }
        shown = await desk.see(lambda shown: shown.looked == 8)
        view = await guests[2].until(lambda view: view.club is not None and len(view.club.points) == 8)
        assert view.club
        assert [place.value for place in view.club.loss if place.you] == [1.5]
        assert [(other.name, other.points) for other in view.club.elsewhere] == [("G07", 70.0)]
        assert reviewer.most_at_once == 1


async def test_an_evening_that_ends_while_the_coach_looks_stops_it_at_once() -> None:
    reviewer = FakeReviewer(seconds=4)
    async with open_club(tables=1, reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest("G01")]
        await guests[0].come()
        await play_together(desk, guests)
        await asyncio.sleep(1)
        assert reviewer.at_once == 1
        closing_s = asyncio.get_running_loop().time()
    assert reviewer.at_once == 0
    assert asyncio.get_running_loop().time() - closing_s < 1


async def test_a_killed_club_has_what_the_coach_found_and_goes_on_with_the_rest(tmp_path: Path) -> None:
    """Two sets of one heat each: a set that is over is remembered like the one that runs."""
    path, one_heat = tmp_path / "club", THREE_STEPS.model_copy(update={"heats": 1})
    reviewer = FakeReviewer(seconds=10)
    async with open_club(one_heat, 1, path, reviewer) as house:
        desk, guests = await house.desk(), [house.guest(f"G0{number}") for number in range(1, 5)]
        for guest in guests:
            await guest.come()
        await play_together(desk, guests)
        await play_together(desk, guests)
        await desk.see(lambda shown: (shown.looked, shown.to_look_at) == (3, 8))
        assert reviewer.asked[:3] == [f"1 {name}" for name in _by_seat(house, 1)[:3]]
    again = FakeReviewer(seconds=10)
    async with open_club(one_heat, 0, path, again) as house:
        desk = await house.desk()
        played = await results(desk, lambda played: len(played) == 8)
        assert sum(one.loss is not None for one in played) == 3
        shown = await desk.see(lambda shown: True)
        assert (shown.looked, shown.to_look_at) == (3, 8)
        played = await results(desk, lambda played: all(one.loss is not None for one in played))
        assert [asked.split()[0] for asked in again.asked] == ["1", "2", "2", "2", "2"]
        assert {line.name: (line.value, line.heats) for line in standings(played).loss} == {
            f"G0{number}": (number * 500, 2) for number in range(1, 5)
        }
    third = FakeReviewer()
    async with open_club(one_heat, 0, path, third) as house:
        desk = await house.desk()
        await results(desk, lambda played: len(played) == 8 and all(one.loss is not None for one in played))
        await asyncio.sleep(60)
        assert third.asked == []


def _by_seat(house: ClubHouse, heat: int) -> list[str]:
    return [one.name for one in house.club.club.played() if one.heat == heat]


async def test_what_the_coach_found_is_kept_until_there_is_room_on_the_disk(tmp_path: Path) -> None:
    reviewer = FakeReviewer(seconds=2)
    async with open_club(tables=1, path=tmp_path / "club", reviewer=reviewer) as house:
        desk, guests = await house.desk(), [house.guest("G01"), house.guest("G02")]
        for guest in guests:
            await guest.come()
        await play_together(desk, guests)
        with full_disk():
            await asyncio.sleep(20)
            assert house.club.club.results.looked == 0
        await results(desk, lambda played: sum(one.loss is not None for one in played) == 2)
        assert len(reviewer.asked) == 2

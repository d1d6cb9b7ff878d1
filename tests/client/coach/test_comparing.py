"""Looking at what others handed in: it can be stopped, what was found is kept, and the rest is done later."""

import asyncio
from collections.abc import Callable
from contextlib import aclosing
from typing import Any

import pytest

from client.coach.comparing import Comparing, compare_all, known_already
from client.coach.process import CoachFailed
from shared.cards.play import shipped_text
from shared.measures.side_by_side import HeatFound
from shared.measures.standings import Reviewed
from shared.rules.set_result import Handed, packed_result, read_result
from tests.take_home import SETTINGS, handed_in, made, of_practice

CARD = shipped_text()
FOUND = HeatFound(reviewed=Reviewed(loss=1.0, unforced=6, points=20.0))


class Quick:
    """A coach that answers at once, and fails from a given job on."""

    asked = 0
    fails_at = 10**6

    async def __aenter__(self) -> "Quick":
        return self

    async def __aexit__(self, *_: object) -> None:
        """Nothing to end."""

    async def one(self, job: Callable[..., Any], *given: object) -> Any:
        if job.__name__ == "bots_fault":
            return ""
        type(self).asked += 1
        if type(self).asked >= type(self).fails_at:
            raise CoachFailed("The coach stopped before it answered; ask again.")
        return FOUND


@pytest.fixture
def quick() -> Any:
    return type("Fresh", (Quick,), {})


def handed(people: int = 3) -> tuple[Handed, ...]:
    taken = made(SETTINGS.model_copy(update={"heats": 2}))
    found = [read_result(packed_result(handed_in(taken, who)), of_practice) for who in range(1, people + 1)]
    return tuple(one for one in found if isinstance(one, Handed))


async def look(results: tuple[Handed, ...], quick: Any, stop_after: int = 10**6) -> Comparing:
    comparing = known_already(results)
    async with aclosing(compare_all(results, CARD, comparing, quick)) as growing:
        count = 0
        async for _ in growing:
            count += 1
            if count == stop_after:
                break
    return comparing


async def test_every_heat_is_looked_at_once_and_never_again(quick: Any) -> None:
    results = handed()
    comparing = await look(results, quick)
    assert (comparing.done, comparing.every, quick.asked) == (6, 6, 6)
    again = await look(results, quick)
    assert again.found == comparing.found
    assert quick.asked == 6


async def test_who_stops_goes_on_where_it_was(quick: Any) -> None:
    results = handed()
    await look(results, quick, stop_after=2)
    kept = -1  # what was being written as it stopped is kept as well
    while kept != (kept := known_already(results).done):  # noqa: ASYNC110 - nobody tells when a thread has written
        await asyncio.sleep(0.2)
    assert 2 <= kept < 6
    asked = quick.asked
    assert (await look(results, quick)).done == 6
    assert quick.asked - asked == 6 - kept


async def test_a_coach_that_fails_is_told_and_what_it_found_is_kept(quick: Any) -> None:
    quick.fails_at = 4
    results = handed()
    with pytest.raises(CoachFailed):
        await look(results, quick)
    assert known_already(results).done >= 2

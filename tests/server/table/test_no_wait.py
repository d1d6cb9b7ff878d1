"""Bots that keep nobody waiting: at a table where that is a setting, and at any other when a person hurries them."""

import pytest

from shared.rules.intents import Hurry, Pause, Resume
from shared.rules.settings import Settings
from tests.tables import QUICK, Evening, slow

NO_WAIT = Settings(level_ms=100_000, bot_pace="no wait", heats=1)


def alone(settings: Settings) -> Evening:
    """One person's table at the first step, the bots having thought."""
    evening = Evening(settings)
    evening.ready()
    return evening


def test_where_nobody_waits_the_next_rack_is_there_the_moment_the_person_commits() -> None:
    evening = alone(NO_WAIT)
    began_ms = evening.now_ms
    while evening.table.record.phase == "heat":
        evening.now_ms += 500
        evening.people_answer()
        evening.wait(0)
    played = evening.finished[0]
    own = [event for event in played.events if getattr(event, "by", "") == "person"]
    assert len(own) >= 7, "a heat of this many answers was played"
    assert evening.now_ms - began_ms == 500 * len(own), "no moment passed but the person's own"


def test_a_bot_that_needs_less_than_the_person_is_charged_its_own_time() -> None:
    evening = alone(NO_WAIT)
    evening.wait(evening.heat().clock.left_ms - 1_000)
    assert [seat.answered for seat in evening.heat().seats] == [False, True, True, True]
    spent_ms = [event.spent_ms for event in evening.events[1] if hasattr(event, "spent_ms")]
    assert len(spent_ms) == 3
    assert min(spent_ms) > 1_000


def test_two_people_wait_for_each_other_and_no_bot_is_hurried_before() -> None:
    evening = Evening(NO_WAIT, people=2)
    evening.ready()
    evening.answer(0)
    evening.wait(0)
    assert sum(seat.answered for seat in evening.heat().seats) == 1
    evening.answer(1)
    evening.wait(0)
    assert evening.heat().step == "first across"


def test_a_bot_that_still_thinks_is_waited_for() -> None:
    evening = alone(NO_WAIT)
    taken = evening.take
    thoughts: list[object] = []
    evening.take = lambda out: (thoughts.extend(out.thoughts), out)[1]  # type: ignore[method-assign,func-returns-value]
    evening.answer(0)
    evening.wait(0)
    evening.take = taken  # type: ignore[method-assign]
    assert evening.heat().step == "first across"
    assert len(thoughts) == 3
    evening.answer(0)
    evening.wait(0)
    assert evening.heat().step == "first across", "their thoughts have not come back"


@pytest.mark.parametrize("settings", [QUICK, slow()])
def test_a_person_hurries_the_bots_of_any_pace(settings: Settings) -> None:
    evening = alone(settings)
    evening.answer(0)
    evening.wait(0)
    assert evening.heat().step == "first right"
    evening.do(0, Hurry())
    evening.wait(0)
    assert evening.heat().step == "first across"
    evening.wait(0)
    assert not any(seat.answered for seat in evening.heat().seats), "hurrying is for one step"


def test_there_is_nobody_to_hurry_before_a_heat_or_where_all_bots_have_answered() -> None:
    evening = Evening(QUICK, people=2)
    assert evening.refused(0, Hurry()) == "not now"
    evening.ready()
    evening.do(0, Hurry())
    evening.wait(0)
    assert evening.refused(0, Hurry()) == "not now"


def test_whoever_hurries_bots_during_a_pause_gets_their_answers_after_it() -> None:
    evening = alone(slow())
    evening.do(0, Pause())
    evening.do(0, Hurry())
    evening.wait(5_000)
    assert not any(seat.answered for seat in evening.heat().seats)
    evening.do(0, Resume())
    evening.wait(0)
    assert sum(seat.answered for seat in evening.heat().seats) == 3

"""A plan: what it may say, what it is told when it cannot be, and what it asks of the evening at each moment."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.hosting.evening_plan import BadPlan, Plan, Progress, next_order, read_plan
from shared.wire.desk_intents import EndEvening, HoldClocks, RunClocks, StartAll
from tests.clubs import QUICK, ClubEvening
from tests.reviewers import by_name

WHOLE = """
name = "Tuesday at the Boathouse"
tables = ["By the window", "Corner"]
start = ["19:30", "19:50"]
countdown = "0:20"
wait = 90
card = "pier"

[settings]
level = "2:00"
heats = 2
same_deal = true

[files]
page = "evening.html"
"""


def test_everything_that_a_plan_says_is_taken_in() -> None:
    plan = read_plan(WHOLE.encode())
    assert (plan.name, plan.tables) == ("Tuesday at the Boathouse", ("By the window", "Corner"))
    assert plan.starts_ms == ((19 * 60 + 30) * 60_000, (19 * 60 + 50) * 60_000)
    assert (plan.countdown_ms, plan.wait_ms, plan.pause_ms) == (20_000, 90_000, 120_000)
    assert (plan.settings.level_ms, plan.settings.heats, plan.settings.same_deal) == (120_000, 2, True)
    assert plan.card == "pier"
    assert plan.files == {"page": "evening.html"}


def test_an_empty_plan_is_one_table_that_starts_when_it_is_full() -> None:
    assert read_plan(b"") == Plan()


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("tables = 0", "tables is 0; it must be a number from 1 to 60, or a list of names."),
        ("tables = true", "tables is True; it must be a number from 1 to 60, or a list of names."),
        ("tables = [1]", "tables is [1]; it must be a number from 1 to 60, or a list of names."),
        ('start = "soon"', 'start is \'soon\'; it must be "when full", a time such as "19:30", or one for each heat.'),
        (
            'start = "24:00"',
            'start is \'24:00\'; it must be "when full", a time such as "19:30", or one for each heat.',
        ),
        ('start = ["19:30"]', "start names 1 times, and there are 3 heats."),
        ('start = ["19:30", "19:20", "19:40"]', "start names times that are not one after the other."),
        ('pause = "long"', "pause is 'long'; it must be a time such as \"2:00\", or seconds."),
        ('countdown = "11:00"', "countdown is longer than ten minutes."),
        ("card = 3", "card is 3; it must be the name of a card, or its file, in quotes."),
        ("name = 3", "name is 3; it must be a text."),
        ("people = 20", "A plan has nothing named 'people'; it may have name, tables,"),
        ("settings = 1", "settings must be a table of its own: [settings]."),
        ("[settings]\nheats = 13", "heats is 13; it must be a whole number from 1 to 12."),
        ("[settings]\nhouse = 1", "There is no setting named 'house'."),
        ("[files]\nsound = 'x'", "files has nothing named 'sound'; it may have heats, standings, page."),
        ("[files]\npage = 7", "files: page is 7; it must be the name of a file."),
        ("tables =", "The file is no TOML: "),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence(line: str, told: str) -> None:
    with pytest.raises(BadPlan) as fault:
        read_plan(line.encode())
    assert told in str(fault.value)


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(BadPlan) as fault:
        read_plan(b'tables = -1\npause = "?"\n[settings]\nheats = 0')
    assert all(word in str(fault.value) for word in ("tables is -1", "pause is '?'", "heats is 0"))


@given(st.text(max_size=200))
def test_no_text_makes_the_reader_fall_over(text: str) -> None:
    with suppress(BadPlan):
        assert isinstance(read_plan(text.encode(errors="replace")), Plan)


# ---- what it asks


def asked(plan: Plan, evening: ClubEvening, progress: Progress) -> object:
    return next_order(plan, evening.shown(), progress, evening.now_ms)


def test_the_first_heat_starts_when_every_chair_has_a_person() -> None:
    plan, evening = Plan(settings=QUICK, countdown_ms=7_000), ClubEvening(tables=2, people=7)
    progress = Progress(evening.now_ms, 0)
    assert asked(plan, evening, progress) is None
    evening.come("Last")
    assert asked(plan, evening, progress) == StartAll(in_ms=7_000)
    assert asked(plan, evening, progress) is None


def test_or_after_a_while_with_bots() -> None:
    plan, evening = Plan(settings=QUICK, wait_ms=60_000), ClubEvening(tables=2, people=1)
    progress = Progress(evening.now_ms, 0)
    assert asked(plan, evening, progress) is None
    evening.wait(60_000)
    assert isinstance(asked(plan, evening, progress), StartAll)


def test_never_for_nobody() -> None:
    plan, evening = Plan(settings=QUICK, wait_ms=1_000), ClubEvening(tables=2)
    progress = Progress(evening.now_ms, 0)
    evening.wait(60_000)
    assert asked(plan, evening, progress) is None


def test_a_time_of_day_is_waited_for_also_over_midnight() -> None:
    late = 23 * 3_600_000 + 50 * 60_000
    plan, evening = Plan(settings=QUICK, starts_ms=(10 * 60_000,)), ClubEvening(tables=1, people=4)
    progress = Progress(evening.now_ms, late)
    evening.wait(20 * 60_000 - 1)
    assert asked(plan, evening, progress) is None
    evening.wait(1)
    assert isinstance(asked(plan, evening, progress), StartAll)


def test_the_next_heat_comes_after_the_pause_and_the_end_after_the_last() -> None:
    evening = ClubEvening(QUICK, tables=2, people=8)
    plan, progress = Plan(settings=QUICK, pause_ms=30_000, countdown_ms=0), Progress(evening.now_ms, 0)
    names = [f"P{number}" for number in range(1, 9)]
    for _ in range(2):
        order = asked(plan, evening, progress)
        while order is None:
            evening.wait(1_000)
            order = asked(plan, evening, progress)
        evening.do(order)  # type: ignore[arg-type]
        evening.play(*names)
        ended_ms = evening.now_ms
    assert asked(plan, evening, progress) == EndEvening()
    evening.do(EndEvening())
    assert asked(plan, evening, progress) is None
    assert evening.now_ms == ended_ms


def test_the_end_waits_for_the_coach() -> None:
    settings = QUICK.model_copy(update={"heats": 1})
    evening = ClubEvening(settings, tables=1, people=4)
    evening.has_coach = True
    plan, progress = Plan(settings=settings, countdown_ms=0), Progress(evening.now_ms, 0)
    evening.do(asked(plan, evening, progress))  # type: ignore[arg-type]
    evening.play("P1", "P2", "P3", "P4")
    assert asked(plan, evening, progress) is None
    evening.look(by_name, most=3)
    assert asked(plan, evening, progress) is None
    evening.look(by_name)
    assert asked(plan, evening, progress) == EndEvening()


def test_heats_that_were_interrupted_run_on() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    evening.do(HoldClocks(table=2))
    assert asked(Plan(settings=QUICK), evening, Progress(0, 0)) == RunClocks(table=2)

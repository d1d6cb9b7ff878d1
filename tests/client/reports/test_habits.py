"""A habit from kept heats and in words."""

from dataclasses import replace

import pytest

from client.reports.habits import NONE_YET, decisions_of, example_lines, habit_words
from client.storage.history_db import HistoryEntry, StepLoss
from shared.measures.habits import KINDS, Decision, Habit, Kind, habit_of
from shared.rules.steps import StepName
from shared.rules.typed_tiles import typed
from tests.client.heats import DEALT, entry, heat, step


def loss(name: StepName, points: float = 2.0, best: str = "7d 8d 9d", **more: object) -> StepLoss:
    values = {"step": name, "points": points, "error": 0.1, "luck": 0.0, "best": typed(best), **more}
    return StepLoss.model_validate(values)


def kept(*losses: StepLoss, number: int = 1) -> HistoryEntry:
    steps = [step("first right", 4.0), step("first across", 6.0), step("courtesy give", 1.0)]
    return entry(heat(number, steps), losses)


def test_a_decision_has_the_rack_before_it_and_what_the_review_kept() -> None:
    first, second = decisions_of([kept(loss("first right", stake=0.7), loss("first across", first_plan=1.5))])
    assert first == Decision(0, "first right", DEALT, DEALT[:3], typed("7d 8d 9d"), 2.0, 0.1, 4_000, 0.7)
    assert second.rack == (*DEALT[3:], *DEALT[3:6])
    assert (second.spent_ms, second.first_plan) == (6_000, 1.5)


def test_heats_are_counted_in_the_order_given() -> None:
    found = decisions_of([kept(loss("first right"), number=number) for number in (7, 9)])
    assert [one.heat for one in found] == [0, 1]


def test_what_the_player_did_not_decide_or_the_review_did_not_keep_is_left_out() -> None:
    assert decisions_of([kept(loss("first right", forced=True))]) == ()
    assert decisions_of([kept(loss("first right", best=""), loss("courtesy give"))]) == ()
    assert decisions_of([entry(heat(1, [step("first right", by="timeout")]), [loss("first right")])]) == ()
    assert decisions_of([replace(kept(loss("first right")), coach="an earlier coach")]) == ()


def test_a_vote_is_a_decision_without_tiles() -> None:
    voted = step("go on").model_copy(update={"vote": True, "given": (), "came": ()})
    (found,) = decisions_of([entry(heat(1, [voted]), [loss("go on", best="")])])
    assert (found.went_on, found.given, found.loss) == (True, (), 2.0)


def habit(kind: Kind, *shown: Decision) -> Habit:
    return Habit(kind, 14, 60, 12, 0.0001, 31.4, 2.0, shown)


def test_a_habit_says_how_often_what_it_cost_and_what_to_do_instead() -> None:
    assert habit_words(habit("breaks pairs")) == (
        "You break pairs: 14 of 60 times in 12 heats, 31 points lost. "
        "Instead: look for tiles that stand alone before you give one of two alike."
    )
    assert habit_words(habit_of(())) == NONE_YET


def test_every_habit_has_words_of_its_own() -> None:
    assert len({habit_words(habit(kind)) for kind in KINDS}) == len(KINDS)


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("breaks pairs", "Heat 1, first right: 1 bam, 2 bam and 3 bam cost 2.0; better: 7 dot, 8 dot and 9 dot."),
        (
            "long at easy steps",
            "Heat 1, first right: 1 bam, 2 bam and 3 bam after 4 s cost 2.0; better: 7 dot, 8 dot and 9 dot.",
        ),
    ],
)
def test_examples_are_told_in_tiles(kind: Kind, told: str) -> None:
    shown = decisions_of([kept(loss("first right"))])
    assert example_lines(habit(kind, *shown)) == (told,)


def test_at_most_three_examples_are_told_and_none_that_cost_nothing() -> None:
    one, *_ = decisions_of([kept(loss("first right"))])
    assert len(example_lines(habit("breaks pairs", one, one, one, one))) == 3
    assert example_lines(habit("breaks pairs", replace(one, loss=0.0))) == ()


def test_a_vote_is_told_by_what_stopping_was_worth() -> None:
    vote = Decision(4, "go on", DEALT, (), (), 1.5, 1.0, 3_000, went_on=True)
    assert example_lines(habit("always goes on", vote)) == ("Heat 5, go on: stopping was worth 1.5 more.",)

"""A decision out of a heat: what it holds, and that its verdict is the one of the heat's review."""

import pytest

from shared.coach.decisions import decision_of, judge, position_of
from shared.coach.lived import LivedHeat, lived
from shared.coach.ranking import Effort
from shared.coach.review import review, seed_of
from shared.rules.decisions import Answer, Decision
from shared.rules.seat_heat import SeatHeat
from shared.rules.steps import STEPS, StepName
from tests.shared.coach.lives import TEXT, coach, random_life

QUICK = Effort(((6, 8),))


def decided(heat: SeatHeat, step: StepName) -> Decision:
    found = decision_of(heat, step, TEXT)
    assert isinstance(found, Decision), found
    return found


def then(decision: Decision, heat: SeatHeat) -> Answer:
    """Return what was answered in the heat, whoever answered."""
    step = next(step for step in heat.steps if step.step == decision.step)
    number = step.offer if step.vote is None else int(step.vote)
    return Answer(step.given, step.blind, number)


@pytest.mark.parametrize("seed", range(6))
def test_an_answer_of_a_heat_is_judged_as_its_review_judges_it(seed: int) -> None:
    heat = random_life(seed)
    life = lived(heat)
    assert isinstance(life, LivedHeat)
    *_, seen = review(coach(), life, seed_of(heat), QUICK)
    judged = 0
    for step in seen.steps:
        if step.verdict is None or (STEPS[step.lived.step.step].ask == "give" and not step.lived.step.given):
            continue
        decision = decided(heat, step.lived.step.step)
        if step.lived.position is not None:
            assert position_of(decision) == step.lived.position
        found = judge(coach(), decision, then(decision, heat), QUICK)
        own, best = step.verdict.own, step.verdict.ways[0]
        assert (found.verdict, found.loss.points) == (own.verdict, own.loss.points)
        assert found.rating == ("best" if not own.place else "close" if step.verdict.too_close else "costly")
        if not best.says:
            assert (found.best.tiles, found.best.blind) == (best.ranked.tiles, best.ranked.blind)
        judged += 1
    assert judged >= 3


def test_without_an_answer_in_time_the_best_one_is_told() -> None:
    heat = random_life(1)
    for step in heat.steps:
        decision = decision_of(heat, step.step, TEXT)
        if isinstance(decision, str):
            continue
        found = judge(coach(), decision, None, QUICK)
        assert (found.rating, found.verdict, found.loss.points) == ("out of time", "Time ran out.", 0.0)
        again = judge(coach(), decision, found.best, QUICK)
        assert again.rating == "best"


def test_a_decision_knows_nothing_that_came_after_it() -> None:
    """Of a heat that ended right after it, the decision is the same."""
    heat = random_life(3)
    rack, compared = list(heat.dealt), 0
    for number, step in enumerate(heat.steps):
        for tile in step.given:
            rack.remove(tile)
        rack += step.came
        decision = decision_of(heat, step.step, TEXT)
        ended = heat.model_copy(update={"steps": heat.steps[: number + 1], "final": tuple(rack)})
        assert decision_of(ended, step.step, TEXT) == decision
        compared += isinstance(decision, Decision)
    assert compared >= 5


def test_a_heat_that_holds_no_such_decision_says_so() -> None:
    heat = random_life(2)
    assert decision_of(heat, "plan", TEXT) == "There was nothing to decide at plan in this heat."
    cut = heat.model_copy(update={"steps": heat.steps[:0], "final": heat.dealt})
    assert decision_of(cut, "first right", TEXT) == "There was nothing to decide at first right in this heat."
    bare = heat.model_copy(update={"dealt": ()})
    assert "real tiles" in str(decision_of(bare, "first right", TEXT))

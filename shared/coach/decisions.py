"""One decision judged: the answer beside the best one, in the words of a review; and decisions out of a kept heat.

Must never see more than the decision holds.
"""

from dataclasses import dataclass, replace

from shared.coach.coach import Coach
from shared.coach.estimate import Estimate
from shared.coach.lived import lived, position_in
from shared.coach.passes import Position
from shared.coach.ranking import THINK, Effort
from shared.coach.review import Way, beside, judge_step, seed_of
from shared.coach.sentences import YOU, pass_said
from shared.coach.words import Target, targets_before
from shared.rules.decisions import Answer, Ask, Decision, HeatKey, Rating
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.steps import PASSES, STEPS, StepName

_ASKS: dict[str, Ask] = {"pass": "pass", "give": "give", "vote": "vote", "offer": "offer"}


@dataclass(frozen=True)
class Judgement:
    """What the coach says of an answer.

    Attributes:
        rating: how good it was; out of time if there was none.
        verdict: the same as a sentence.
        loss: how much less it is worth than the best; nothing if there was no answer.
        best: the best answer.
        plain: sentences with hands and tiles.
        numbers: the same with points, chances and gifts.
        own: the likeliest hand after the answer, drawn against the rack; None if no hand is within reach.
        better: the same after the best answer.
    """

    rating: Rating
    verdict: str
    loss: Estimate
    best: Answer
    plain: tuple[str, ...]
    numbers: tuple[str, ...]
    own: Target | None = None
    better: Target | None = None


def decision_of(heat: SeatHeat, step: StepName, card: str, what: str = "", lost: float | None = None) -> Decision | str:
    """Return a decision as it stood in a heat of one's own, or one sentence why there is none.

    card is the text of the heat's card; what says where the decision comes from; lost, what it cost then.
    """
    found = lived(heat)
    if isinstance(found, str):
        return found
    at = next((number for number, each in enumerate(found.steps) if each.step.step == step), None)
    if at is None or STEPS[step].ask not in _ASKS:
        return f"There was nothing to decide at {step} in this heat."
    this, before = found.steps[at], found.steps[:at]
    if STEPS[step].ask == "give" and not this.step.given:
        return "No tiles were swapped in this courtesy."
    number = this.step.offer if this.step.vote is None else int(this.step.vote)
    return Decision(
        _ASKS[STEPS[step].ask],
        step,
        this.rack,
        heat.settings.unseeded(),
        card,
        this.step.budget_ms,
        heat.seat,
        this.passed,
        before[-1].step.came if before else (),
        sum(each.step.step in PASSES for each in before),
        len(this.step.given),
        seed_of(heat),
        what=what,
        then=Answer(this.step.given, this.step.blind, number) if this.step.by == "person" else None,
        lost=lost,
        key=HeatKey(heat.commitment, heat.seat, heat.played_at, step),
    )


def position_of(decision: Decision) -> Position:
    """Return what the player of a decision knows."""
    settings, rack, passed, made = decision.settings, decision.rack, decision.passed, decision.made
    if decision.step is not None:
        found = position_in(settings, decision.step, rack, passed, made, decision.give)
        if found is not None:
            return found
    courtesy = decision.step is None and settings.courtesy
    valued = settings.play_for == "values"
    return Position(rack, passed, 0, (), False, jokers=settings.jokers, courtesy=courtesy, made=made, valued=valued)


def judge(coach: Coach, decision: Decision, answer: Answer | None, effort: Effort = THINK) -> Judgement:
    """Judge an answer to a decision; None if there was none in time.

    Raises:
        ValueError: it is not legal.
    """
    match decision.ask:
        case "vote" | "offer":
            found = _numbered(coach, decision, answer, effort)
        case _:
            found = _passed(coach, decision, answer, effort)
    if answer is not None:
        return found
    return replace(found, rating="out of time", verdict="Time ran out.", loss=Estimate(0.0, 0.0), own=None)


def _passed(coach: Coach, decision: Decision, answer: Answer | None, effort: Effort) -> Judgement:
    position, seed = position_of(decision), decision.seed
    also = () if answer is None else ((answer.tiles, answer.blind),)
    ranking = coach.engine.rank(position, seed, effort, also=also)
    own = 0 if answer is None else ranking.place(answer.tiles, answer.blind)
    found = beside(coach, position, ranking, own, seed, YOU)
    best, mine = found.ways[0], found.own
    plain, numbers = mine.words, mine.numbers
    if answer is None:
        first = f"The coach would pass {pass_said(best.ranked)}."
        plain, numbers = (first, *plain), (first, *numbers)
    return Judgement(
        _rating(mine),
        mine.verdict,
        mine.loss,
        Answer(best.ranked.tiles, best.ranked.blind),
        plain,
        numbers,
        next(iter(mine.targets), None),
        next(iter(best.targets), None),
    )


def _rating(way: Way) -> Rating:
    if not way.place:
        return "best"
    return "close" if way.loss.points < 2 * way.loss.se else "costly"


def _numbered(coach: Coach, decision: Decision, answer: Answer | None, effort: Effort) -> Judgement:
    """Judge a vote or an offer, by the numbers that a review of the heat has."""
    position, step = position_of(decision), decision.step
    assert step is not None
    number = (answer.number if answer else None) or 0
    made = SeatStep(step=step, length_ms=0, budget_ms=0, spent_ms=0, by="person")
    made = made.model_copy(update={"vote": bool(number)} if decision.ask == "vote" else {"offer": number})
    verdict = judge_step(coach, made, position, decision.seed, effort)
    best = verdict.ways[0]
    own = verdict.own if answer else best
    if decision.ask == "vote":
        target = next(iter(targets_before(coach.engine, coach.card, position)), None)
        asked = Answer(number=int(best.says == "go on"))
    else:
        target = next(iter(best.targets), None)
        asked = Answer(best.ranked.tiles, 0, len(best.ranked.tiles))
    return Judgement(_rating(own), own.verdict, own.loss, asked, own.words, own.numbers, target)

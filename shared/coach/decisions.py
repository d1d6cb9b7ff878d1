"""One decision judged: the answer beside the best one, in the words of a review; and decisions out of a kept heat.

Must never see more than the decision holds.
"""

from dataclasses import dataclass, replace

from shared.cards import Card
from shared.cards.said import called
from shared.cards.tell import tell
from shared.chances import in_hundred
from shared.coach.coach import Coach
from shared.coach.discards import CLOSE, discards
from shared.coach.distance import away_one, counts_of
from shared.coach.estimate import LEAST_TOLD, Estimate
from shared.coach.lived import lived, position_in
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import THINK, Effort
from shared.coach.review import Way, beside, judge_step, seed_of
from shared.coach.sentences import YOU, pass_said
from shared.coach.targets import likeliest_first, within_reach
from shared.coach.words import (
    Target,
    target_of,
    targets_before,
    told_against,
    verdict_of,
)
from shared.rules.decisions import Answer, Ask, Decision, HeatKey, Rating
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import Tile

"""Points below which a discard, a family or a hand is as good as the best."""
_NEARLY = 0.8
"""A section is nearly as near if its best hand has this share of the likeliest hand's chance."""
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
        before[-1].step.came if before and not this.face_down else (),
        sum(each.step.step in PASSES for each in before),
        len(this.step.given),
        this.face_down,
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
    return Position(
        rack,
        passed,
        0,
        (),
        jokers=settings.jokers,
        courtesy=courtesy,
        made=made,
        valued=valued,
        face_down=decision.face_down,
    )


def judge(coach: Coach, decision: Decision, answer: Answer | None, effort: Effort = THINK) -> Judgement:
    """Judge an answer to a decision; None if there was none in time.

    Raises:
        ValueError: it is not legal.
    """
    match decision.ask:
        case "vote" | "offer":
            found = _numbered(coach, decision, answer, effort)
        case "discard":
            found = _discarded(coach, decision, answer)
        case "family":
            found = _named(coach, decision, answer)
        case "hand":
            found = _hand_named(coach, decision, answer)
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
    return "close" if way.loss.too_close else "costly"


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


def _discarded(coach: Coach, decision: Decision, answer: Answer | None) -> Judgement:
    """Judge a first discard: by what the rack is worth without it."""
    position = position_of(decision)
    found = discards(coach.engine, position, decision.seed)
    best = found[0]
    own = next((each for each in found if answer is None or (each.tile,) == answer.tiles), None)
    if own is None:
        raise ValueError("This tile cannot be discarded here.")
    better = f"{called(best.tile)}, {_serves(coach, position, best.tile)}"
    went = f"You let go {called(own.tile)}, {_serves(coach, position, own.tile)}."
    if own.loss < LEAST_TOLD:
        rating: Rating = "best"
        plain: tuple[str, ...] = (f"Best is {better}." if answer is None else went,)
    else:
        rating = "close" if own.loss < CLOSE else "costly"
        plain = (went, f"Better: {better}.")
    loss = Estimate(own.loss if rating != "best" else 0.0, 0.0)
    chance = in_hundred(100 * own.called)
    return Judgement(
        rating,
        verdict_of(loss, rating == "best"),
        loss,
        Answer((best.tile,)),
        plain,
        (*plain, f"Somebody can call {called(own.tile)}: {chance}."),
        _likeliest_without(coach, position, own.tile),
        _likeliest_without(coach, position, best.tile),
    )


def _serves(coach: Coach, position: Position, tile: Tile) -> str:
    """Say which hand within reach a tile serves: the likeliest that is farther away without it."""
    rack, patterns = position.counts(), coach.engine.patterns
    with_it, without = away_one(patterns, rack), away_one(patterns, rack - counts_of((tile,)))
    for reading in within_reach(coach.engine.hands(position)):
        near, far = int(with_it[reading.variant]), int(without[reading.variant])
        if far > near:
            name, _ = told_against(patterns, coach.card, reading.variant, position.rack)
            return f"which {name} needs ({near} to go with it, {far} without)"
    return "which fits no hand within reach"


def _likeliest_without(coach: Coach, position: Position, tile: Tile) -> Target | None:
    rack = position.counts() - counts_of((tile,))
    left = replace(position, rack=tiles_of(rack), passed=(*position.passed, tile))
    return next(iter(targets_before(coach.engine, coach.card, left)), None)


def _named(coach: Coach, decision: Decision, answer: Answer | None) -> Judgement:
    """Judge a family named at a glance: by the chance of its best hand beside that of the likeliest hand."""
    position, hands = position_of(decision), coach.card.hands
    order = likeliest_first(coach.engine.hands(position))
    best_of = {hands[reading.hand].section: reading for reading in reversed(order)}
    best = order[0]
    place = decision.choices.index(hands[best.hand].section)
    named = best_of[decision.choices[place if answer is None else answer.number or 0]]
    loss = Estimate(100 * (best.win - named.win), 0.0)
    rating: Rating = "best" if loss.points < LEAST_TOLD else "close" if named.win >= _NEARLY * best.win else "costly"
    rack, patterns = position.counts(), coach.engine.patterns
    target, other = (target_of(patterns, coach.card, reading, rack) for reading in (best, named))
    likeliest = f"The likeliest hand is {target.name} in {decision.choices[place]} ({target.away} to go)"
    if rating == "best":
        plain, numbers = (f"{likeliest}.",), (f"{likeliest}: alone it wins {in_hundred(target.points)}.",)
    else:
        beside = f"the best of {hands[named.hand].section} is {other.name} ({other.away} to go)"
        plain = (f"{likeliest}; {beside}.",)
        wins = f"alone they win {in_hundred(target.points)} and {in_hundred(other.points)}"
        numbers = (f"{likeliest}; {beside}: {wins}.",)
    verdict = {"best": "Right.", "close": "Nearly as near.", "costly": "Another section is nearer."}[rating]
    number = decision.choices.index(hands[named.hand].section) if rating == "best" else place
    return Judgement(rating, verdict, loss, Answer(number=number), plain, numbers, other, target)


def _hand_named(coach: Coach, decision: Decision, answer: Answer | None) -> Judgement:
    """Judge a hand named after the last pass: by the chance of winning with it and no other."""
    position, names = position_of(decision), hand_names(coach.card)
    order = likeliest_first(coach.engine.hands(position))
    by_name = {names[reading.hand]: reading for reading in order}
    best = order[0]
    own = best if answer is None else by_name[decision.choices[answer.number or 0]]
    loss = Estimate(100 * (best.win - own.win), 0.0)
    rating: Rating = "best" if loss.points < LEAST_TOLD else "close" if own.win >= _NEARLY * best.win else "costly"
    rack, patterns = position.counts(), coach.engine.patterns
    target, other = (target_of(patterns, coach.card, reading, rack) for reading in (best, own))
    plain = f"The likeliest hand is {target}; played for alone it wins {in_hundred(target.points)}"
    if rating != "best":
        close = ", too close to call" if rating == "close" else ""
        plain = f"{plain}, {other.name} {in_hundred(other.points)}{close}"
    number = decision.choices.index(names[best.hand])
    verdict = {"best": "Right.", "close": "Nearly as likely.", "costly": "Another hand is likelier."}[rating]
    return Judgement(rating, verdict, loss, Answer(number=number), (f"{plain}.",), (f"{plain}.",), other, target)


def hand_names(card: Card) -> tuple[str, ...]:
    """Return the names of a card's hands, in its order."""
    return tuple(told.name for told in tell(card))

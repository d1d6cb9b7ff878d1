"""What the coach can be asked from a screen: plain functions, run in a process of their own (see coach_service).

Each takes and returns values that can be pickled, and reads no file. One that yields gives its answer bit by bit.
"""

from collections.abc import Iterator

from client.models.ask import Asked as AskedRack
from client.models.hint import Asked
from shared.coach.asking import Answer as RackAnswer
from shared.coach.asking import answer
from shared.coach.coach import Coach, coach_of
from shared.coach.decisions import Judgement, judge
from shared.coach.decisions import decision_of as decision_of
from shared.coach.filling import Filled, Turn, filling, one_game
from shared.coach.fresh import decisions_of_rack as decisions_of_rack
from shared.coach.fresh import fresh_decision
from shared.coach.heats import ToReview, comes_to
from shared.coach.heats import review_heat as _review_heat
from shared.coach.heats import to_review as to_review
from shared.coach.known import Known
from shared.coach.passes import Position
from shared.coach.reading import position_read
from shared.coach.review import Compared, Review, compare, seed_of
from shared.coach.review import look_ahead as _look_ahead
from shared.coach.seen import position_now, position_seen
from shared.coach.tempting import tempting
from shared.measures.side_by_side import HeatFound, StepFound
from shared.rules.decisions import Answer, Decision, Drill
from shared.rules.drills import Laid, Tempting
from shared.rules.seat_heat import SeatStep
from shared.rules.settings import Settings
from shared.rules.tiles import Rack

_KNOWN = Known()


def review_heat(asked: ToReview) -> Iterator[Review]:
    """Yield the growing review of a heat; what was asked while it ran is not asked again."""
    yield from _review_heat(asked, known=_KNOWN)


def look_at_handed(asked: ToReview) -> HeatFound:
    """Return what the review of a heat comes to, step by step, for a comparison with others."""
    *_, whole = review_heat(asked)
    steps = []
    for step in whole.steps:
        if step.verdict and step.lived.step.step != "plan":
            best = step.verdict.ways[0]
            steps.append(
                StepFound(
                    step=step.lived.step.step,
                    best=() if best.says else best.ranked.tiles,
                    blind=best.ranked.blind,
                    says=best.says,
                    words=best.words,
                    cost=step.verdict.loss,
                    close=step.verdict.too_close,
                )
            )
    return HeatFound(reviewed=comes_to(whole), steps=tuple(steps))


def look_ahead(card: str, asked: Asked) -> None:
    """Think about a step that has been answered, so that the review at the end comes at once."""
    position = position_seen(asked.heat, asked.settings) or position_now(asked.heat, asked.settings)
    step = SeatStep(
        step=asked.step, length_ms=0, budget_ms=0, spent_ms=0, by=asked.by, given=asked.tiles, blind=asked.blind
    )
    _look_ahead(_coach(card), step, position, seed_of(asked.heat), _KNOWN)


def compare_pass(card: str, position: Position, tiles: Rack, blind: int, seed: int = 1) -> Compared:
    """Return a pass beside the leading ones: for a second try (seed_of the heat) or a hint after a pass.

    Raises:
        ValueError: it is not legal in the position.
    """
    return compare(_coach(card), position, tiles, blind, seed, known=_KNOWN)


def compare_made(card: str, asked: Asked) -> Compared:
    """Return a pass that a seat has just made beside the leading ones, with the numbers that its review will have."""
    position = position_seen(asked.heat, asked.settings)
    if position is None:
        raise ValueError("No tiles are given at this step.")
    return compare(_coach(card), position, asked.tiles, asked.blind, seed_of(asked.heat), known=_KNOWN)


def judge_decision(card: str, decision: Decision, answer: Answer | None) -> Judgement:
    """Return what there is to say of an answer to a decision, or of its best answer if there was none in time.

    Raises:
        ValueError: it is not legal.
    """
    return judge(_coach(card), decision, answer)


def deal_decision(card: str, drill: Drill, settings: Settings, key: bytes) -> Decision:
    """Return a fresh decision of a drill.

    Raises:
        ValueError: none was found.
    """
    return fresh_decision(_coach(card), drill, settings, card, key)


def answer_asked(card: str, asked: AskedRack) -> RackAnswer:
    """Return the answer to a question about a typed rack.

    Raises:
        ValueError: with a sentence: the rack or what was passed cannot be.
    """
    position = position_read(asked.rack, asked.step, asked.passed, jokers=asked.jokers)
    if isinstance(position, str):
        raise ValueError(position)
    return answer(_coach(card), asked.question, position, asked.step)


def fill_rack(card: str, position: Position, seed: int) -> Iterator[Filled]:
    """Yield what came of a rack that is played on many times, as far as it has come."""
    yield from filling(_coach(card), position, seed)


def play_once(card: str, position: Position, seed: int) -> tuple[Turn, ...]:
    """Return one game of a rack that is played on, turn by turn."""
    return one_game(_coach(card), position, seed)


def lay_drill(card: str, kind: Tempting, settings: Settings, key: bytes) -> Laid:
    """Return a tempting deal.

    Raises:
        ValueError: none was found.
    """
    return tempting(_coach(card), kind, settings, key)


def _coach(card: str) -> Coach:
    coach = coach_of(card)
    if not isinstance(coach, Coach):
        raise ValueError("The card cannot be read.")
    return coach

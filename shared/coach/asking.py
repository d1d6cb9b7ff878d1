"""One question about a typed rack, answered in a headline and sentences; the whole reading stands beside it.

Every answer is the coach's own: a ranking, the votes, the discards. Must never guess what was not typed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from shared.cards.freedom import listed
from shared.cards.said import called
from shared.chances import in_hundred
from shared.coach.coach import Coach
from shared.coach.discards import FIRST, Discard
from shared.coach.filling import Bar, filling
from shared.coach.passes import Position
from shared.coach.questions import discard_said, offer_said, vote_said
from shared.coach.reading import RACK_SIZES, Reading, read_rack
from shared.coach.reasons import hands_now
from shared.coach.sentences import count_word, pass_said
from shared.coach.serving import Use, uses
from shared.coach.votes import Votes
from shared.rules.decisions import Question
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Tile

_ORDER = ("First", "Second", "Third")


@dataclass(frozen=True)
class Answer:
    """What the coach answers.

    Attributes:
        headline: the answer in a few words.
        said: why, in sentences.
        numbers: the same with points and chances.
        uses: each tile of the rack with what it is for.
        reading: everything else that there is to know.
        bars: for "fill": as in Filled.
    """

    headline: str
    said: tuple[str, ...]
    numbers: tuple[str, ...]
    uses: tuple[tuple[Tile, Use], ...]
    reading: Reading
    bars: tuple[Bar, ...] = ()


def question_at(step: StepName | None, tiles: int) -> Question:
    """Return what a step asks of a rack of so many tiles; after the last pass the dealer has a tile to discard."""
    if step is None:
        return "discard" if tiles == max(RACK_SIZES) else "hand"
    asks: dict[str, Question] = {"vote": "vote", "offer": "offer"}
    return asks.get(STEPS[step].ask, "pass")


def answer(
    coach: Coach, question: Question, position: Position, step: StepName | None, seed: int = 1, explained: int = 1
) -> Answer:
    """Answer a question about a rack.

    Args:
        coach: the card and its engine.
        question: one that the step and the number of tiles allow.
        position: from position_read.
        step: the step to play now, None after the last pass.
        seed: fixes the futures.
        explained: how many of the leading passes to put in words, at least one.
    """
    reading = read_rack(coach, position, step, seed, explained=max(explained, 1))
    hands = hands_now(coach.engine, coach.card, position)
    use = uses(coach, position.rack, [hand.variant for hand in hands])
    if question == "fill":
        *_, filled = filling(coach, position, seed)
        return Answer(filled.headline, filled.said, filled.said, use, reading, filled.bars)
    headline, said, numbers = _said(coach, question, position, reading)
    return Answer(headline, said, numbers, use, reading)


Said = tuple[str, tuple[str, ...], tuple[str, ...]]


def _said(coach: Coach, question: Question, position: Position, reading: Reading) -> Said:
    engine, card = coach.engine, coach.card
    if reading.votes is not None:
        told = vote_said(engine, card, position, reading.votes)
        return _vote(reading.votes), told.plain, told.numbers
    if question == "offer":
        best = reading.passes[0]
        told = offer_said(engine, card, position, best, best)
        return f"Offer {count_word(len(best.tiles))}: {pass_said(best)}.", told.plain, told.numbers
    if reading.passes:
        return _pass(question, reading)
    if question == "discard":
        first = reading.discards[:FIRST]
        said = tuple(
            discard_said(engine, card, position, what, each) for what, each in zip(_ORDER, first, strict=False)
        )
        return _discards(first), said, said
    return _hand(reading)


def _vote(votes: Votes) -> str:
    if votes.gap.too_close:
        return "Go on or stop: too close to call."
    return "Go on." if votes.gap.points > 0 else "Stop."


def _pass(question: Question, reading: Reading) -> Said:
    best, reasons = reading.passes[0], reading.words[0][1:]
    said = list(reasons)
    if reading.safest is not None:
        said.append(f"The safest of the good ones is {pass_said(reading.safest)}: it helps the next player least.")
    if question == "blind":
        other = next((one for one in reading.passes if bool(one.blind) != bool(best.blind)), None)
        if other is not None:
            worse = best.net - other.net
            what = "Passing only tiles that you see" if best.blind else "The best pass with unseen tiles"
            said.append(f"{what} ({pass_said(other)}) would cost {worse:.1f} points.")
    return f"Pass {pass_said(best)}.", tuple(said), tuple(said)


def _discards(first: Sequence[Discard]) -> str:
    return f"Discard {listed([called(each.tile) for each in first])}, in this order."


def _hand(reading: Reading) -> Said:
    first = reading.hands[0]
    said = tuple(
        f"{line.name}: {line.away} to go; with it alone you win {in_hundred(100 * line.win)}."
        for line in reading.hands[:3]
    )
    return f"{first.name}, {first.away} to go.", said[1:], said

"""Read a rack that somebody types in: every hand of the card, and the answer to the question at hand.

For real tiles, outside any heat. At a pass or the courtesy the answer is every legal pass, at the vote going on or
stopping, and once the passing is over the first discard. Must never guess what was not typed.
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.cards.picture import AgainstRack
from shared.coach.aims import LOOKS
from shared.coach.coach import Coach
from shared.coach.discards import Discard, discards
from shared.coach.engine import Check
from shared.coach.estimate import Estimate
from shared.coach.others import ROUND
from shared.coach.passes import PASS, Position, position_at, single_tiles, tiles_of
from shared.coach.ranking import READING, Effort, RankedPass, Ranking
from shared.coach.sentences import IT, tell_pass
from shared.coach.targets import HandReading, finish_alone, likeliest_first
from shared.coach.votes import Votes, votes
from shared.coach.words import told_against
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import COPIES, JOKER, KINDS, Rack, Tile

RACK_SIZES = (13, 14)
MOST_LOOKS = 99
_SAFER = 1.0
"""Points of gift that make a pass safer by enough to speak of."""


@dataclass(frozen=True)
class HandLine:
    """One hand of the card for a rack.

    Attributes:
        hand: its id, for files only.
        away: how many tiles its nearest variant lacks.
        win: the chance of winning with its likeliest variant and no other hand, 0 to 1.
        chance: the chance of finishing it alone in the position's looks, with nobody else at the table, 0 to 1.
        variant: the kinds that the likeliest variant wants and how many of each, in kind order.
        name: the hand's name on the card.
        drawn: its likeliest variant against the rack.
    """

    hand: str
    away: int
    win: float
    chance: float
    variant: tuple[tuple[Tile, int], ...]
    name: str
    drawn: AgainstRack


@dataclass(frozen=True)
class Reading:
    """What the coach says about a rack.

    Attributes:
        position: what we assume the seat knows.
        step: the step, None after the last pass.
        hands: all hands of the card, the likeliest first.
        worths: for each kind in the rack, the points that one tile of it adds, most first.
        passes: every legal pass, best first; none at the vote and once the passing is over.
        words: sentences about the leading passes, in their order.
        safest: the pass that helps its receiver least among those too close to the best to call; None if that is the
            best one, or not by enough to speak of.
        votes: both votes; None anywhere else.
        discards: every kind as the first discard, the least missed first; none before the passing is over.
    """

    position: Position
    step: StepName | None
    hands: tuple[HandLine, ...]
    worths: tuple[tuple[Tile, Estimate], ...]
    passes: tuple[RankedPass, ...] = ()
    words: tuple[tuple[str, ...], ...] = ()
    safest: RankedPass | None = None
    votes: Votes | None = None
    discards: tuple[Discard, ...] = ()


def position_read(
    rack: Rack, step: StepName | None, passed: Rack, looks: int = LOOKS, jokers: int = COPIES[JOKER]
) -> Position | str:
    """Return the position of a typed rack, or one sentence why there is none. jokers are those of the whole set.

    A rack has fourteen tiles for the dealer and thirteen for the others at every step, even at the courtesy: as many
    tiles come as go.
    """
    if len(rack) not in RACK_SIZES:
        wanted, mend = (
            (RACK_SIZES[0], "Type the others too.") if len(rack) < RACK_SIZES[0] else (RACK_SIZES[1], "Take some away.")
        )
        return f"A rack has 13 tiles, or 14 for the dealer; these are {len(rack)} of {wanted}. {mend}"
    if rack.count(JOKER) > jokers:
        return f"There are {jokers} jokers in the set; this rack has {rack.count(JOKER)}."
    if JOKER in passed:
        return "A joker is never passed, so none can be among the passed tiles."
    if not 1 <= looks <= MOST_LOOKS:
        return f"The number of draws is {looks}; it must be from 1 to {MOST_LOOKS}."
    ask = "plan" if step is None else STEPS[step].ask
    before = PASSES.index(step) if step in PASSES else ROUND if ask == "vote" else len(PASSES)
    most = PASS * before + (PASS if ask == "plan" else 0)
    if len(passed) > most:
        return f"Before {step or 'the play'} at most {most} tiles can have been passed; these are {len(passed)}."
    if step is None or ask in ("vote", "plan"):
        later = ROUND if ask == "vote" else 0
        return Position(rack, passed, later, (), False, looks, jokers, courtesy=not later, made=before)
    return replace(position_at(step, rack, passed, looks=looks), jokers=jokers)


def read_rack(
    coach: Coach,
    position: Position,
    step: StepName | None,
    seed: int = 1,
    *,
    explained: int = 5,
    effort: Effort = READING,
    check: Check | None = None,
) -> Reading:
    """Read a rack.

    Args:
        coach: the card and its engine.
        position: from position_read.
        step: the step to play now.
        seed: fixes the futures.
        explained: how many of the leading passes to put in words.
        effort: how much work it may cost.
        check: called with the share done; may raise Stopped.
    """
    engine = coach.engine
    readings = likeliest_first(engine.hands(position))
    ahead = PASS * position.ahead
    alone = finish_alone(engine.patterns, position.counts(), position.unseen(), position.looks, ahead)
    worths = _worths(coach, position, seed)
    reading = Reading(
        position,
        step,
        tuple(_line(coach, each, float(alone[each.hand]), position.rack) for each in readings),
        tuple(sorted(worths.items(), key=lambda worth: -worth[1].points)),
    )
    if position.gives:
        ranking = engine.rank(position, seed, effort, check=check)
        words = tuple(_told(coach, position, ranking, place, seed) for place in range(explained))
        return replace(reading, passes=ranking.passes, words=words, safest=_safest(ranking))
    if position.later:
        return replace(reading, votes=votes(engine, position, seed, effort, check))
    return replace(reading, discards=discards(engine, position, seed))


def _safest(ranking: Ranking) -> RankedPass | None:
    """Return the pass with the least gift among those that cannot be told from the best, if it gives clearly less."""
    best = ranking.best
    gaps = [(ranking.passes[place], ranking.gap(place)) for place in range(len(ranking.outcomes))]
    safest = min((one for one, gap in gaps if gap.too_close), key=lambda one: one.gift or 0.0, default=best)
    return safest if (best.gift or 0.0) - (safest.gift or 0.0) >= _SAFER else None


def _told(coach: Coach, position: Position, ranking: Ranking, place: int, seed: int) -> tuple[str, ...]:
    """Return the verdict on the pass at a place of a ranking, with its reasons; nothing where it was only screened."""
    if place >= len(ranking.outcomes):
        return ()
    own = ranking.passes[place]
    told = tell_pass(coach.engine, coach.card, position, own, ranking.best, ranking.gap(place), seed, IT)
    return (told.verdict, *told.plain)


def _worths(coach: Coach, position: Position, seed: int) -> dict[Tile, Estimate]:
    """Return what one tile of each kind adds, before the pass at hand; at the vote, before the next one."""
    if position.gives:
        return coach.engine.worths(position, seed)
    if position.later:
        return coach.engine.worths(replace(position, later=position.later - 1, gives=(PASS,)), seed)
    return worths_as_it_is(coach, position)


def worths_as_it_is(coach: Coach, position: Position) -> dict[Tile, Estimate]:
    """Return for each kind in the rack the points that one tile of it adds, if no pass is to come."""
    rack = position.counts()
    singles = np.array(list(single_tiles(rack)))
    lost = coach.engine.as_it_is(position) - 100 * coach.engine.changed_as_it_is(position, -singles.astype(np.int8))
    return {tiles_of(tile)[0]: Estimate(less, 0.0) for tile, less in zip(singles, lost.tolist(), strict=True)}


def _line(coach: Coach, reading: HandReading, alone: float, rack: Rack) -> HandLine:
    patterns = coach.engine.patterns
    wanted = patterns.wanted(reading.variant).tolist()
    variant = tuple((kind, count) for kind, count in zip(KINDS, wanted, strict=True) if count)
    name, drawn = told_against(patterns, coach.card, reading.variant, rack)
    return HandLine(coach.card.hands[reading.hand].id, reading.away, reading.win, alone, variant, name, drawn)

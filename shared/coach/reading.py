"""Read a rack that somebody types in: every hand of the card, the worth of each tile, every legal pass and its gift.

For real tiles, outside any heat. Must never guess what was not typed: without a step, the Charleston is over, and we
rank the passes as if three tiles had to go all the same.
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.cards.picture import AgainstRack
from shared.coach.coach import Coach
from shared.coach.engine import Check, Effort, RankedPass
from shared.coach.passes import LOOKS, PASS, Position, position_at, single_tiles, tiles_of
from shared.coach.playout import Estimate
from shared.coach.targets import HandReading, committed
from shared.coach.words import explain, told_against
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import JOKER, KINDS, Rack, Tile

READING = Effort(60, 128, True)
"""Screen every pass and try sixty in futures: a person can wait that long."""
RACK_SIZES = (13, 14)
MOST_LOOKS = 99


@dataclass(frozen=True)
class HandLine:
    """One hand of the card for a rack.

    Attributes:
        hand: its id, for files only.
        away: how many tiles its nearest variant lacks.
        chance: the finish chance of its likeliest variant, 0 to 1.
        variant: the kinds that this variant wants and how many of each, in kind order.
        name: the hand's name on the card.
        drawn: its likeliest variant against the rack.
    """

    hand: str
    away: int
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
        passes: every legal pass, best first; points, standard error and gift in points.
        words: sentences about the leading passes, in their order.
    """

    position: Position
    step: StepName | None
    hands: tuple[HandLine, ...]
    worths: tuple[tuple[Tile, Estimate], ...]
    passes: tuple[RankedPass, ...]
    words: tuple[tuple[str, ...], ...]


def position_read(rack: Rack, step: StepName | None, passed: Rack, looks: int = LOOKS) -> Position | str:
    """Return the position of a typed rack, or one sentence why there is none.

    A rack has fourteen tiles for the dealer and thirteen for the others at every step, even at the courtesy: as many
    tiles come as go.
    """
    if len(rack) not in RACK_SIZES:
        wanted, mend = (
            (RACK_SIZES[0], "Type the others too.") if len(rack) < RACK_SIZES[0] else (RACK_SIZES[1], "Take some away.")
        )
        return f"A rack has 13 tiles, or 14 for the dealer; these are {len(rack)} of {wanted}. {mend}"
    if JOKER in passed:
        return "A joker is never passed, so none can be among the passed tiles."
    if not 1 <= looks <= MOST_LOOKS:
        return f"The number of looks is {looks}; it must be from 1 to {MOST_LOOKS}."
    if step is None:
        return Position(rack, passed, 0, (PASS,), False, looks)
    if STEPS[step].ask not in ("pass", "offer", "give"):
        return f"No tiles are given at {step}."
    before = PASSES.index(step) if step in PASSES else len(PASSES)
    most = PASS * before
    if len(passed) > most:
        return f"Before {step} at most {most} tiles can have been passed; these are {len(passed)}."
    return position_at(step, rack, passed, looks=looks)


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
    ranking = engine.rank(position, seed, effort, check=check)
    now = replace(position, later=position.later + 1) if step in PASSES else position
    readings = sorted(engine.hands(now), key=lambda reading: (-reading.chance, reading.away, reading.hand))
    worths = engine.worths(position, seed) if step in PASSES else worths_as_it_is(coach, position)
    return Reading(
        position,
        step,
        tuple(_line(coach, reading, position.rack) for reading in readings),
        tuple(sorted(worths.items(), key=lambda worth: -worth[1].points)),
        ranking.passes,
        tuple(explain(engine, coach.card, position, ranked) for ranked in ranking.passes[:explained]),
    )


def worths_as_it_is(coach: Coach, position: Position) -> dict[Tile, Estimate]:
    """Return for each kind in the rack the points that one tile of it adds, if no pass is to come."""
    rack = position.counts()
    singles = np.array(list(single_tiles(rack)))
    racks = np.concatenate([rack[None], rack - singles])
    unseen = np.tile(position.unseen(), (len(racks), 1))
    points = 100 * committed(coach.engine.patterns, racks, unseen, position.looks, 0)
    lost = (points[0] - points[1:]).tolist()
    return {tiles_of(tile)[0]: Estimate(less, 0.0) for tile, less in zip(singles, lost, strict=True)}


def _line(coach: Coach, reading: HandReading, rack: Rack) -> HandLine:
    patterns = coach.engine.patterns
    wanted = (patterns.pairs[reading.variant] + patterns.groups[reading.variant]).tolist()
    variant = tuple((kind, count) for kind, count in zip(KINDS, wanted, strict=True) if count)
    name, drawn = told_against(patterns, coach.card, reading, rack)
    return HandLine(coach.card.hands[reading.hand].id, reading.away, reading.chance, variant, name, drawn)

"""The bots that fill empty seats, named after birds: legal, simple, and limited to what their seat can see.

A bot keeps what it has most of and passes its most isolated tiles. Its delay is drawn before it thinks and
depends on the step alone, so it reveals nothing about its tiles.
"""

from collections import Counter

from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.seats import Direction
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import JOKER, Rack, Tile, rank, suit
from shared.rules.wall import Stream
from shared.wire.views import HeatView

BIRDS = ("Heron", "Wren", "Plover", "Avocet", "Grebe", "Dunlin", "Teal", "Curlew")
_PACE_PERCENT = {"quick": (8, 25), "steady": (25, 60), "slow": (50, 90), "no wait": (25, 60)}
"""Shares of a step's length. With "no wait" the rest of a delay falls away once no person owes an answer."""
_LONELY = 4


def delay_ms(settings: Settings, step: StepName, stream: Stream) -> int:
    """Return how long a bot takes over a step, in milliseconds: a share of the step's length by the pace set."""
    low, high = _PACE_PERCENT[settings.bot_pace]
    return settings.length_ms(step) * (low * 10 + stream.below((high - low) * 10)) // 1000


def choose(view: HeatView, stream: Stream) -> SeatIntent:
    """Return a legal answer to the step that runs, from what the seat sees and nothing else."""
    assert view.step is not None
    lonely = loneliest(view.rack, stream)
    match STEPS[view.step].ask:
        case "vote":
            return Vote(go_on=True)
        case "offer":
            scores = company(view.rack)
            return offer(sum(scores[tile] < _LONELY for tile in lonely[:3]), view.step, stream)
        case "plan":
            return Plan(hand="", discards=lonely[:3])
        case _:
            return Pass(step=view.step, tiles=lonely[: view.give])


def offer(count: int, step: StepName, stream: Stream) -> Offer:
    """Return an offer at a step; where it may go to either side, chance says to which."""
    direction = STEPS[step].direction or (Direction.RIGHT, Direction.LEFT)[stream.below(2)]
    return Offer(count=count, to=direction.word)


def loneliest(rack: Rack, stream: Stream) -> Rack:
    """Return the tiles that may be passed, those with the least company first; equals in random order."""
    scores = company(rack)
    free = [tile for tile in stream.shuffled(rack) if tile != JOKER]
    return tuple(sorted(free, key=scores.__getitem__))


def company(rack: Rack) -> dict[Tile, int]:
    """Return for each kind in a rack how much it has beside it: its own kind most, then neighbours, then its suit."""
    counts = Counter(rack)
    return {tile: _company(tile, counts) for tile in counts}


def _company(tile: Tile, counts: Counter[Tile]) -> int:
    score = 4 * (counts[tile] - 1)
    own_rank, own_suit = rank(tile), suit(tile)
    if own_rank is None:
        return score
    for other, count in counts.items():
        other_rank = rank(other)
        if other != tile and other_rank is not None and suit(other) == own_suit:
            score += count * {1: 2, 2: 1}.get(abs(other_rank - own_rank), 0)
    return score

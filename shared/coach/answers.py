"""A bot's answer to any step of a heat, from its own seat's view and with the coach at a given strength.

Must never look past the view, and never wait: the table decides when to play the answer.
"""

from collections import Counter
from dataclasses import replace

import numpy as np

from shared.coach.coach import Coach
from shared.coach.passes import Position, tiles_of
from shared.coach.playout import played_out
from shared.coach.policies import Strength, choose
from shared.coach.seen import position_now, position_seen
from shared.coach.targets import HandReading
from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.rules.tiles import JOKER, KINDS, Rack
from shared.wire.views import HeatView

_FUTURES = 32
_DISCARDS = 3


def answer(coach: Coach, view: HeatView, settings: Settings, strength: Strength, seed: int) -> SeatIntent:
    """Return a legal answer to the running step; the same view and seed always give the same one.

    Raises:
        ValueError: no step runs.
    """
    if view.step is None:
        raise ValueError("No step runs.")
    position = position_seen(view, settings)
    if position is None:
        now = position_now(view, settings)
        return Vote(go_on=goes_on(coach, now, seed)) if STEPS[view.step].ask == "vote" else plan(coach, now)
    choice = choose(coach.engine, position, strength, np.random.Generator(np.random.PCG64(seed)))
    if STEPS[view.step].ask == "offer":
        return Offer(count=len(choice.tiles))
    return Pass(step=view.step, tiles=choice.tiles, blind=choice.blind)


def goes_on(coach: Coach, position: Position, seed: int) -> bool:
    """Say whether the rack is worth more with the later passes of its position than without them."""
    rack, unseen = position.counts(), position.unseen()
    ahead = played_out(coach.engine.patterns, rack, unseen, position.looks, position.later, _FUTURES, seed)
    return ahead.points >= coach.engine.committed(replace(position, later=0))


def likeliest(readings: tuple[HandReading, ...]) -> HandReading:
    """Return the hand with the greatest finish chance; ties go to the nearest, then to the first on the card."""
    return min(readings, key=lambda reading: (-reading.chance, reading.away, reading.hand))


def plan(coach: Coach, position: Position) -> Plan:
    """Name the likeliest hand and the tiles that it does not need, least useful to the rack first."""
    best = likeliest(coach.engine.hands(position))
    patterns = coach.engine.patterns
    wanted = patterns.pairs[best.variant] + patterns.groups[best.variant]
    idle = Counter(position.rack) - Counter(dict(zip(KINDS, wanted.tolist(), strict=True)))
    choices, measure = coach.engine.screen(replace(position, gives=(1,), later=0))
    order = np.argsort(-measure, kind="stable")
    kinds = [tiles_of(choices.tiles[choice])[0] for choice in order]
    discards: Rack = tuple(kind for kind in kinds if kind != JOKER for _ in range(idle[kind]))
    return Plan(hand=coach.card.hands[best.hand].id, discards=discards[:_DISCARDS])

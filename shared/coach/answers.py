"""A bot's answer to any step of a heat, from its own seat's view and with the coach at a given strength.

Must never look past the view, and never wait: the table decides when to play the answer.
"""

from collections import Counter

import numpy as np

from shared.coach.coach import Coach
from shared.coach.discards import discards
from shared.coach.passes import Position
from shared.coach.policies import Strength, choose
from shared.coach.seen import position_now, position_seen
from shared.coach.targets import likeliest_first
from shared.coach.votes import votes
from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.seats import Direction
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.rules.tiles import KINDS, Rack
from shared.wire.views import HeatView

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
        if STEPS[view.step].ask == "vote":
            return Vote(go_on=not votes(coach.engine, now, seed).clearly_stop)
        return plan(coach, now, seed)
    choice = choose(coach.engine, position, strength, np.random.Generator(np.random.PCG64(seed)))
    if STEPS[view.step].ask == "offer":
        side = (Direction.RIGHT, Direction.LEFT)[seed % 2]  # chance, as far as the rack goes
        return Offer(count=len(choice.tiles), to=(STEPS[view.step].direction or side).word)
    return Pass(step=view.step, tiles=choice.tiles, blind=choice.blind)


def plan(coach: Coach, position: Position, seed: int) -> Plan:
    """Name the likeliest hand and the tiles that it does not need, least missed first."""
    best = likeliest_first(coach.engine.hands(position))[0]
    patterns = coach.engine.patterns
    wanted = patterns.wanted(best.variant)
    idle = Counter(position.rack) - Counter(dict(zip(KINDS, wanted.tolist(), strict=True)))
    first = discards(coach.engine, position, seed)
    go: Rack = tuple(discard.tile for discard in first for _ in range(idle[discard.tile]))
    return Plan(hand=coach.card.hands[best.hand].id, discards=go[:_DISCARDS])

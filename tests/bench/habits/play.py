"""Heats of one planted player among three who play by the coach at a glance, each decision judged as a review would.

Only the planted seat is judged, and with less effort than a review takes: no sentences, fewer futures. Courtesy
passes and blind ones are left out.
"""

from collections.abc import Sequence
from functools import lru_cache
from hashlib import sha256

import numpy as np

from shared.coach.chance import Floats
from shared.coach.coach import Coach
from shared.coach.engine import Engine
from shared.coach.evidence import Plans, evidence
from shared.coach.passes import Choices, Position
from shared.coach.ranking import Effort
from shared.coach.votes import votes
from shared.measures.habits import KINDS, Decision
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.steps import FIRST, PASSES, STEPS, StepName
from shared.rules.tiles import Rack, remove
from shared.rules.wall import build_wall, deal
from tests.bench.habits.bots import NOBODY, Player

LEAN = Effort(((24, 64),))
"""Enough for the finder: a sample of reviews with full effort named the same."""
LATER = len(PASSES) - 1
_VOTE_MS = 5_000


class Remembering(Engine):
    """An engine that does not look twice: a player's choice and its review begin with the same quick look."""

    def screen(self, position: Position) -> tuple[Choices, Floats]:
        """Return every pass with its quick measure."""
        return _screened(self, position)


_screened = lru_cache(maxsize=8)(Engine.screen)


def run(coach: Coach, habit: str, strength: float, seed: int, heats: int, effort: Effort) -> list[Decision]:
    """Return all decisions of a player with a habit in so many heats."""
    dice = np.random.default_rng([seed, (*KINDS, NOBODY).index(habit)])
    player = Player(coach, habit, strength, dice)
    keys = [sha256(f"habits {seed} {habit} {number}".encode()).digest() for number in range(heats)]
    return [one for number, key in enumerate(keys) for one in play(coach, player, key, number, effort)]


def play(coach: Coach, player: Player, key: bytes, number: int, effort: Effort) -> list[Decision]:
    """Return a heat's decisions; the planted player sits at another seat in every heat."""
    racks, _ = deal(build_wall(key, 8))
    passed: PerSeat[Rack] = PerSeat.of(lambda seat: ())
    own, seed, plans = Seat(number % 4), int.from_bytes(key[:4], "big"), Plans()
    glance = Player(coach, NOBODY, 0.0, player.dice)
    player.begin(racks[own])
    found: list[Decision] = []
    for made, step in enumerate(PASSES):
        if made == len(FIRST):
            found.append(_vote(coach, player, Position(racks[own], passed[own], 0, ()), number, seed, effort))
            if not found[-1].went_on:
                break
        at = [Position(racks[seat], passed[seat], LATER - made, (3,), False, made=made) for seat in SEATS]
        chosen = [(player if seat == own else glance).passes(step, at[seat]) for seat in SEATS]
        decision, plans = _judged(coach, number, step, at[own], *chosen[own], plans, seed, effort)
        found.append(decision)
        racks, passed = _exchanged(step, racks, passed, [tiles for tiles, _ in chosen])
    return found


def _exchanged(
    step: StepName, racks: PerSeat[Rack], passed: PerSeat[Rack], given: Sequence[Rack]
) -> tuple[PerSeat[Rack], PerSeat[Rack]]:
    direction = STEPS[step].direction
    assert direction is not None
    after = PerSeat.of(lambda seat: (*(remove(racks[seat], given[seat]) or ()), *given[seat.feeder(direction)]))
    return after, PerSeat.of(lambda seat: (*passed[seat], *given[seat]))


def _vote(coach: Coach, player: Player, now: Position, number: int, seed: int, effort: Effort) -> Decision:
    gap = votes(coach.engine, now, seed, effort).gap
    on = player.goes_on(gap.points)
    loss = max(0.0, -gap.points if on else gap.points)
    return Decision(number, "go on", now.rack, (), (), loss, gap.se, _VOTE_MS, went_on=on)


def _judged(
    coach: Coach,
    number: int,
    step: StepName,
    position: Position,
    tiles: Rack,
    seconds: float,
    plans: Plans,
    seed: int,
    effort: Effort,
) -> tuple[Decision, Plans]:
    ranking = coach.engine.rank(position, seed, effort, also=((tiles, 0),))
    gap = ranking.gap(ranking.place(tiles))
    told, after = evidence(coach.engine, position, ranking, tiles, plans)
    decision = Decision(
        number,
        step,
        position.rack,
        tiles,
        told.best,
        max(0.0, gap.points),
        gap.se,
        round(1000 * seconds),
        told.stake,
        told.first_plan,
        told.last_plan,
    )
    return decision, after

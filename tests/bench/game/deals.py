"""Racks after the Charleston, of tables with the first release's seats: softened greedy, or coached at a glance."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.bench.first_release import charlestons
from tests.bench.first_release.charlestons import Policy
from tests.bench.first_release.distance import counts_of
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.flow import SIX_PASSES
from tests.bench.first_release.passes import LOOKS, Position, tiles_of
from tests.bench.first_release.policies import Strength, choose
from tests.bench.first_release.targets import SET, committed
from tests.bench.game.odds import Floats
from tests.bench.game.play import Counts

Seat = Literal["softened", "coached"]
STRENGTH: Strength = "coach, at a glance"


@dataclass(frozen=True, eq=False)
class Deals:
    """Racks after six passes and what each seat has passed, each of shape (deals, 4, 36)."""

    racks: Counts
    passed: Counts


def after_six_passes(engine: Engine, seats: tuple[Seat, ...], deals: int, rng: np.random.Generator) -> Deals:
    """Deal and pass six times; who sits where is given for the seats in order of play, the dealer first."""
    racks = charlestons.deal(rng, deals)
    passed = np.zeros_like(racks)
    policy = Policy.of(engine.patterns)
    softened = [seat for seat, kind in enumerate(seats) if kind == "softened"]
    for number, direction in enumerate(SIX_PASSES):
        given = np.zeros_like(racks)
        if softened:
            theirs = policy.choose(racks[:, softened].reshape(-1, racks.shape[2]), rng)
            given[:, softened] = theirs.reshape(deals, len(softened), -1)
        for seat in set(range(len(seats))) - set(softened):
            for deal in range(deals):
                rack, before = tiles_of(racks[deal, seat]), tiles_of(passed[deal, seat])
                position = Position(rack, before, len(SIX_PASSES) - 1 - number)
                given[deal, seat] = counts_of(choose(engine, position, STRENGTH, rng).tiles)
        racks = racks - given + np.roll(given, direction, axis=1)
        passed = passed + given
    return Deals(racks, passed)


def committed_points(engine: Engine, deals: Deals) -> Floats:
    """Return the first release's value of each rack when the passing is over, in points, shape (deals, 4)."""
    racks = deals.racks.reshape(-1, deals.racks.shape[2])
    unseen = SET - np.minimum(racks + deals.passed.reshape(racks.shape), SET)
    points: Floats = 100 * committed(engine.patterns, racks, unseen, LOOKS, 0)
    return points.reshape(deals.racks.shape[:2])

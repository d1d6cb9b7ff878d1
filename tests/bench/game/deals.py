"""Racks after the Charleston, of tables with the first release's seats: softened greedy, or coached at a glance."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import product
from typing import Literal

import numpy as np

from shared.coach.engine import Engine as NowEngine
from shared.coach.passes import Position as NowPosition
from shared.coach.ranking import Effort
from shared.rules.tiles import Rack
from tests.bench.first_release import charlestons
from tests.bench.first_release.charlestons import Policy
from tests.bench.first_release.distance import counts_of
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.flow import SIX_PASSES
from tests.bench.first_release.passes import LOOKS, Position, tiles_of
from tests.bench.first_release.policies import Strength, choose
from tests.bench.first_release.targets import SET, committed
from tests.bench.game.hands import Ints
from tests.bench.game.odds import Floats
from tests.bench.game.play import Counts

Seat = Literal["softened", "coached"]
STRENGTH: Strength = "coach, at a glance"


Chooser = Callable[[Position, np.random.Generator], Rack]
"""What a seat passes at a step."""


@dataclass(frozen=True, eq=False)
class Deals:
    """Racks after six passes and what each seat has passed, each of shape (deals, 4, 36)."""

    racks: Counts
    passed: Counts


def of_strength(engine: Engine, strength: Strength) -> Chooser:
    """Return the chooser of one of the first release's bots."""
    return lambda position, dice: choose(engine, position, strength, dice).tiles


@lru_cache(maxsize=200_000)
def _glance(engine: Engine, position: Position) -> Rack:
    return choose(engine, position, STRENGTH, np.random.Generator(np.random.PCG64(0))).tiles


def _at_a_glance(engine: Engine, position: Position, _: np.random.Generator) -> Rack:
    """Choose as the first release did at a glance: without dice, so that one position in several arms is one answer."""
    return _glance(engine, position)


def of_today(engine: NowEngine, effort: Effort, *, valued: bool = False) -> Chooser:
    """Return the chooser that plays by today's coach with this much work, to win or for the hands' values."""

    def choose_now(position: Position, dice: np.random.Generator) -> Rack:
        now = NowPosition(position.rack, position.passed, position.later, valued=valued)
        return engine.rank(now, int(dice.integers(2**32)), effort).best.tiles

    return choose_now


def after_six_passes(
    engine: Engine,
    seats: tuple[Seat, ...],
    deals: int,
    rng: np.random.Generator,
    changed: Chooser | None = None,
    passes: int = len(SIX_PASSES),
) -> Deals:
    """Deal and pass six times, or fewer; who sits where is given for the seats in order of play, the dealer first.

    With `changed` one seat plays by it, another in every deal: number 0 in the first, then 1, 2, 3, 0. The same
    generator makes the same deals and the same chance for the others whoever sits there.
    """
    racks = charlestons.deal(rng, deals)
    dice = rng.spawn(deals)
    passed = np.zeros_like(racks)
    policy = Policy.of(engine.patterns)
    coached: Chooser = partial(_at_a_glance, engine)
    softened = [seat for seat, kind in enumerate(seats) if kind == "softened"]
    for number, direction in enumerate(SIX_PASSES[:passes]):
        given = np.zeros_like(racks)
        if softened:
            theirs = policy.choose(racks[:, softened].reshape(-1, racks.shape[2]), rng)
            given[:, softened] = theirs.reshape(deals, len(softened), -1)
        for deal, seat in product(range(deals), range(len(seats))):
            chooser = changed if changed and seat == deal % len(seats) else coached
            if chooser is coached and seat in softened:
                continue
            rack, before = tiles_of(racks[deal, seat]), tiles_of(passed[deal, seat])
            position = Position(rack, before, len(SIX_PASSES) - 1 - number)
            given[deal, seat] = counts_of(chooser(position, dice[deal]))
        racks = racks - given + np.roll(given, direction, axis=1)
        passed = passed + given
    return Deals(racks, passed)


def among_others(deals: Deals, deal: int, seat: int, count: int, rng: np.random.Generator) -> tuple[Counts, Ints]:
    """Return one rack among the three other racks of other deals, with walls: racks (count, 4, 36), walls (count, 99).

    So many games with one rack tell what the rack is worth whoever sits around it. Where a rack and the others hold
    more of a kind than there are, the others get other tiles that are left instead: three or four of their 39.
    """
    racks, walls = [], []
    for _ in range(count):
        other = int(rng.integers(len(deals.racks) - 1))
        table = deals.racks[other + (other >= deal)].astype(np.int32)
        table[seat] = deals.racks[deal, seat]
        owed = []
        for kind in np.flatnonzero(table.sum(axis=0) > SET):
            for _ in range(int(table[:, kind].sum() - SET[kind])):
                holders = [who for who in range(len(table)) if who != seat and table[who, kind]]
                owed.append(holders[int(rng.integers(len(holders)))])
                table[owed[-1], kind] -= 1
        left = rng.permuted(np.repeat(np.arange(len(SET), dtype=np.int32), SET - table.sum(axis=0)))
        for who, kind in zip(owed, left, strict=False):
            table[who, kind] += 1
        racks.append(table.astype(np.uint8))
        walls.append(left[len(owed) :])
    return np.array(racks), np.array(walls)


def committed_points(engine: Engine, deals: Deals) -> Floats:
    """Return the first release's value of each rack when the passing is over, in points, shape (deals, 4)."""
    racks = deals.racks.reshape(-1, deals.racks.shape[2])
    unseen = SET - np.minimum(racks + deals.passed.reshape(racks.shape), SET)
    points: Floats = 100 * committed(engine.patterns, racks, unseen, LOOKS, 0)
    return points.reshape(deals.racks.shape[:2])


def said_to_win(engine: NowEngine, deals: Deals, passes: int) -> Floats:
    """Return what today's coach says each rack wins in a hundred games after so many passes, shape (deals, 4)."""
    racks, passed = (tiles.reshape(-1, tiles.shape[2]) for tiles in (deals.racks, deals.passed))
    said = [
        engine.as_it_is(NowPosition(tiles_of(rack), tiles_of(gone), 0, (), made=passes))
        for rack, gone in zip(racks, passed, strict=True)
    ]
    return np.array(said).reshape(deals.racks.shape[:2])

"""Positions of seeded deals, after as many passes as the step says."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.rules.tiles import INDEX, Rack
from tests.bench.first_release.charlestons import Policy
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.passes import PASS, Position, tiles_of
from tests.bench.game.deals import STRENGTH, Seat, after_six_passes, of_strength

SEATS = 4


@dataclass(frozen=True, eq=False)
class Case:
    """A position with what the first release's Position does not say.

    Attributes:
        position: what the seat knows.
        gave: the kinds that it passed at each step before, shape (steps, 3).
        sizes: how many tiles the seats were dealt, this seat first, then in order of play.
    """

    position: Position
    gave: NDArray[np.intp]
    sizes: tuple[int, ...]


def cases(engine: Engine, table: Seat, step: int, seed: tuple[int, ...]) -> list[Case]:
    """Return the positions of the four seats at a step (0 for first right), each of a deal of its own."""
    seen: list[list[tuple[Position, Rack]]] = [[] for _ in range(SEATS)]
    coached, softened = of_strength(engine, STRENGTH), Policy.of(engine.patterns)
    turn = _turns()

    def chooser(position: Position, dice: np.random.Generator) -> Rack:
        if table == "coached":
            tiles = coached(position, dice)
        else:
            tiles = tiles_of(softened.choose(position.counts()[None], dice)[0])
        seen[next(turn)].append((position, tiles))
        return tiles

    rng = np.random.Generator(np.random.PCG64(seed))
    after_six_passes(engine, (table,) * SEATS, SEATS, rng, chooser)
    found = []
    for seat, made in enumerate(seen):
        gave = np.array([[INDEX[tile] for tile in tiles] for _, tiles in made[:step]], dtype=np.intp)
        sizes = tuple(14 if (seat + place) % SEATS == 0 else 13 for place in range(SEATS))
        found.append(Case(made[step][0], gave.reshape(step, PASS), sizes))
    return found


def _turns() -> Iterator[int]:
    """Yield whose turn it is: in deal 0 the changed seat is the dealer, in deal 1 the next one, and so on."""
    while True:
        yield from range(SEATS)

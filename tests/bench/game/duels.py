"""Two ways to pass, compared in the same deals and walls: what one seat wins more with the one than with the other."""

import numpy as np

from tests.bench.first_release.engine import Engine
from tests.bench.game.deals import Chooser, Seat, after_six_passes, committed_points
from tests.bench.game.hands import Hands
from tests.bench.game.parts import Part
from tests.bench.game.play import play, walls_of

SEATS = 4


def duel(
    engine: Engine,
    hands: Hands,
    choosers: tuple[Chooser, Chooser],
    seats: Seat,
    deals: int,
    endings: int,
    seed: tuple[int, ...],
) -> Part:
    """Return what one seat has more with the first chooser than with the second, a number for each deal.

    The other three seats are the first release's in both arms, the deals and the shuffles of the walls the same.
    """
    wins, points = [], []
    for chooser in choosers:
        rng = np.random.Generator(np.random.PCG64(seed))
        made = after_six_passes(engine, (seats,) * SEATS, deals, rng, chooser)
        winner = play(hands, made.racks, walls_of(made.racks, endings, rng)).winner.reshape(deals, endings)
        who = np.arange(deals) % SEATS
        wins.append((winner == who[:, None]).mean(axis=1))
        points.append(committed_points(engine, made)[np.arange(deals), who])
    return {"wins": (100 * (wins[0] - wins[1])).tolist(), "points": (points[0] - points[1]).tolist()}

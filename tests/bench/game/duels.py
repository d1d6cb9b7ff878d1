"""Ways to pass, compared in the same deals and walls: what one seat wins, and ends with, by each of them."""

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
    choosers: dict[str, Chooser],
    seats: Seat,
    deals: int,
    endings: int,
    seed: tuple[int, ...],
) -> Part:
    """Return the games won in a hundred and the committed points of one seat by each chooser, a number for each deal.

    The other three seats are the first release's in all arms, the deals and the shuffles of the walls the same.
    """
    found: Part = {"wins": {}, "points": {}}
    for name, chooser in choosers.items():
        rng = np.random.Generator(np.random.PCG64(seed))
        made = after_six_passes(engine, (seats,) * SEATS, deals, rng, chooser)
        winner = play(hands, made.racks, walls_of(made.racks, endings, rng)).winner.reshape(deals, endings)
        who = np.arange(deals) % SEATS
        found["wins"][name] = (100 * (winner == who[:, None]).mean(axis=1)).tolist()
        found["points"][name] = committed_points(engine, made)[np.arange(deals), who].tolist()
    return found

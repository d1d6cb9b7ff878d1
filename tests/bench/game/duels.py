"""Ways to pass, compared in the same deals and walls: what one seat wins, and ends with, by each of them."""

from collections.abc import Sequence

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
    values: Sequence[int],
    choosers: dict[str, Chooser],
    seats: Seat,
    deals: int,
    endings: int,
    seed: tuple[int, ...],
) -> Part:
    """Return what one seat comes to by each chooser: games won in a hundred, value won a game, committed points.

    Each is a number for each deal. The other three seats are the first release's in all arms, the deals and the
    shuffles of the walls the same. values are what the card's hands count.
    """
    found: Part = {"wins": {}, "values": {}, "points": {}}
    worth = np.array(values)
    for name, chooser in choosers.items():
        rng = np.random.Generator(np.random.PCG64(seed))
        made = after_six_passes(engine, (seats,) * SEATS, deals, rng, chooser)
        games = play(hands, made.racks, walls_of(made.racks, endings, rng))
        who = np.arange(deals) % SEATS
        is_won = games.winner.reshape(deals, endings) == who[:, None]
        value = worth[hands.hand[games.variant]].reshape(deals, endings)
        found["wins"][name] = (100 * is_won.mean(axis=1)).tolist()
        found["values"][name] = (is_won * value).mean(axis=1).tolist()
        found["points"][name] = committed_points(engine, made)[np.arange(deals), who].tolist()
    return found

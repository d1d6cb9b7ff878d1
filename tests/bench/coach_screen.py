"""How often the first look at all passes loses the best one: it lets only some of them into the futures.

Every legal pass of a position meets futures here, and the leading ones meet more. The best is chosen by one half of
these futures and measured in the other half, once among all passes and once among those that the look lets through.
"""

import numpy as np

from shared.coach.engine import Engine
from shared.coach.passes import Position
from shared.coach.ranking import HINT, THINK, Effort

WIDE = Effort(((None, 64), (80, 256), (40, 1024)))


def lost(engine: Engine, position: Position, seed: int) -> dict[str, tuple[float, bool]]:
    """Return by effort what the look loses, in points, and whether the best pass stays outside."""
    choices, measure = engine.screen(position)
    order = np.argsort(-measure, kind="stable")
    ranking = engine.rank(position, seed, WIDE)
    leading = np.flatnonzero(~np.isnan(ranking.outcomes).any(axis=1))
    net = ranking.outcomes[leading] - np.array([ranking.passes[place].given for place in leading])[:, None]
    chosen_by, measured_by = net[:, ::2].mean(axis=1), net[:, 1::2].mean(axis=1)
    place = {int(row): number for number, row in enumerate(order)}
    passes = [ranking.passes[each] for each in leading]
    places = np.array([place[choices.find(ranked.tiles, ranked.blind)] for ranked in passes])
    best = int(np.argmax(chosen_by))
    found = {}
    for name, effort in (("hint", HINT), ("thinking", THINK)):
        inside = np.flatnonzero(places < (effort.rounds[0][0] or len(order)))
        held = inside[np.argmax(chosen_by[inside])]
        found[name] = float(measured_by[best] - measured_by[held]), bool(places[best] not in places[inside])
    return found


def looks(engine: Engine, positions: list[Position], seed: int) -> dict[str, dict[str, float]]:
    """Return by effort the mean loss with its error, and the share of positions whose best pass stays outside."""
    each = [lost(engine, position, seed + number) for number, position in enumerate(positions)]
    result = {}
    for name in each[0]:
        points = np.array([one[name][0] for one in each])
        outside = np.array([one[name][1] for one in each])
        result[name] = {
            "points lost": float(points.mean()),
            "error": float(points.std(ddof=1) / len(points) ** 0.5),
            "best pass outside, share": float(outside.mean()),
        }
    return result

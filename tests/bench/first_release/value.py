"""What a rack is worth: one number from the chances of all its targets.

Must never see tiles: it adds up chances. When no pass is to come the best target is all that counts. Before that,
several good targets are worth more than the best of them, because tiles decide later which it will be. How much more
is measured: over whole heats on the practice card the mean of this value, at each number of passes to come, is the mean
of what the heats ended with. The benchmark prints how well that holds.
"""

import numpy as np

from tests.bench.first_release.chance import Floats

_BY_PASSES_TO_COME = ((0, np.inf), (1, 6.0), (3, 4.3), (6, 3.6), (8, 2.75), (10, 2.2))
"""By passes to come: how many of their tiles are counted as drawn from all that is unseen, fewer than three a pass
because the other seats pass what the card asks for least; and the power mean of the odds of all targets, from the best
alone to nearly all of them together."""
_SURE = 1 - 1e-9


def _measured(later: int) -> tuple[int, float]:
    return _BY_PASSES_TO_COME[min(later, len(_BY_PASSES_TO_COME) - 1)]


def later_tiles(later: int) -> int:
    """Return how many tiles of so many later passes count towards the chances that a rack is valued by."""
    return _measured(later)[0]


def together(chances: Floats, later: int) -> Floats:
    """Return the value of racks from the chances of their targets, shape (..., targets) to (...), 0 to 1.

    Args:
        chances: finish chances of each rack's targets.
        later: passes of three tiles still to come.
    """
    power = _measured(later)[1]
    best: Floats = chances.max(axis=-1)
    if np.isinf(power):
        return best
    top = np.minimum(best, _SURE)
    odds = np.minimum(chances, _SURE) / (1 - np.minimum(chances, _SURE))
    most = np.maximum(top / (1 - top), 1e-300)
    total: Floats = most * ((odds / most[..., None]) ** power).sum(axis=-1) ** (1 / power)
    return total / (1 + total)

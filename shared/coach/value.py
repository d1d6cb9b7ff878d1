"""The worth of a rack: one number from the chances of all its targets.

Must never see tiles, only chances. If no pass is to come, only the best target counts. Before that, several good
targets are worth more than the best of them, because later tiles decide between them. How much more is fitted: over
whole heats on the practice card, at each number of passes to come, the mean of this value equals the mean final result.
The benchmark prints how well it fits.
"""

import numpy as np

from shared.coach.chance import Floats

_BY_PASSES_TO_COME = ((0, np.inf), (1, 6.0), (3, 4.3), (6, 3.6), (8, 2.75), (10, 2.2))
"""By passes to come: how many of their tiles count as drawn from all unseen tiles (fewer than three for each pass,
because the other seats pass what the card wants least); and the exponent of the power mean over all targets' odds, from
the best alone to nearly all of them together."""
_SURE = 1 - 1e-9


def _measured(later: int) -> tuple[int, float]:
    return _BY_PASSES_TO_COME[min(later, len(_BY_PASSES_TO_COME) - 1)]


def later_tiles(later: int) -> int:
    """Return how many tiles to count for this many later passes when valuing a rack."""
    return _measured(later)[0]


def together(chances: Floats, later: int) -> Floats:
    """Return the worth of racks from the chances of their targets, shape (..., targets) to (...), 0 to 1.

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

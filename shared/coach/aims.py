"""What the coach aims at, and how the chances of a rack's targets become one number, the worth of the rack.

Must never see tiles, only chances.

One target alone says too little: several good ones are worth more than the best of them, because tiles decide between
them later. So a worth is a power mean of all targets' odds, as a chance. The more passes are to come, the more the
targets behind the best one count. A rack is tried in futures in which the tiles of the next passes have come; tiles
of passes beyond those are only counted. What is left of the error is straightened by one line in log odds for each
number of passes to come, fitted over whole heats (`python -m tests.bench.stages` fits and prints it).
"""

from dataclasses import dataclass, replace

import numpy as np

from shared.coach.chance import Floats, Play

LOOKS = 30
"""Draws of a seat that plays alone, where nothing else is said."""
_SURE = 1 - 1e-9
_COUNTED = (0, 1, 3, 6, 8, 10)
"""How many tiles count for so many later passes: fewer than three each, since others pass what the card wants least."""
_DRAWN = (0, 0, 0, 1, 2, 3)
"""How many of so many later passes a future draws."""


@dataclass(frozen=True)
class Stage:
    """How a worth is made with a number of passes to come.

    Attributes:
        power: exponent of the mean over the targets' odds; the best alone counts at infinity.
        shift, slope: the line in log odds that straightens it.
    """

    power: float
    shift: float = 0.0
    slope: float = 1.0


@dataclass(frozen=True)
class Aim:
    """What a worth is a chance of.

    Attributes:
        play: what comes after the Charleston.
        given: how much of a gift counts against a pass to a neighbour: none, where nobody else is at the table.
        stages: by passes to come: the first for a rack as it is, the next for what the last pass may leave, and so on.
    """

    play: Play
    given: float
    stages: tuple[Stage, ...]

    def worth(self, chances: Floats, ahead: int) -> Floats:
        """Return the worth of racks from the chances of their targets, shape (..., targets) to (...), 0 to 1.

        Args:
            chances: finish chances of each rack's targets in this aim's play.
            ahead: passes of three tiles still to come, the one at hand among them.
        """
        stage = self.stages[min(ahead, len(self.stages) - 1)]
        straight: Floats = np.exp(stage.shift) * _together(chances, stage.power) ** stage.slope
        return straight / (1 + straight)

    def in_all(self, chances: Floats) -> Floats:
        """Return the chance that one of the targets is finished, as they are, with no pass to come; shape as worth."""
        odds = _together(chances, self.stages[0].power)
        return odds / (1 + odds)


def _together(chances: Floats, power: float) -> Floats:
    odds = np.minimum(chances, _SURE) / (1 - np.minimum(chances, _SURE))
    most: Floats = np.maximum(odds.max(axis=-1), 1e-300)
    if np.isfinite(power):
        most = most * ((odds / most[..., None]) ** power).sum(axis=-1) ** (1 / power)
    return most


def drawn_passes(later: int) -> int:
    """Return how many of the later passes a future draws."""
    return _DRAWN[min(later, len(_DRAWN) - 1)]


def counted_tiles(later: int, drawn: int = 0) -> int:
    """Return how many tiles to count for later passes of which so many are drawn."""
    return _COUNTED[min(later - drawn, len(_COUNTED) - 1)]


def finishing(draws: int = LOOKS) -> Aim:
    """Return the aim of finishing one target alone, with so many draws and nobody else at the table."""
    return Aim(Play.alone(draws), 0.0, _FINISHING)


def winning(draws: tuple[int, ...], *, both: bool = True, courtesy: bool = False) -> Aim:
    """Return the aim of winning the hand at a table of four.

    Args:
        draws: weights of 0, 1, 2... own draws before one of the others ends the hand.
        both: whether both Charlestons are played.
        courtesy: whether the courtesy pass is at hand or done.
    """
    end, *ahead = _WINNING if both else _WINNING_AFTER_ONE
    end = replace(end, shift=end.shift - _COURTESY * courtesy)
    return Aim(Play(draws, _DISCARDS, _LAST, _OFFERED), _GIVEN, (end, *ahead))


_FINISHING = (
    Stage(np.inf),
    Stage(np.inf, -0.045),
    Stage(6.0, 0.025, 1.045),
    Stage(6.0, 0.039, 1.002),
    Stage(6.0, 0.027, 1.008),
    Stage(6.0, -0.066, 0.974),
    Stage(6.0, -0.136, 0.989),
)
_WINNING = (
    Stage(4.0, 0.015, 1.058),
    Stage(4.0, -0.002, 1.040),
    Stage(4.0, 0.050, 0.979),
    Stage(4.0, 0.055, 0.911),
    Stage(4.0, -0.002, 0.879),
    Stage(5.0, -0.026, 0.847),
    Stage(5.0, -0.126, 0.818),
)
_WINNING_AFTER_ONE = (
    Stage(3.0, 0.013, 1.038),
    Stage(3.0, 0.053, 1.038),
    Stage(3.0, 0.206, 0.932),
    Stage(3.0, 0.354, 0.898),
)
"""Racks as they are: fitted to 32,000 games of the simulator (seed 431), and after one Charleston to 32,000 at coached
and softened tables (seeds 481, 482). Lines of the passes: over 600 heats (seed 441), after one Charleston over 600
(seed 484), its last pass by the luck of 600 more (seed 486); of the other aim over 600 (seed 411); all spent."""
_COURTESY = 0.17
"""A courtesy pass helps every seat alike, so what it brings on average is taken off first."""
_GIVEN = 0.1
_DISCARDS = 3
_LAST = 0.1
_OFFERED = tuple(round(0.9 * 0.6 ** max(copies - 1, 0), 6) for copies in range(9))
"""Fitted with the share of last tiles and the power of the mean to the games that 1,024 racks won in the simulator of
tests/bench/game (32 games each, seed 402): a tile of which many copies are out is kept by the others."""

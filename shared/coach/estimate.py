"""A mean over sampled futures, with its standard error."""

from dataclasses import dataclass

from shared.coach.chance import Floats

LEAST_TOLD = 0.05
"""Points below which a difference would be told as 0.0."""


@dataclass(frozen=True)
class Estimate:
    """A mean over sampled futures in points (a chance in percent) and its standard error."""

    points: float
    se: float

    @property
    def too_close(self) -> bool:
        """Whether as a difference it is too close to call: below two of its standard errors, or told as 0.0."""
        return abs(self.points) < max(2 * self.se, LEAST_TOLD)

    @classmethod
    def of(cls, chances: Floats) -> "Estimate":
        """Return the estimate from each future's chance, shape (futures,)."""
        spread = float(chances.std(ddof=1)) if len(chances) > 1 else 0.0
        return cls(100 * float(chances.mean()), 100 * spread / len(chances) ** 0.5)

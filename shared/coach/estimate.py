"""A mean over sampled futures, with its standard error."""

from dataclasses import dataclass

from shared.coach.chance import Floats


@dataclass(frozen=True)
class Estimate:
    """A mean over sampled futures in points (a chance in percent) and its standard error."""

    points: float
    se: float

    @classmethod
    def of(cls, chances: Floats) -> "Estimate":
        """Return the estimate from each future's chance, shape (futures,)."""
        spread = float(chances.std(ddof=1)) if len(chances) > 1 else 0.0
        return cls(100 * float(chances.mean()), 100 * spread / len(chances) ** 0.5)

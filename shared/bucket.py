"""A bound on how often something may happen: a burst at once, then so many a second. Reads no clock."""


class Bucket:
    """Lets burst through at once and per_s a second after that."""

    def __init__(self, per_s: int, burst: int) -> None:
        self._per_s, self._burst, self._left, self._at_ms = per_s, burst, float(burst), 0

    def take(self, at_ms: int) -> bool:
        """Say whether one more may pass at this moment."""
        self._gain(at_ms)
        if self._left < 1:
            return False
        self._left -= 1
        return True

    def next_ms(self) -> int:
        """Return from when on one more may pass."""
        return self._at_ms + (0 if self._left >= 1 else int((1 - self._left) * 1_000 / self._per_s) + 1)

    def _gain(self, at_ms: int) -> None:
        gained = (at_ms - self._at_ms) * self._per_s / 1_000
        self._left, self._at_ms = min(self._burst, self._left + gained), at_ms

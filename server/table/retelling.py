"""Telling a person who comes back the finished heats they lack: built once, and at a bounded rate.

Decides nothing: which heats those are, and what of them may be told, is the table's to say.
"""

import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from server.records import each
from shared.bucket import Bucket

BURST, PER_S = 32, 4
"""How many messages about earlier heats a chair gets at once, more than a set has, and how many a second after that."""


@dataclass(frozen=True, slots=True)
class Owed:
    """A finished heat that a chair is still to be told: the whole of it, or as its own seat lived it."""

    heat: int
    whole: bool


AllOwed = tuple[tuple[Owed, ...], tuple[Owed, ...], tuple[Owed, ...], tuple[Owed, ...]]
NOTHING_OWED: AllOwed = ((), (), (), ())


class Frames:
    """Frames that are asked for again and again, kept packed: by heat, chair and person."""

    def __init__(self) -> None:
        self._kept: dict[int, dict[tuple[int, int], bytes]] = {}

    def get(self, heat: int, whose: tuple[int, int], build: Callable[[], dict[tuple[int, int], bytes]]) -> bytes:
        """Return a frame about a heat; build makes all that are likely to be asked for, this one among them."""
        kept = self._kept.setdefault(heat, {})
        if whose not in kept:
            kept.update((key, zlib.compress(frame, 1)) for key, frame in build().items())
        return zlib.decompress(kept[whose])

    def clear(self) -> None:
        """Forget them."""
        self._kept.clear()


class Retelling:
    """What each chair is still owed. owed is a value, so that a table can go back to it."""

    def __init__(self) -> None:
        self.owed = NOTHING_OWED
        self._paces = each(lambda chair: Bucket(PER_S, BURST))

    def owe(self, chair: int, owed: tuple[Owed, ...]) -> None:
        """Owe a chair this, in place of what it was owed before."""
        self.owed = each(lambda other: owed if other == chair else self.owed[other])

    def take(self, chair: int, now_ms: int) -> Owed | None:
        """Return what a chair is to be told now, if anything; it is owed no more."""
        if not self.owed[chair] or not self._paces[chair].take(now_ms):
            return None
        first, *rest = self.owed[chair]
        self.owe(chair, tuple(rest))
        return first

    def next_ms(self, chairs: Iterable[int]) -> int | None:
        """Return when one of these chairs is to be told something, or None."""
        return min((self._paces[chair].next_ms() for chair in chairs if self.owed[chair]), default=None)

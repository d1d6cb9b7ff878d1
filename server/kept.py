"""A finished heat as a table keeps it: packed small, with what is asked of it again and again at hand.

Decides nothing. A heat that is unpacked is a new value each time, so that nobody keeps it longer than they need it.
"""

import zlib
from dataclasses import dataclass
from typing import Self

from server.records import each
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.players import named
from shared.rules.settings import Settings


@dataclass(frozen=True, slots=True)
class KeptHeat:
    """A finished heat. names (of all who played a seat) are in chair order, east is the chair that dealt; packed is
    its file, compressed."""

    number: int
    east: int
    names: tuple[str, str, str, str]
    settings: Settings
    packed: bytes

    @classmethod
    def of(cls, heat: SavedHeat) -> Self:
        """Pack a heat that has just ended."""
        return cls._of(heat, HEAT.pack(heat))

    @classmethod
    def read(cls, data: bytes) -> Self:
        """Take over the bytes of a heat's file as they were written. Raises BadFrame."""
        return cls._of(HEAT.unpack(data), data)

    @classmethod
    def _of(cls, heat: SavedHeat, data: bytes) -> Self:
        names = each(lambda chair: named(heat.played(chair)))
        return cls(heat.number, heat.east, names, heat.settings, zlib.compress(data))

    @property
    def data(self) -> bytes:
        """The heat as the bytes of its file."""
        return zlib.decompress(self.packed)

    def heat(self) -> SavedHeat:
        """Return the heat."""
        return HEAT.unpack(self.data)

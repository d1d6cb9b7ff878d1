"""The wall: a shuffle that anyone can check afterwards.

The server draws a secret and publishes its SHA-256 before the chairs send their own random contributions. The wall's
key comes from both, so neither side alone chooses the tiles. SHA-256 in counter mode with that key gives the random
stream; Fisher-Yates with rejection makes every order equally likely. The server reveals the secret at the end, and
must never do so before.
"""

import hashlib
from collections.abc import Sequence
from typing import TypeVar

from shared.rules.seats import PerSeat
from shared.rules.tiles import Rack, by_suit, full_set

T = TypeVar("T")
SECRET_BYTES = 32
CONTRIBUTION_BYTES = 16


class Stream:
    """A keyed stream of uniform whole numbers; the same key and label give the same numbers everywhere."""

    def __init__(self, key: bytes, label: str) -> None:
        self._prefix = hashlib.sha256(len(key).to_bytes(4, "big") + key + label.encode()).digest()
        self._block = 0
        self._buffer = b""

    def _take(self, count: int) -> bytes:
        while len(self._buffer) < count:
            self._buffer += hashlib.sha256(self._prefix + self._block.to_bytes(8, "big")).digest()
            self._block += 1
        taken, self._buffer = self._buffer[:count], self._buffer[count:]
        return taken

    def below(self, bound: int) -> int:
        """Return a number from 0 to bound - 1, each equally likely (by rejection)."""
        width = (bound.bit_length() + 7) // 8
        fair = 256**width - 256**width % bound
        while True:
            drawn = int.from_bytes(self._take(width), "big")
            if drawn < fair:
                return drawn % bound

    def shuffled(self, items: Sequence[T]) -> tuple[T, ...]:
        """Return the items in a random order (Fisher-Yates)."""
        order = list(items)
        for last in range(len(order) - 1, 0, -1):
            other = self.below(last + 1)
            order[last], order[other] = order[other], order[last]
        return tuple(order)

    def sample(self, items: Sequence[T], count: int) -> tuple[T, ...]:
        """Return count of the items, every choice equally likely."""
        return self.shuffled(items)[:count]


def commitment(secret: bytes) -> str:
    """Return the hash that the server publishes before the deal: hexadecimal SHA-256 of the labelled secret."""
    return hashlib.sha256(b"racktempo wall\0" + secret).hexdigest()


def wall_key(secret: bytes, contributions: Sequence[bytes]) -> bytes:
    """Return the key of a wall from the secret and the four contributions in chair order.

    An empty contribution stands for a chair that gave none (a bot, or a repeatable deal).
    """
    digest = hashlib.sha256(b"racktempo key\0" + secret)
    for contribution in contributions:
        digest.update(len(contribution).to_bytes(1, "big") + contribution)
    return digest.digest()


def seeded_secret(seed: int, heat: int) -> bytes:
    """Return the secret of a repeatable deal; anybody who knows the seed can compute it."""
    return hashlib.sha256(f"racktempo seed {seed} heat {heat}".encode()).digest()


def build_wall(key: bytes, jokers: int, attempt: int = 0) -> Rack:
    """Return a whole shuffled set; attempt counts the deals that were voided before this one."""
    return Stream(key, f"wall {attempt}").shuffled(full_set(jokers))


def deal(wall: Rack) -> tuple[PerSeat[Rack], Rack]:
    """Return 14 tiles for East and 13 for each of the others, every rack sorted by suit, and the rest of the wall."""
    cuts = (0, 14, 27, 40, 53)
    racks = PerSeat.of(lambda seat: by_suit(wall[cuts[seat] : cuts[seat + 1]]))
    return racks, wall[cuts[4] :]

"""How every hand of a card stands at one moment: its chance, by which a named target is judged.

Must never know more than the seat: it reads one position. Must never hold a hand's id: of a card that is not shared,
each player's copy has its own.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shared.cards import Card
from shared.cards.tell import tell
from shared.coach.coach import Coach
from shared.coach.targets import HandReading


@dataclass(frozen=True, slots=True)
class Standing:
    """One hand: its name, its family on the card, and the chance of winning with it and no other, in percent."""

    name: str
    family: str
    points: float


def standings(coach: Coach, readings: Iterable[HandReading]) -> tuple[Standing, ...]:
    """Return how the hands that were read stand."""
    named = _named(coach.card)
    return tuple(Standing(*named[reading.hand], 100 * reading.win) for reading in readings)


@lru_cache(maxsize=4)
def _named(card: Card) -> tuple[tuple[str, str], ...]:
    return tuple((told.name, told.hand.section) for told in tell(card))

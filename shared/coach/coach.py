"""A card with its engine, made once from the card's text. Must never know a position."""

from dataclasses import dataclass
from functools import lru_cache

from shared.cards import Card, Fault
from shared.cards.play import card_of
from shared.coach.engine import Engine


@dataclass(frozen=True, eq=False)
class Coach:
    """A card and its engine."""

    card: Card
    engine: Engine


@lru_cache(maxsize=4)
def coach_of(text: str) -> Coach | tuple[Fault, ...]:
    """Return the coach for a card's text (TOML), or all faults of the text."""
    card = card_of(text)
    return Coach(card, Engine.of_card(card)) if isinstance(card, Card) else card

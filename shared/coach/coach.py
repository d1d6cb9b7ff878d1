"""A card with its engine, made once from the card's text. Must never know a position."""

from dataclasses import dataclass
from functools import lru_cache

from shared.cards import Card, Fault, expand
from shared.cards.owned import in_digest_order
from shared.cards.play import card_of
from shared.coach.distance import Patterns, concealed_hands
from shared.coach.engine import Engine


@dataclass(frozen=True, eq=False)
class Coach:
    """A card and its engine."""

    card: Card
    engine: Engine


@lru_cache(maxsize=4)
def coach_of(text: str) -> Coach | tuple[Fault, ...]:
    """Return the coach for a card's text (TOML), or all faults of the text.

    A shared card is the same text for everybody. Of any other, each player may have a copy in other words and another
    order; all of these make the same coach, so that nothing it says tells one copy from another.
    """
    card = card_of(text)
    if not isinstance(card, Card):
        return card
    if card.share:
        return Coach(card, Engine.of_card(card))
    ordered = in_digest_order(card)
    variants = sorted(expand(ordered), key=lambda variant: (variant.hand, variant.pairs, variant.groups))
    return Coach(ordered, Engine(Patterns.of_variants(variants, concealed_hands(ordered))))

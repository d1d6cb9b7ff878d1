"""The first release's coach on the practice card as it was then, or on a card of today; its answer to the vote."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from shared.cards import Card, read_card
from shared.cards.shipped import first_evening_card, practice_card
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.passes import Position
from tests.bench.first_release.playout import played_out

CARD = Path(__file__).with_name("practice.toml")
_FUTURES = 32


@cache
def card() -> Card:
    """Return the practice card of the first release."""
    found = read_card(CARD.read_bytes())
    assert isinstance(found, Card)
    return found


@cache
def engine() -> Engine:
    """Return the first release's engine for that card."""
    return Engine.of_card(card())


CARDS: dict[str, Callable[[], Card]] = {"practice": practice_card, "first evening": first_evening_card, "first": card}
"""The two cards of today, and the practice card of the first release."""


def card_named(name: str) -> Card:
    """Return one of CARDS."""
    return CARDS[name]()


@cache
def engine_for(name: str) -> Engine:
    """Return the first release's engine for one of CARDS."""
    return Engine.of_card(card_named(name))


def goes_on(engine: Engine, position: Position, seed: int) -> bool:
    """Say whether the later passes of a position make its rack better than it is without them."""
    rack, unseen = position.counts(), position.unseen()
    ahead = played_out(engine.patterns, rack, unseen, position.looks, position.later, _FUTURES, seed)
    return ahead.points >= engine.committed(replace(position, later=0))

"""The first release's coach on the practice card as it was then, and its answer to "go on or stop?"."""

from dataclasses import replace
from functools import cache
from pathlib import Path

from shared.cards import Card, read_card
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


def goes_on(engine: Engine, position: Position, seed: int) -> bool:
    """Say whether the later passes of a position make its rack better than it is without them."""
    rack, unseen = position.counts(), position.unseen()
    ahead = played_out(engine.patterns, rack, unseen, position.looks, position.later, _FUTURES, seed)
    return ahead.points >= engine.committed(replace(position, later=0))

"""The two cards that come with the project. Reading them is the only input here: files inside the package."""

from functools import cache
from importlib.resources import files

from shared.cards.card import Card
from shared.cards.read import read_card


@cache
def practice_card() -> Card:
    """Return the practice card, whose balance the project measures and tests."""
    return _load("practice.toml")


@cache
def first_evening_card() -> Card:
    """Return the small card of easy hands for a beginner's first evening."""
    return _load("first_evening.toml")


def _load(name: str) -> Card:
    card = read_card(files("shared.cards").joinpath(name).read_bytes())
    if not isinstance(card, Card):
        raise ValueError(f"{name}: " + "; ".join(str(fault) for fault in card))
    return card

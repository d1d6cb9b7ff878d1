"""Whose a card is: what a table may tell and keep of it, and which copies are the same card.

Title and digest of a card are for everybody. Its text, and whatever names or describes its hands, is told and kept
only if the card says share = true. Pure.
"""

from dataclasses import replace
from typing import NamedTuple

from shared.cards.card import Card, Section
from shared.cards.digest import card_digest, hand_keys
from shared.cards.play import card_of
from shared.names import clean_name

_TITLE_CELLS = 40


class ToldCard(NamedTuple):
    """What may be told and kept of a table's card: its text is empty unless the card is shared."""

    title: str = ""
    digest: str = ""
    text: str = ""


def told_card(text: str) -> ToldCard:
    """Return what may be told of the card of a text (TOML); nothing of one that cannot be read."""
    card = card_of(text) if text else ()
    if not isinstance(card, Card):
        return ToldCard()
    return ToldCard(card.title, card_digest(card), text if card.share else "")


def is_copy(text: str, digest: str) -> bool:
    """Say whether a text is a copy of the card with this digest."""
    card = card_of(text) if text and digest else ()
    return isinstance(card, Card) and card_digest(card) == digest


def in_digest_order(card: Card) -> Card:
    """Return a card with its hands in the order of their keys, under one heading that says nothing.

    Whatever is computed from it does not depend on how the card's owner has ordered or worded it.
    """
    keyed = sorted(zip(hand_keys(card), card.hands, strict=True), key=lambda pair: pair[0])
    return replace(card, note="", sections=(Section("", "", tuple(hand for _, hand in keyed)),))


def _called(title: str) -> str:
    return f'"{clean_name(title, "a card without a title", _TITLE_CELLS)}"'


def not_yours(title: str) -> str:
    """Return the sentence for a player who has no copy of the table's card; short, for it stands in one line."""
    return f"No hints, points or named plan without your own copy of {_called(title)}."


def copy_wanted(title: str) -> str:
    """Return the sentence for somebody who wants to review or drill a heat whose card is not at hand."""
    return f"This heat does not hold its card, {_called(title)}: put it in your cards folder, or name it with --card."


def another_card(title: str) -> str:
    """Return the sentence for somebody who has named another card than that of the heat."""
    return f"This heat was played by {_called(title)}; the card that you name is another one."


def copy_lost(title: str) -> str:
    """Return the sentence for a host who goes on with a table whose card is no longer on this machine."""
    return f"No hints, and bots play without a card: this machine no longer has {_called(title)}."

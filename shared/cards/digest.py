"""What makes two cards the same: not their words, ids or order, but what their hands want and count.

A hand's key is the set of its variants with concealed and value. The sorted keys are the card: their digest names it,
and the place of a hand's key among them is the hand's number. Both stay the same when a card is typed in anew by
somebody else, section by section in another order.
"""

from dataclasses import replace
from functools import lru_cache
from hashlib import sha256

from shared.cards.card import Card, Hand
from shared.cards.expand import Counts, expand_pattern, pattern_of

Key = tuple[tuple[tuple[Counts, int], ...], bool]
"""The variants of a hand in order, each with what it counts, and whether the hand is concealed."""


@lru_cache(maxsize=1024)
def hand_key(hand: Hand, year: int) -> str:
    """Return what a hand wants, as a line of hexadecimal digits that sorts.

    A variant that several rows of the hand allow counts the most that it can.

    Raises:
        ValueError: the hand's groups cannot be read.
    """
    pattern = pattern_of(hand)
    values: dict[Counts, int] = {}
    for number, row in enumerate(pattern.rows):
        for counts in expand_pattern(replace(pattern, rows=(row,)), year):
            values[counts] = max(values.get(counts, 0), hand.row_value(number))
    key: Key = (tuple(sorted(values.items())), hand.concealed)
    return sha256(repr(key).encode()).hexdigest()


def hand_keys(card: Card) -> tuple[str, ...]:
    """Return the key of each hand in the order of the card."""
    return tuple(hand_key(hand, card.year) for hand in card.hands)


@lru_cache(maxsize=8)
def hand_numbers(card: Card) -> tuple[int, ...]:
    """Return the number of each hand in the order of the card: its place, from 0, among the sorted keys."""
    keys = hand_keys(card)
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return tuple(order.index(index) for index in range(len(keys)))


@lru_cache(maxsize=8)
def card_digest(card: Card) -> str:
    """Return the digest of a card: 64 hexadecimal digits."""
    return sha256("\n".join(sorted(hand_keys(card))).encode()).hexdigest()

"""The card in plain lines, for the ear: its sections, hands that words find, and a hand that a plan names.

Pure. Knows no rack.
"""

from collections.abc import Sequence

from client.models.card_browser import CardBrowser
from client.text import some
from shared.cards import Card
from shared.cards.tell import ToldHand, tell

_MOST = 12
"""Hands that are told at once."""


def card_lines(card: Card | None, words: Sequence[str]) -> list[str]:
    """Return the sections of a card, or with words the hands that they find, each in one sentence."""
    if card is None:
        return ["This table has no card that can be read."]
    if not words:
        sections = [f"{section.name}, {some(len(section.hands), 'hand')}. {section.about}" for section in card.sections]
        how = "Write card and words to hear hands that have them all, such as card kong dragon, or card and a section."
        return [f"{card.title}, {card.year}.", *(line.strip() for line in sections), how]
    told, asked = tell(card), _plain(" ".join(words))
    exact = [hand for hand in told if asked in (_plain(hand.name), _plain(hand.hand.section))]
    found = exact or [told[number] for number in CardBrowser(card, " ".join(words)).matches()]
    if not found:
        return ["No hand of the card has all of these words."]
    lines = [f"{hand.name}: {hand.ear}." for hand in found[:_MOST]]
    left = len(found) - len(lines)
    return lines + ([f"{some(left, 'more hand')}; write more words."] if left else [])


def with_id(card: Card | None, words: list[str]) -> list[str]:
    """Return the words of a plan with the hand's name at their beginning replaced by its id, which the table takes.

    A name may be cut short as long as only one hand's name begins so. Without a name the words stay as they are.
    """
    told = tell(card) if card else ()
    for count in range(len(words), 0, -1):
        hand = _named(told, _plain(" ".join(words[:count])))
        if hand is not None:
            return [hand.hand.id, *words[count:]]
    return words


def _named(told: Sequence[ToldHand], asked: str) -> ToldHand | None:
    exact = [hand for hand in told if _plain(hand.name) == asked]
    begun = exact or [hand for hand in told if _plain(hand.name).startswith(f"{asked} ")]
    return begun[0] if len(begun) == 1 else None


def _plain(name: str) -> str:
    """Return a name as it is compared: in small letters, and without commas, which lines at the table lose."""
    return " ".join(name.replace(",", " ").lower().split())

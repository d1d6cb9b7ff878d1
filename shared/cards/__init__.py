"""Cards of hands: the notation, the reader with its faults, expansion to variants, and the two shipped cards.

Pure: bytes in, values out. numpy is not imported here, so that a card can be checked and shown at once.
"""

from shared.cards.card import Card, Hand, Section, Variant
from shared.cards.expand import expand
from shared.cards.faults import Fault
from shared.cards.notation import format_groups, parse_groups
from shared.cards.read import read_card
from shared.cards.shipped import first_evening_card, practice_card
from shared.cards.show import show
from shared.cards.tell import ToldHand, tell

__all__ = [
    "Card",
    "Fault",
    "Hand",
    "Section",
    "ToldHand",
    "Variant",
    "expand",
    "first_evening_card",
    "format_groups",
    "parse_groups",
    "practice_card",
    "read_card",
    "show",
    "tell",
]

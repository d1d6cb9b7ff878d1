"""Cards of hands: the notation, the reader with its faults, expansion to variants, and the two shipped cards.

Pure: bytes in, values out. numpy is not imported here, so that a card can be checked and shown at once.
"""

from shared.cards.card import Card, Hand, Section, Variant
from shared.cards.expand import expand
from shared.cards.notation import format_groups, parse_groups

__all__ = ["Card", "Hand", "Section", "Variant", "expand", "format_groups", "parse_groups"]

"""The card that a table plays by: a text. If its owner shares it, it is told at the table and kept with the heats.

Pure, and without numpy, so that a table can open and deal at once. A text that cannot be read has no hands; whoever
opens a table or judges a heat asks `card_of` and tells the faults.
"""

from collections import Counter
from functools import lru_cache
from importlib.resources import files

from shared.cards.card import Card, Variant
from shared.cards.expand import expand
from shared.cards.faults import Fault
from shared.cards.read import read_card
from shared.rules.tiles import JOKER, KINDS, Rack

MAX_TEXT_BYTES = 64 * 1024
"""The longest card that a table takes: if it is shared, every client is told it and every heat keeps it."""
HAND_TILES = 14
SHIPPED = {"practice": "practice.toml", "first-evening": "first_evening.toml"}
"""The names of the cards that come with the project, and their files."""


def shipped_text(name: str = "practice") -> str:
    """Return the text of a card that comes with the project."""
    return files("shared.cards").joinpath(SHIPPED[name]).read_bytes().decode()


@lru_cache(maxsize=8)
def card_of(text: str) -> Card | tuple[Fault, ...]:
    """Return the card of a text, or everything that is wrong with it."""
    return read_card(text.encode(errors="replace"))


@lru_cache(maxsize=8)
def variants_of(text: str) -> tuple[Variant, ...]:
    """Return every variant of the card of a text; none if there is no text or it cannot be read."""
    card = card_of(text) if text else ()
    return expand(card) if isinstance(card, Card) else ()


def complete(text: str, rack: Rack) -> bool:
    """Say whether a rack is a finished hand of the card whose text is given.

    It is when every natural tile has its place and every single and pair is filled by naturals: what then is left
    open of fourteen places lies in larger groups, and there are as many jokers for them.
    """
    if len(rack) != HAND_TILES:
        return False
    held = Counter(tile for tile in rack if tile != JOKER)
    counts = [(index, held[kind]) for index, kind in enumerate(KINDS) if held[kind]]
    return any(_fits(variant, counts) for variant in variants_of(text))


def _fits(variant: Variant, counts: list[tuple[int, int]]) -> bool:
    pairs, groups = variant.pairs, variant.groups
    if any(count > pairs[index] + groups[index] or count < pairs[index] for index, count in counts):
        return False
    return sum(pairs) == sum(pairs[index] for index, _ in counts)

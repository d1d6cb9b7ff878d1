"""A card that its owner does not share, in two copies that say the same in other words, and what gives one away."""

from collections.abc import Iterable
from dataclasses import replace

from server.host import new_record
from server.records import TableRecord
from shared.cards import Card, Hand, Section, first_evening_card, format_groups, parse_groups, tell
from shared.cards.write import write_card
from shared.rules.settings import Settings

TITLE = "Pier evening"


_OTHER_SUITS = str.maketrans("pqr", "qrp")
"""The letters of suits mean nothing by themselves."""


def copy_in_words(words: str, backwards: bool, share: bool = False) -> Card:
    """Return a copy: the same hands, with names, ids and remarks of these words, in the card's order or backwards."""
    hands = first_evening_card().hands[1:]  # all of them would be the shipped card, which everybody has
    numbered = list(enumerate(hands))
    told = [
        replace(
            hand,
            id=f"{words}-hand-{len(hands) - number if backwards else number:02}",
            section=f"{words} heading",
            groups=_turned(hand) if backwards else hand.groups,
            note=f"{words} remark {number}",
        )
        for number, hand in (reversed(numbered) if backwards else numbered)
    ]
    section = Section(f"{words} heading", f"{words} sentence about all of them", tuple(told))
    return Card(TITLE, first_evening_card().year, f"{words} card", (section,), share)


def _turned(hand: Hand) -> str:
    groups, faults = parse_groups(hand.groups)
    assert not faults
    return format_groups(groups[::-1]).translate(_OTHER_SUITS)


OWN = write_card(copy_in_words("plover", backwards=False))
COPY = write_card(copy_in_words("lapwing", backwards=True))
SHARED = write_card(copy_in_words("plover", backwards=False, share=True))


def giveaways(card: Card) -> tuple[bytes, ...]:
    """Return what must be in no frame and in no file: every text of a card but its title, and every generated one."""
    texts = {card.note}
    for section in card.sections:
        texts |= {section.name, section.about}
    for told in tell(card):
        hand = told.hand
        texts |= {hand.id, hand.groups, hand.note, told.name, told.words, told.tiles, told.ear}
    return tuple(sorted(text.encode() for text in texts if text))


def found(card: Card, places: Iterable[bytes]) -> set[bytes]:
    """Return which of a card's giveaways are in some of these bytes."""
    everything = b"\0".join(places)
    return {text for text in giveaways(card) if text in everything}


def record_by(text: str, settings: Settings, code: str = "tern-12") -> TableRecord:
    """Return a new table by a card, with an id and a code that are always the same."""
    return new_record(settings, "Boathouse", text).with_(id="t1", code=code)

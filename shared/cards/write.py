"""From a card to the text of its file. A plain hand is one line, and what has its default is not written.

Reading the text gives the same card again: `read_card(write_card(card).encode()) == card`.
"""

from collections.abc import Iterable, Sequence

from shared.cards.card import DEFAULT_VALUE, Card, Hand, Section
from shared.cards.expand import expand_hand
from shared.cards.read import made_id


def write_card(card: Card) -> str:
    """Return a card as the text of a file.

    Raises:
        ValueError: a hand's groups cannot be read.
    """
    sections = (
        write_section(section, [hand_line(hand, card.year) for hand in section.hands]) for section in card.sections
    )
    return write_head(card.title, card.year, card.note, card.share) + "".join(sections)


def write_head(title: str, year: int, note: str, share: bool) -> str:
    """Return the head of a file: what holds for the whole card."""
    lines = ["[card]", f"title = {quoted(title)}", f"year = {year}"]
    lines += [f"note = {quoted(note)}"] if note else []
    return "\n".join([*lines, f"share = {str(share).lower()}", ""])


def write_section(section: Section, lines: Iterable[str], more: Iterable[str] = ()) -> str:
    """Return a section with its hands as lines that are written already; `more` stands above the hands."""
    head = ["", "[[section]]", f"name = {quoted(section.name)}"]
    head += [f"about = {quoted(section.about)}"] if section.about else []
    return "\n".join([*head, *more, "hand = [", *(f"    {line}," for line in lines), "]", ""])


def hand_line(hand: Hand, year: int) -> str:
    """Return one hand as a text or an inline table."""
    parts = [f"groups = {quoted(hand.groups)}"]
    if hand.id != made_id(frozenset(expand_hand(hand, year))):
        parts.insert(0, f"id = {quoted(hand.id)}")
    if hand.values:
        parts.append(f"value = {numbers(hand.values)}")
    elif hand.value != DEFAULT_VALUE:
        parts.append(f"value = {hand.value}")
    parts += ["concealed = true"] if hand.concealed else []
    parts += ["jokers = false"] if not hand.jokers else []
    parts += [f"n = {numbers(hand.n)}"] if hand.n is not None else []
    parts += [f"m = {numbers(hand.m)}"] if hand.m is not None else []
    parts += [f"note = {quoted(hand.note)}"] if hand.note else []
    return quoted(hand.groups) if len(parts) == 1 else "{" + ", ".join(parts) + "}"


def numbers(values: Sequence[int]) -> str:
    """Return whole numbers as a TOML list."""
    return f"[{', '.join(map(str, values))}]"


def quoted(text: str) -> str:
    """Return text as a TOML string.

    >>> quoted('the "old" pier')
    '"the \\\\"old\\\\" pier"'
    """
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(sign if sign.isprintable() else f"\\U{ord(sign):08x}" for sign in escaped) + '"'

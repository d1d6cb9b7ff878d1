"""From a file's bytes to a card, or to everything that is wrong with it at once.

Each fault says where it is (section, hand, column within the hand's groups) and how to mend it, because the
person who reads it typed the card by hand. All bytes are hostile until read: sizes are bounded, text that a
terminal would obey is refused, and nothing here raises.
"""

import re
from dataclasses import dataclass, field

from shared.cards.card import Card, Hand, Section
from shared.cards.expand import Counts, expand_groups, first_impossible
from shared.cards.faults import Fault
from shared.cards.fields import Fields, shown
from shared.cards.notation import BadGroup, Group, Relative, parse_groups, words
from shared.cards.toml import read_table

MAX_SECTIONS = 40
MAX_HANDS = 200
"""Hands in one section and on the whole card."""
MAX_VARIANTS = 6_000
"""Variants of the whole card: the coach measures a rack against each of them."""
HARMLESS_YEAR = 1234
"""Stands in for a year that could not be read: its digits make no hand impossible that others would not."""
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def read_card(data: bytes) -> Card | tuple[Fault, ...]:
    """Return the card in a file's bytes, or all its faults in the order of the file."""
    table = read_table(data)
    if isinstance(table, str):
        return (Fault(table),)
    reader = _Reader()
    card = reader.read_card(table)
    return tuple(reader.faults) or card


@dataclass(slots=True)
class _Reader:
    """What has been read of one file so far."""

    faults: list[Fault] = field(default_factory=list)
    hands: int = 0
    variants: int = 0
    names: set[str] = field(default_factory=set)
    ids: dict[str, str] = field(default_factory=dict)
    """The section of each id."""
    patterns: dict[frozenset[Counts], str] = field(default_factory=dict)
    """The id of each pattern: two lines are one pattern when they have the same variants."""

    def read_card(self, table: dict[str, object]) -> Card:
        file = Fields(table, lambda text: self.faults.append(Fault(text)))
        file.only("card", "section")
        head = table.get("card")
        if not isinstance(head, dict):
            file.report("The [card] table is missing. Begin with [card] and title, year and note.")
            head = {"title": "?", "year": HARMLESS_YEAR}
        about = Fields(head, lambda text: self.faults.append(Fault(f"In [card], {text}")))
        about.only("title", "year", "note")
        title, year = about.text("title", 60), about.whole("year", 1000, 9999, otherwise=HARMLESS_YEAR)
        note = about.text("note", 400) if head.get("note", "") != "" else ""
        sections = file.tables("section", "[[section]]", MAX_SECTIONS)
        if not sections:
            file.report("The card has no section. Add [[section]] with a name, what it is about, and hands.")
        return Card(title, year, note, tuple(self.read_section(*item, year) for item in enumerate(sections, 1)))

    def read_section(self, number: int, table: dict[str, object], year: int) -> Section:
        raw = table.get("name")
        place = raw if isinstance(raw, str) and raw.isprintable() and 0 < len(raw) <= 40 else f"#{number}"
        fields = Fields(table, lambda text: self.faults.append(Fault(text, place)))
        fields.only("name", "about", "hand")
        name, about = fields.text("name", 40), fields.text("about", 200)
        if name and name in self.names:
            fields.report("Another section has this name already. Give it a name of its own.")
        self.names.add(name)
        hands = fields.tables("hand", "[[section.hand]]", MAX_HANDS)
        if not hands:
            fields.report("The section is empty. Add [[section.hand]] below it, or delete the section.")
        if self.hands <= MAX_HANDS < self.hands + len(hands):
            fields.report(f"With this section the card has more than {MAX_HANDS} hands. Leave some out.")
        self.hands += len(hands)
        if self.hands > MAX_HANDS:
            hands = []
        read = tuple(self.read_hand(number, hand, place, year) for number, hand in enumerate(hands, 1))
        return Section(name, about, read)

    def read_hand(self, number: int, table: dict[str, object], section: str, year: int) -> Hand:
        raw = table.get("id")
        place = raw if isinstance(raw, str) and _ID.fullmatch(raw) and len(raw) <= 40 else f"#{number}"

        def report(text: str, column: int | None = None) -> None:
            self.faults.append(Fault(text, section, place, column))

        fields = Fields(table, report)
        fields.only("id", "groups", "concealed", "value", "n")
        name = fields.text("id", 40)
        if name and name != place:
            report(f"The id {shown(name)} may hold a-z, 0-9 and single hyphens between them. Write it so.")
        elif name in self.ids:
            report(f"The id is used in section {self.ids[name]} already. Give this hand one of its own.")
        if name:
            self.ids.setdefault(name, section)
        hand = Hand(
            id=place,
            section=section,
            groups=fields.text("groups", 1 << 20),
            concealed=fields.flag("concealed"),
            value=fields.whole("value", 0, 999, otherwise=0),
            n=fields.ranks("n"),
        )
        if hand.groups:
            groups, bad = parse_groups(hand.groups)
            for fault in bad or bad_ranks(hand, groups) or self.bad_pattern(hand, groups, year):
                report(fault.text, fault.column)
        return hand

    def bad_pattern(self, hand: Hand, groups: tuple[Group, ...], year: int) -> tuple[BadGroup, ...]:
        """Return what is wrong with groups that can each be read: impossible, too free, or there already."""
        if self.variants > MAX_VARIANTS:
            return ()
        pattern = frozenset(expand_groups(groups, hand.n, year))
        if not pattern:
            index, why = first_impossible(groups, hand.n, year)
            return (BadGroup(words(hand.groups)[index][0], why),)
        self.variants += len(pattern)
        if self.variants > MAX_VARIANTS:
            more = f"With this hand the card has more than {MAX_VARIANTS} variants. Leave some hands out."
            return (BadGroup(1, more),)
        twin = self.patterns.setdefault(pattern, hand.id)
        if twin != hand.id:
            return (BadGroup(1, f"The hand {twin} has the same pattern. Change one of them or delete it."),)
        return ()


def bad_ranks(hand: Hand, groups: tuple[Group, ...]) -> tuple[BadGroup, ...]:
    """Return where the hand's own list of n does not fit its groups."""
    if hand.n is None:
        return ()
    relative = [
        (column, group.face)
        for (column, _), group in zip(words(hand.groups), groups, strict=True)
        if isinstance(group.face, Relative)
    ]
    if not relative:
        return (BadGroup(1, "The hand lists n, but no group uses it. Write n.p in a group, or delete n = [...]."),)
    return tuple(
        BadGroup(
            column,
            f"{face}: with n = {max(hand.n)} the rank is {max(hand.n) + face.plus}, out of range. "
            f"List no n above {9 - face.plus}.",
        )
        for column, face in relative
        if max(hand.n) + face.plus > 9
    )

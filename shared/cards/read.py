"""From a file's bytes to a card, or to everything that is wrong with it at once.

Each fault says where it is (section, hand, column within the hand's groups) and how to mend it, because the
person who reads it typed the card by hand. All bytes are hostile until read: sizes are bounded, text that a
terminal would obey is refused, and nothing here raises.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from hashlib import sha256

from shared.cards.card import DEFAULT_VALUE, Card, Hand, Section
from shared.cards.expand import Counts, Pattern, count_choices, expand_pattern, first_impossible
from shared.cards.faces import Relative
from shared.cards.faults import Fault
from shared.cards.fields import Fields, shown
from shared.cards.notation import MAX_ALTERNATIVES, MAX_GROUPS_LENGTH, BadGroup, parse_hand, rows, words
from shared.toml import read_table

MAX_SECTIONS = 40
MAX_HANDS = 200
"""Hands in one section and on the whole card."""
MAX_VARIANTS = 6_000
"""Variants of the whole card: the coach measures a rack against each of them."""
MAX_CHOICES = 20_000
MAX_CARD_CHOICES = 60_000
"""Choices that one hand and the whole card may leave; many of them can lead to the same variant."""
MAX_HAND_LENGTH = MAX_ALTERNATIVES * (MAX_GROUPS_LENGTH + 4)
HARMLESS_YEAR = 1234
"""Stands in for a year that could not be read: its digits make no hand impossible that others would not."""
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def read_card(data: bytes, drafts: bool = False) -> Card | tuple[Fault, ...]:
    """Return the card in a file's bytes, or all its faults in the order of the file.

    A card that is still being written can have open lines, empty sections and one hand twice: these are no faults if
    `drafts` are asked for.
    """
    table = read_table(data)
    if isinstance(table, str):
        return (Fault(table),)
    reader = _Reader(drafts)
    card = reader.read_card(table)
    return tuple(reader.faults) or card


@dataclass(slots=True)
class _Reader:
    """What has been read of one file so far."""

    drafts: bool = False
    faults: list[Fault] = field(default_factory=list)
    hands: int = 0
    variants: int = 0
    choices: int = 0
    names: set[str] = field(default_factory=set)
    ids: dict[str, str] = field(default_factory=dict)
    """The section of each id."""
    patterns: dict[frozenset[Counts], str] = field(default_factory=dict)
    """Where each pattern stands: two hands are one pattern when they have the same variants."""

    def read_card(self, table: dict[str, object]) -> Card:
        file = Fields(table, lambda text: self.faults.append(Fault(text)))
        file.only("card", "section")
        head = table.get("card")
        if not isinstance(head, dict):
            file.report("The [card] table is missing. Begin with [card] and title, year and note.")
            head = {"title": "?", "year": HARMLESS_YEAR}
        about = Fields(head, lambda text: self.faults.append(Fault(f"In [card], {text}")))
        about.only("title", "year", "note", "share")
        title, year = about.text("title", 60), about.whole("year", 1000, 9999, otherwise=HARMLESS_YEAR)
        note, share = about.optional_text("note", 400), about.flag("share")
        sections = file.tables("section", "[[section]]", MAX_SECTIONS)
        if not sections and not self.drafts:
            file.report("The card has no section. Add [[section]] with a name, what it is about, and hands.")
        read = tuple(self.read_section(*item, year) for item in enumerate(sections, 1))
        return Card(title, year, note, read, share)

    def read_section(self, number: int, table: dict[str, object], year: int) -> Section:
        raw = table.get("name")
        place = raw if isinstance(raw, str) and raw.isprintable() and 0 < len(raw) <= 40 else f"#{number}"
        fields = Fields(table, lambda text: self.faults.append(Fault(text, place)))
        fields.only("name", "about", "hand", "open")
        name, about = fields.text("name", 40), fields.optional_text("about", 200)
        if name and name in self.names:
            fields.report("Another section has this name already. Give it a name of its own.")
        self.names.add(name)
        hands = fields.tables("hand", "[[section.hand]]", MAX_HANDS, line="groups")
        self.read_open(fields)
        if not hands and not self.drafts and "open" not in table:
            fields.report("The section is empty. Add [[section.hand]] below it, or delete the section.")
        if self.hands <= MAX_HANDS < self.hands + len(hands):
            fields.report(f"With this section the card has more than {MAX_HANDS} hands. Leave some out.")
        self.hands += len(hands)
        if self.hands > MAX_HANDS:
            hands = []
        read = tuple(self.read_hand(number, hand, place, year) for number, hand in enumerate(hands, 1))
        return Section(name, about, read)

    def read_open(self, fields: Fields) -> None:
        """Report the lines that the card writer has left open, and what is wrong with them."""
        for table in fields.tables("open", "open = [{line = 1, tiles = ...}]", MAX_HANDS):
            line = Fields(table, lambda text: fields.report(f"In open, {text}"))
            line.only("line", "tiles")
            number = line.whole("line", 1, MAX_HANDS, otherwise=1)
            typed = line.text("tiles", MAX_HAND_LENGTH) if table.get("tiles") != "" else ""
            if not self.drafts:
                shown_ = shown(typed) if typed else "empty"
                fields.report(f"Line {number} is open: {shown_}. Finish it with the card writer, or delete it.")

    def read_hand(self, number: int, table: dict[str, object], section: str, year: int) -> Hand:
        raw = table.get("id")
        place = raw if isinstance(raw, str) and _ID.fullmatch(raw) and len(raw) <= 40 else f"#{number}"

        def report(text: str, column: int | None = None) -> None:
            self.faults.append(Fault(text, section, place, column))

        fields = Fields(table, report)
        fields.only("id", "groups", "concealed", "value", "n", "m", "jokers", "note")
        name = fields.optional_text("id", 40)
        if name and name != place:
            report(f"The id {shown(name)} may hold a-z, 0-9 and single hyphens between them. Write it so.")
        elif name in self.ids:
            report(f"The id is used in section {self.ids[name]} already. Give this hand one of its own.")
        if name:
            self.ids.setdefault(name, section)
        text = fields.text("groups", 1 << 20)
        if len(text) > MAX_HAND_LENGTH:
            report(f"The groups are longer than {MAX_HAND_LENGTH} characters. Write fewer.", 1)
            text = ""
        values = fields.values_of_rows("value", 999, len(rows(text)), DEFAULT_VALUE)
        hand = Hand(
            id=place,
            section=section,
            groups=text,
            concealed=fields.flag("concealed"),
            value=values[0],
            n=fields.ranks("n"),
            m=fields.ranks("m"),
            values=values if len(values) > 1 else (),
            note=fields.optional_text("note", 200),
            jokers=fields.flag("jokers", otherwise=True),
        )
        return self.read_groups(hand, bool(name), year, report) if text else hand

    def read_groups(self, hand: Hand, named: bool, year: int, report: Callable[[str, int], None]) -> Hand:
        """Report what is wrong with a hand's groups; return it with an id of its own if it had none."""
        alternatives, bad = parse_hand(hand.groups)
        pattern = Pattern(alternatives, hand.n, hand.m, hand.jokers)
        was_full = self.choices > MAX_CARD_CHOICES or self.variants > MAX_VARIANTS
        bad = bad or bad_ranks(hand, pattern) or (() if was_full else self.too_free(pattern))
        if not bad and not was_full:
            wanted = frozenset(expand_pattern(pattern, year))
            bad = bad_rows(hand, pattern, year) or self.bad_pattern(hand, named, wanted)
            if not (bad or named):
                hand = replace(hand, id=self.own_id(wanted))
        for fault in bad:
            report(fault.text, fault.column)
        return hand

    def own_id(self, wanted: frozenset[Counts]) -> str:
        """Return the id of a hand that has none in the file, and none that another hand has."""
        made = made_id(wanted)
        while made in self.ids:
            made += "x"
        return made

    def too_free(self, pattern: Pattern) -> tuple[BadGroup, ...]:
        """Return the fault of a hand that leaves so many choices that they are not worth trying."""
        count = sum(count_choices(row, pattern.n, pattern.m) for row in pattern.rows)
        if count > MAX_CHOICES:
            more = f"The hand leaves {count} choices, more than {MAX_CHOICES}. Fix a rank, a suit or a wind."
            return (BadGroup(1, more),)
        self.choices += count
        if self.choices > MAX_CARD_CHOICES:
            more = f"With this hand the card leaves more than {MAX_CARD_CHOICES} choices. Leave some hands out."
            return (BadGroup(1, more),)
        return ()

    def bad_pattern(self, hand: Hand, named: bool, wanted: frozenset[Counts]) -> tuple[BadGroup, ...]:
        """Return what is wrong with a hand that can be read and played: too free for the card, or there already."""
        self.variants += len(wanted)
        if self.variants > MAX_VARIANTS:
            more = f"With this hand the card has more than {MAX_VARIANTS} variants. Leave some hands out."
            return (BadGroup(1, more),)
        here = f"The hand {hand.id}" if named else f"Hand {hand.id} of section {hand.section}"
        twin = self.patterns.setdefault(wanted, here)
        if twin != here and not self.drafts:
            return (BadGroup(1, f"{twin} has the same pattern. Change one of them or delete it."),)
        return ()


def made_id(wanted: frozenset[Counts]) -> str:
    """Return an id made of what a hand wants: it stays when the card is sorted anew or its texts change."""
    return "hand-" + sha256(repr(sorted(wanted)).encode()).hexdigest()[:8]


def bad_rows(hand: Hand, pattern: Pattern, year: int) -> tuple[BadGroup, ...]:
    """Return where rows that can be read ask for what the set does not hold."""
    faults = []
    for (offset, text), row in zip(rows(hand.groups), pattern.rows, strict=True):
        if not expand_pattern(replace(pattern, rows=(row,)), year):
            index, why = first_impossible(row, pattern.n, year, pattern.m, pattern.jokers)
            faults.append(BadGroup(offset + words(text)[index][0], why))
    return tuple(faults)


def bad_ranks(hand: Hand, pattern: Pattern) -> tuple[BadGroup, ...]:
    """Return where the hand's own lists of n and m do not fit its groups."""
    relative = [
        (offset + column, group.face)
        for (offset, text), row in zip(rows(hand.groups), pattern.rows, strict=True)
        for (column, _), group in zip(words(text), row, strict=True)
        if isinstance(group.face, Relative)
    ]
    faults: list[BadGroup] = []
    for letter, listed in (("n", hand.n), ("m", hand.m)):
        if listed is None:
            continue
        if not any(letter in face.letters for _, face in relative):
            mend = f"Write {letter}.p in a group, or delete {letter} = [...]."
            faults.append(BadGroup(1, f"The hand lists {letter}, but no group uses it. {mend}"))
        own = ((column, face) for column, face in relative if face.letters == letter)
        faults += [BadGroup(column, told) for column, face in own if (told := _bad_rank(face, letter, listed))]
    return tuple(faults)


def _bad_rank(face: Relative, letter: str, listed: tuple[int, ...]) -> str:
    """Return what is wrong if a listed value makes the rank of a face impossible; the worst of them is named."""
    ranks = {value: face.rank(value, value) for value in listed}
    fitting = [value for value in range(1, 10) if 1 <= face.rank(value, value) <= 9]
    worst = max(listed, key=lambda value: abs(ranks[value] - 5))
    if worst in fitting:
        return ""
    limit = f"above {fitting[-1]}" if worst > fitting[-1] else f"below {fitting[0]}"
    told = f"{face}: with {letter} = {worst} the rank is {ranks[worst]}, out of range."
    return f"{told} List no {letter} {limit}."

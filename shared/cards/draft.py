"""A card that is being written: sections of lines, some of them finished hands and some still open.

Values only. A line keeps what was typed even if it cannot be read yet, so that a half-written card can be saved and
says what is open. `text_of` and `read_draft` are the way to a file and back; what is finished is an ordinary card file.
"""

from dataclasses import dataclass, field, replace

from shared.cards.card import DEFAULT_VALUE, Card, Hand, Section
from shared.cards.expand import Pattern, Ranks, expand_pattern, pattern_of
from shared.cards.faces import Groups
from shared.cards.faults import Fault
from shared.cards.notation import HAND_SIZE, format_hand
from shared.cards.picture import draw, examples
from shared.cards.read import made_id, read_card
from shared.cards.turning import ShownRow
from shared.cards.write import hand_line, quoted, write_head, write_section
from shared.rules.tiles import Rack
from shared.rules.typed_tiles import TypedTiles, read_tiles
from shared.toml import read_table


@dataclass(frozen=True, slots=True)
class DraftRow:
    """One row of a hand: the example as it was typed, and what it stands for once that is chosen."""

    typed: str = ""
    chosen: ShownRow | None = None

    def read(self, year: int) -> TypedTiles:
        """Return what was typed, read as a hand: more of a kind than the set holds can be jokers."""
        return read_tiles(self.typed, year, check_copies=False)


@dataclass(frozen=True, slots=True)
class DraftLine:
    """One hand: its rows and what holds for all of them. `values` has one number, or one for each row."""

    rows: tuple[DraftRow, ...] = (DraftRow(),)
    n: Ranks = None
    m: Ranks = None
    jokers: bool = True
    concealed: bool = False
    values: tuple[int, ...] = (DEFAULT_VALUE,)
    note: str = ""
    id: str = ""

    @property
    def pattern(self) -> Pattern | None:
        """What the hand stands for; None while a row is open."""
        rows = [row.chosen.groups for row in self.rows if row.chosen]
        return Pattern(tuple(rows), self.n, self.m, self.jokers) if len(rows) == len(self.rows) else None

    def open(self, year: int) -> tuple[str, ...]:
        """Return what has to be done before the line is a hand of a card; nothing if it is one."""
        told: list[str] = []
        for number, row in enumerate(self.rows, 1):
            where = f"Row {number}: " if len(self.rows) > 1 else ""
            read = row.read(year)
            told += [f"{where}{fault}" for fault in read.faults]
            if len(read.tiles) != HAND_SIZE:
                less = "Type the others." if len(read.tiles) < HAND_SIZE else "Delete some."
                told.append(f"{where}There are {read.count_of(HAND_SIZE)} tiles. {less}")
            if not told and row.chosen is None:
                told.append(f"{where}Nothing is chosen yet. Say what is free about it.")
        pattern = self.pattern
        if not told and pattern:
            for number, groups in enumerate(pattern.rows, 1):
                if not expand_pattern(replace(pattern, rows=(groups,)), year):
                    where = f"Row {number}: " if len(self.rows) > 1 else ""
                    told.append(f"{where}The set cannot fill this hand. Make a group smaller, or free less.")
        return tuple(told)

    def hand(self, section: str, year: int) -> Hand | None:
        """Return the hand of a finished line."""
        pattern = self.pattern
        if pattern is None or self.open(year):
            return None
        return Hand(
            id=self.id or made_id(frozenset(expand_pattern(pattern, year))),
            section=section,
            groups=format_hand(pattern.rows),
            concealed=self.concealed,
            value=self.values[0],
            n=self.n,
            m=self.m,
            values=self.values if len(self.values) > 1 else (),
            note=self.note,
            jokers=self.jokers,
        )


@dataclass(frozen=True, slots=True)
class DraftSection:
    """A heading with its lines."""

    name: str = "Hands"
    about: str = ""
    lines: tuple[DraftLine, ...] = ()


@dataclass(frozen=True, slots=True)
class Draft:
    """A card being written."""

    title: str = "My card"
    year: int = 2026
    note: str = ""
    share: bool = False
    sections: tuple[DraftSection, ...] = field(default_factory=lambda: (DraftSection(),))

    @property
    def lines(self) -> tuple[tuple[int, int], ...]:
        """The places of all lines: section and line, counted from 0."""
        return tuple((at, line) for at, section in enumerate(self.sections) for line in range(len(section.lines)))

    def card(self) -> Card | None:
        """Return the card, if no line is open and no section empty."""
        if self.open() or not all(section.lines for section in self.sections):
            return None
        read = read_card(text_of(self).encode())
        return read if isinstance(read, Card) else None

    def open(self) -> dict[tuple[int, int], tuple[str, ...]]:
        """Return what is open, by the place of the line."""
        found = {(at, line): self.sections[at].lines[line].open(self.year) for at, line in self.lines}
        return {place: told for place, told in found.items() if told}

    def twins(self) -> dict[tuple[int, int], int]:
        """Return the lines that are the same hand as an earlier one, with the number of that one, counted from 1."""
        first: dict[object, int] = {}
        found = {}
        for number, (at, line) in enumerate(self.lines, 1):
            one = self.sections[at].lines[line]
            pattern = one.pattern
            if pattern is None or one.open(self.year):
                continue
            earlier = first.setdefault(frozenset(expand_pattern(pattern, self.year)), number)
            if earlier != number:
                found[at, line] = earlier
        return found


def draft_of(card: Card) -> Draft:
    """Return a card as a draft, each hand with an example in its own order."""
    return Draft(
        card.title,
        card.year,
        card.note,
        card.share,
        tuple(
            DraftSection(section.name, section.about, tuple(_line_of(hand, card.year) for hand in section.hands))
            for section in card.sections
        ),
    )


def _line_of(hand: Hand, year: int) -> DraftLine:
    pattern = pattern_of(hand)
    rows = tuple(
        DraftRow(typed_of(example.groups, example.tiles, year), ShownRow(example.groups, example.tiles))
        for example in examples(hand, year)
    )
    own = hand.id if hand.id != made_id(frozenset(expand_pattern(pattern, year))) else ""
    values = hand.values or (hand.value,)
    return DraftLine(rows, hand.n, hand.m, hand.jokers, hand.concealed, values, hand.note, own)


def typed_of(groups: Groups, tiles: Rack, year: int) -> str:
    """Return groups of these tiles as somebody types them: "FFFF 111b 2222b 333b"."""
    return draw(groups, tiles, year).text(between=" ")


def text_of(draft: Draft) -> str:
    """Return a draft as the text of a card file; lines that are open stand in their section as `open`."""
    text = write_head(draft.title, draft.year, draft.note, draft.share)
    for section in draft.sections:
        hands, still_open = [], []
        for number, line in enumerate(section.lines, 1):
            hand = line.hand(section.name, draft.year)
            if hand is not None:
                hands.append(hand_line(hand, draft.year))
            else:
                typed = " or ".join(row.typed.strip() for row in line.rows)
                still_open.append(f"{{line = {number}, tiles = {quoted(typed)}}}")
        more = [f"open = [{', '.join(still_open)}]"] if still_open else []
        text += write_section(Section(section.name, section.about, ()), hands, more)
    return text


def read_draft(data: bytes) -> Draft | tuple[Fault, ...]:
    """Return the draft in a file's bytes, or all the faults of its finished part.

    An open line keeps what was typed; what was chosen for it before is not kept.
    """
    table = read_table(data)
    if isinstance(table, str):
        return (Fault(table),)
    head, sections = table.get("card"), table.get("section")
    if not isinstance(head, dict) or not isinstance(sections, list):
        read = read_card(data)
        return draft_of(read) if isinstance(read, Card) else read
    open_lines = [_open_of(section) for section in sections]
    read = read_card(data, drafts=True)
    if not isinstance(read, Card):
        return read
    draft = draft_of(read)
    filled = []
    for section, left in zip(draft.sections, open_lines, strict=True):
        lines = list(section.lines)
        for number, typed in sorted(left):
            rows = tuple(DraftRow(part) for part in typed.split(" or "))
            lines.insert(min(number - 1, len(lines)), DraftLine(rows))
        filled.append(replace(section, lines=tuple(lines)))
    return replace(draft, sections=tuple(filled))


def _open_of(section: object) -> list[tuple[int, str]]:
    """Return the open lines of a section's table, as far as they can be read."""
    left = section.get("open", []) if isinstance(section, dict) else []
    return [
        (number, typed)
        for item in (left if isinstance(left, list) else [])
        if isinstance(item, dict)
        and type(number := item.get("line")) is int
        and isinstance(typed := item.get("tiles"), str)
    ]

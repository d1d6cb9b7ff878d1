"""The card writer without a screen: what can be done to a card that is being written, and what is to be shown of it.

Every method is one intent and returns the writer as it is afterwards; nothing is changed in place, so that undoing is
looking back. It knows no keys, no files and no dice: who wants random examples brings the choice along.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from shared.cards.draft import Draft, DraftLine, DraftRow, DraftSection, text_of
from shared.cards.example import example_with
from shared.cards.expand import Pattern, counts_of, expand_pattern, instances, is_possible
from shared.cards.faces import Relative
from shared.cards.freedom import Freedom, freedom_of
from shared.cards.guess import Proposal, guess
from shared.cards.notation import HAND_SIZE, MAX_ALTERNATIVES
from shared.cards.picture import Picture, draw
from shared.cards.turning import ShownRow, kinds_of_turn, turn
from shared.rules.tiles import COPIES, JOKER, Rack
from shared.rules.typed_tiles import TypedTiles

Item = TypeVar("Item")
MOST_UNDONE = 200
Pick = Callable[[int], int]
"""Returns a number from 0 up to, but not including, its argument."""


@dataclass(frozen=True, slots=True)
class Writer:
    """A draft, the place in it where somebody writes, and what it was before.

    `section`, `line`, `row` and `group` count from 0. `line` is the number of lines if the section has none yet.
    """

    draft: Draft
    section: int = 0
    line: int = 0
    row: int = 0
    group: int = 0
    past: tuple["Writer", ...] = ()
    ahead: tuple["Writer", ...] = ()

    # ---- what is to be seen

    @property
    def here(self) -> DraftLine | None:
        """The line being written; None in a section without lines."""
        lines = self.draft.sections[self.section].lines if self.draft.sections else ()
        return lines[self.line] if self.line < len(lines) else None

    @property
    def here_row(self) -> DraftRow | None:
        """The row being written."""
        return self.here.rows[self.row] if self.here else None

    @property
    def read(self) -> TypedTiles:
        """What the row says as it was typed, with its faults."""
        return (self.here_row or DraftRow()).read(self.draft.year)

    @property
    def count(self) -> str:
        """How many tiles are typed: "13 of 14"."""
        return self.read.count_of(HAND_SIZE)

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """What the row may stand for, likeliest first; none before it is fourteen tiles that can be read."""
        read, line = self.read, self.here
        if line is None or read.faults or len(read.tiles) != HAND_SIZE:
            return ()
        return guess(read.groups, self.draft.year, read.years, line.jokers)

    @property
    def open(self) -> tuple[str, ...]:
        """What has to be done before the line is a hand."""
        return self.here.open(self.draft.year) if self.here else ()

    @property
    def twin(self) -> int | None:
        """The number, from 1, of an earlier line that is the same hand."""
        return self.draft.twins().get((self.section, self.line))

    @property
    def words(self) -> Freedom | None:
        """What is free about the row; None while nothing is chosen."""
        shown, pattern = self._chosen()
        if shown is None or pattern is None or not expand_pattern(pattern, self.draft.year):
            return None
        arguments = (pattern.n, self.draft.year, pattern.m, pattern.jokers)
        return freedom_of(example_with(shown.groups, shown.tiles, *arguments), *arguments)

    @property
    def ways(self) -> int:
        """How many variants the row has; 0 while nothing is chosen."""
        _, pattern = self._chosen()
        return len(expand_pattern(pattern, self.draft.year)) if pattern else 0

    @property
    def picture(self) -> Picture | None:
        """The row in tiles; None while nothing is chosen."""
        shown, _ = self._chosen()
        return draw(shown.groups, shown.tiles, self.draft.year) if shown else None

    @property
    def turns(self) -> tuple[str, ...]:
        """What can be turned about the group: "rank", "suit", "dragon" or "wind"."""
        shown, _ = self._chosen()
        return kinds_of_turn(shown, self.group) if shown and self.group < len(shown.groups) else ()

    @property
    def joker_groups(self) -> tuple[bool, ...]:
        """For each group of the row whether jokers may stand in it."""
        shown, pattern = self._chosen()
        return tuple(bool(pattern and pattern.jokers and group.count >= 3) for group in shown.groups) if shown else ()

    def other_examples(self, pick: Pick, many: int = 2) -> tuple[Picture, ...]:
        """Return random examples of the row, none twice and none the one that was typed; fewer if there are no more."""
        shown, pattern = self._chosen()
        if shown is None or pattern is None:
            return ()
        sizes = tuple(group.count for group in shown.groups)
        every = dict.fromkeys(
            tiles
            for tiles in instances(shown.groups, pattern.n, self.draft.year, pattern.m)
            if tiles != shown.tiles and is_possible(counts_of(tiles, sizes, pattern.jokers))
        )
        left = list(every)
        found: list[Picture] = []
        while left and len(found) < many:
            found.append(draw(shown.groups, left.pop(pick(len(left))), self.draft.year))
        return tuple(found)

    def dealt(self, pick: Pick) -> Rack:
        """Return a random complete rack of the row, with jokers where the set has no more and now and then besides.

        To be held against the paper. Empty while nothing is chosen.
        """
        shown, pattern = self._chosen()
        wanted = expand_pattern(pattern, self.draft.year) if pattern else ()
        if shown is None or not wanted:
            return ()
        pairs, groups = wanted[pick(len(wanted))]
        rack: list[str] = []
        left = COPIES[JOKER] - sum(
            max(0, pair + group - copies) for pair, group, copies in zip(pairs, groups, COPIES.values(), strict=True)
        )
        for (kind, copies), pair, group in zip(COPIES.items(), pairs, groups, strict=True):
            needed = max(0, pair + group - copies)
            extra = pick(2) if group > needed and left else 0
            left -= extra
            rack += [kind] * (pair + group - needed - extra) + [JOKER] * (needed + extra)
        return tuple(rack)  # type: ignore[arg-type]

    # ---- writing a line

    def type(self, text: str) -> "Writer":
        """Write the row anew; what was chosen for it is open again."""
        if self.here is None:
            return self.add_line().type(text)
        if self.here_row and self.here_row.typed == text:
            return self
        return replace(self._with_row(DraftRow(text)), group=0)

    def choose(self, number: int) -> "Writer":
        """Take a proposal by its place in the list, from 0."""
        proposals = self.proposals
        if self.here is None or not 0 <= number < len(proposals):
            return self
        pattern = proposals[number].pattern
        shown = ShownRow(pattern.rows[0], tuple(tile for tile, _ in self.read.groups))
        row = DraftRow(self.here.rows[self.row].typed, shown)
        return self._with_lists(self._put_row(self.here, row), pattern)

    def leave(self) -> "Writer":
        """Leave a line with what is chosen, or with the likeliest proposal if nothing is."""
        return self if self.here_row is None or self.here_row.chosen else self.choose(0)

    def to_group(self, by: int) -> "Writer":
        """Go to another group of the row."""
        shown, _ = self._chosen()
        return replace(self, group=max(0, min(self.group + by, len(shown.groups) - 1))) if shown else self

    def turn(self, what: str) -> "Writer":
        """Turn the "rank", "suit", "dragon" or "wind" of the group to its next sort of freedom."""
        shown, _ = self._chosen()
        if shown is None or self.here is None or what not in self.turns:
            return self
        turned = turn(shown, self.group, what)
        line = self._put_row(self.here, DraftRow(self.here.rows[self.row].typed, turned))
        return self._with_line(replace(line, n=None, m=None) if what == "rank" else line)

    def set_ranks(self, letter: str, ranks: tuple[int, ...] | None) -> "Writer":
        """Let a free rank, "n" or "m", take these values only, or all that fit."""
        if self.here is None:
            return self
        faces = [g.face for row in self.here.rows if row.chosen for g in row.chosen.groups]
        own = [face for face in faces if isinstance(face, Relative) and face.letters == letter]
        fitting = (number for number in range(1, 10) if all(1 <= face.rank(number, number) <= 9 for face in own))
        kept = tuple(number for number in fitting if number in (ranks or ())) or None
        return self._with_line(replace(self.here, n=kept) if letter == "n" else replace(self.here, m=kept))

    def set_value(self, value: int) -> "Writer":
        """Say what the row counts; one number stands for all rows that count the same."""
        if self.here is None:
            return self
        values = [*(self.here.values * len(self.here.rows))[: len(self.here.rows)]]
        values[self.row] = max(0, min(value, 999))
        return self._with_line(replace(self.here, values=tuple(values) if len(set(values)) > 1 else (values[0],)))

    def set_note(self, note: str) -> "Writer":
        """Write a remark beside the hand."""
        return self._with_line(replace(self.here, note=note[:200])) if self.here else self

    def turn_concealed(self) -> "Writer":
        """Say that the hand is concealed, or not."""
        return self._with_line(replace(self.here, concealed=not self.here.concealed)) if self.here else self

    def turn_jokers(self) -> "Writer":
        """Say that the hand takes no jokers, or takes them."""
        return self._with_line(replace(self.here, jokers=not self.here.jokers)) if self.here else self

    def add_row(self) -> "Writer":
        """Begin another way to play the hand: "or"."""
        if self.here is None or len(self.here.rows) == MAX_ALTERNATIVES:
            return self
        rows = (*self.here.rows, DraftRow())
        values = (*self.here.values, self.here.values[-1]) if len(self.here.values) > 1 else self.here.values
        return replace(self._with_line(replace(self.here, rows=rows, values=values)), row=len(rows) - 1, group=0)

    def delete_row(self) -> "Writer":
        """Delete the row; the line with it if it is the only one."""
        if self.here is None or len(self.here.rows) == 1:
            return self.delete_line()
        rows = (*self.here.rows[: self.row], *self.here.rows[self.row + 1 :])
        values = self.here.values
        if len(values) > 1:
            values = (*values[: self.row], *values[self.row + 1 :])
            values = values if len(set(values)) > 1 else values[:1]
        line = replace(self.here, rows=rows, values=values)
        return replace(self._with_line(line), row=min(self.row, len(rows) - 1), group=0)

    def to_row(self, by: int) -> "Writer":
        """Go to another row of the line."""
        rows = self.here.rows if self.here else (DraftRow(),)
        return replace(self, row=max(0, min(self.row + by, len(rows) - 1)), group=0)

    # ---- lines and sections

    def add_line(self) -> "Writer":
        """Begin a line below the one being written."""
        lines = self.draft.sections[self.section].lines if self.draft.sections else ()
        at = min(self.line + 1, len(lines))
        return replace(self._with_lines((*lines[:at], DraftLine(), *lines[at:])), line=at, row=0, group=0)

    def delete_line(self) -> "Writer":
        """Delete the line."""
        if self.here is None:
            return self
        lines = self.draft.sections[self.section].lines
        left = (*lines[: self.line], *lines[self.line + 1 :])
        return replace(self._with_lines(left), line=max(0, min(self.line, len(left) - 1)), row=0, group=0)

    def move_line(self, by: int) -> "Writer":
        """Move the line up or down, over the end of a section into the next."""
        if self.here is None:
            return self
        line, section, at = self.here, self.section, self.line + by
        sections = list(self.draft.sections)
        own = list(sections[section].lines)
        own.pop(self.line)
        sections[section] = replace(sections[section], lines=tuple(own))
        if not 0 <= at <= len(own):
            other = section + (1 if by > 0 else -1)
            if not 0 <= other < len(sections):
                return self
            section, at = other, 0 if by > 0 else len(sections[other].lines)
        lines = sections[section].lines
        sections[section] = replace(sections[section], lines=(*lines[:at], line, *lines[at:]))
        return replace(self._changed(replace(self.draft, sections=tuple(sections))), section=section, line=at)

    def to_line(self, section: int, line: int) -> "Writer":
        """Go to a line."""
        section = max(0, min(section, len(self.draft.sections) - 1))
        last = len(self.draft.sections[section].lines) - 1
        return replace(self, section=section, line=max(0, min(line, last)), row=0, group=0)

    def step(self, by: int) -> "Writer":
        """Go to the line above or below, over the ends of sections."""
        places = self.draft.lines
        if not places:
            return self
        here = (self.section, self.line)
        at = places.index(here) if here in places else 0
        return self.to_line(*places[max(0, min(at + by, len(places) - 1))])

    def add_section(self, name: str) -> "Writer":
        """Begin a section below the one being written in."""
        sections = self.draft.sections
        at = self.section + 1 if sections else 0
        fresh = DraftSection(_unlike(name, [section.name for section in sections]))
        draft = replace(self.draft, sections=(*sections[:at], fresh, *sections[at:]))
        return replace(self._changed(draft), section=at, line=0, row=0, group=0)

    def name_section(self, name: str, about: str = "") -> "Writer":
        """Name the section."""
        sections = self.draft.sections
        others = [section.name for at, section in enumerate(sections) if at != self.section]
        named = replace(sections[self.section], name=_unlike(name, others), about=about[:200])
        return self._changed(replace(self.draft, sections=_exchanged(sections, self.section, named)))

    def delete_section(self) -> "Writer":
        """Delete the section with its lines; the last one is only emptied."""
        sections = self.draft.sections
        left = (*sections[: self.section], *sections[self.section + 1 :]) or (DraftSection(),)
        moved = replace(self._changed(replace(self.draft, sections=left)), section=0, line=0)
        return moved.to_line(min(self.section, len(left) - 1), 0)

    def set_head(self, title: str, year: int, note: str = "", share: bool = False) -> "Writer":
        """Say what the card is called, its year, a remark, and whether it may be sent to others."""
        head = replace(self.draft, title=title[:60], year=year, note=note[:400], share=share)
        return self._changed(head)

    # ---- looking back

    def undo(self) -> "Writer":
        """Take back the last change."""
        if not self.past:
            return self
        return replace(self.past[-1], past=self.past[:-1], ahead=(replace(self, past=(), ahead=()), *self.ahead))

    def redo(self) -> "Writer":
        """Do again what was taken back last."""
        if not self.ahead:
            return self
        return replace(self.ahead[0], past=(*self.past, replace(self, past=(), ahead=())), ahead=self.ahead[1:])

    @property
    def text(self) -> str:
        """The file as it is to be saved now."""
        return text_of(self.draft)

    # ---- inside

    def _chosen(self) -> tuple[ShownRow | None, Pattern | None]:
        """Return the row with its tiles and its pattern alone, if anything is chosen."""
        line, row = self.here, self.here_row
        if line is None or row is None or row.chosen is None:
            return None, None
        letters = "".join(g.face.letters for g in row.chosen.groups if isinstance(g.face, Relative))
        n, m = line.n if "n" in letters else None, line.m if "m" in letters else None
        return row.chosen, Pattern((row.chosen.groups,), n, m, line.jokers)

    def _changed(self, draft: Draft) -> "Writer":
        if draft == self.draft:
            return self
        past = (*self.past, replace(self, past=(), ahead=()))[-MOST_UNDONE:]
        return replace(self, draft=draft, past=past, ahead=())

    def _with_lines(self, lines: tuple[DraftLine, ...]) -> "Writer":
        sections = self.draft.sections or (DraftSection(),)
        fresh = replace(sections[self.section], lines=lines)
        return self._changed(replace(self.draft, sections=_exchanged(sections, self.section, fresh)))

    def _with_line(self, line: DraftLine) -> "Writer":
        """Put a line where the one being written stands; lists of ranks that no row uses are dropped."""
        chosen = [row.chosen for row in line.rows if row.chosen]
        used = "".join(g.face.letters for row in chosen for g in row.groups if isinstance(g.face, Relative))
        line = replace(line, n=line.n if "n" in used else None, m=line.m if "m" in used else None)
        return self._with_lines(_exchanged(self.draft.sections[self.section].lines, self.line, line))

    def _put_row(self, line: DraftLine, row: DraftRow) -> DraftLine:
        return replace(line, rows=_exchanged(line.rows, self.row, row))

    def _with_row(self, row: DraftRow) -> "Writer":
        return self._with_line(self._put_row(self.here, row)) if self.here else self

    def _with_lists(self, line: DraftLine, pattern: Pattern) -> "Writer":
        """Take the values of n and m from a proposal; lists that no row uses any more are dropped."""
        others = [row.chosen for at, row in enumerate(line.rows) if at != self.row and row.chosen]
        used = "".join(g.face.letters for row in others for g in row.groups if isinstance(g.face, Relative))
        n = line.n if "n" in used else pattern.n
        m = line.m if "m" in used else pattern.m
        if "n" in used and pattern.n != line.n and "m" not in used and pattern.m is None:
            line, m = self._renamed(line), pattern.n
        return self._with_line(replace(line, n=n, m=m))

    def _renamed(self, line: DraftLine) -> DraftLine:
        """Return the line with m for n in the row, so that rows of one hand can have lists of their own."""
        row = line.rows[self.row]
        if row.chosen is None or any(isinstance(g.face, Relative) and g.face.m_times for g in row.chosen.groups):
            return line
        groups = tuple(
            replace(g, face=replace(g.face, n_times=0, m_times=g.face.n_times)) if isinstance(g.face, Relative) else g
            for g in row.chosen.groups
        )
        return self._put_row(line, replace(row, chosen=replace(row.chosen, groups=groups)))


def _exchanged(items: tuple[Item, ...], at: int, item: Item) -> tuple[Item, ...]:
    return (*items[:at], item, *items[at + 1 :])


def _unlike(name: str, others: list[str]) -> str:
    """Return a name for a section that no other section has."""
    name = name.strip()[:40] or "Hands"
    number = 1
    while (numbered := name if number == 1 else f"{name[:36]} {number}") in others:
        number += 1
    return numbered

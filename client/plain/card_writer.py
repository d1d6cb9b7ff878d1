"""Writing a card line by line, for a screen reader, a pipe or a simple terminal.

A line is the tiles of a hand, the number of a proposal, or a word such as `value 30`. The answer tells what changed.
`PlainWriter` knows no file; `write_plainly` saves after every line and reads a file again that somebody has changed.
"""

from collections.abc import Callable
from dataclasses import replace

from client.console import ask, complain, say
from client.models.written_card import KEY_OF_TURN, free_rank, group_text, joker_text, told_row, too_free, turns_of
from client.storage.card_files import NO_COMMENTS, BadCard, WrittenFile, begin_card
from client.text import some
from shared.cards.draft import Draft, read_draft
from shared.cards.picture import spoken
from shared.cards.turning import ShownRow
from shared.cards.writer import Pick, Writer
from shared.rules.tiles import KINDS
from shared.rules.typed_tiles import compact

HELP = (
    "Type an example of a hand, such as FFFF 111b 2222b 333b, then the number of what is free about it.",
    "Once that is chosen, the next line of tiles begins the next hand.",
    "rank 2, suit 2, dragon 2, wind 2: turn what is free about the second group; groups tells them all.",
    "ranks 2 135: the ranks that the second group may have.",
    "value 30, note WORDS, concealed, jokers: more about the hand. or: another way to play it.",
    "again TILES: type this hand anew. try: deal a complete rack of it. tell: all about it.",
    "heading WORDS: begin a section. title WORDS, year 2026: the card itself.",
    "list: all hands. open: what is not finished. hand 3: go to a hand. up, down: move it. delete: delete it.",
    "undo, redo, quit. Everything is saved after each line.",
)


class PlainWriter:
    """A card being written by lines; `writer` is what is to be saved after each."""

    def __init__(self, writer: Writer, pick: Pick) -> None:
        self.writer = writer
        self._pick = pick
        self._words: dict[str, Callable[[str], list[str]]] = {
            "help": lambda rest: list(HELP),
            "list": lambda rest: self._list(),
            "open": lambda rest: self._open(),
            "tell": lambda rest: self._tell(),
            "groups": lambda rest: self._groups(),
            "hand": self._hand,
            "heading": self._heading,
            "title": self._title,
            "year": self._year,
            "value": self._value,
            "note": lambda rest: self._did(self.writer.set_note(rest), "The note is written."),
            "concealed": lambda rest: self._flag(self.writer.turn_concealed()),
            "jokers": lambda rest: self._flag(self.writer.turn_jokers()),
            "or": lambda rest: self._did(self.writer.add_row(), "Type the other way to play this hand."),
            "again": lambda rest: self._type(rest, anew=True),
            "try": lambda rest: self._try(),
            "ranks": self._ranks,
            "up": lambda rest: self._did(self.writer.move_line(-1), "Moved up."),
            "down": lambda rest: self._did(self.writer.move_line(1), "Moved down."),
            "delete": lambda rest: self._did(self.writer.delete_row(), "Deleted; undo brings it back."),
            "undo": lambda rest: self._did(self.writer.undo(), "Taken back."),
            "redo": lambda rest: self._did(self.writer.redo(), "Made again."),
        }

    def hear(self, line: str) -> list[str]:
        """Act on a line and return what is to be said."""
        line = line.strip()
        word, _, rest = line.partition(" ")
        word, rest = word.lower(), rest.strip()
        if not line:
            return []
        if line.isascii() and line.isdigit() and len(line) < 3:
            return self._choose(int(line))
        if word in KEY_OF_TURN and rest:
            return self._turn(word, rest)
        if word in self._words:
            return self._words[word](rest)
        return self._type(line)

    def told(self) -> str:
        """Return where we are: what is said first."""
        draft = self.writer.draft
        hands, still = len(draft.lines), len(draft.open())
        left = f", {still} not finished" if still else ""
        return f"{draft.title}, {draft.year}: {some(hands, 'hand')}{left}. Type the tiles of a hand, or help."

    # ---- writing

    def _type(self, line: str, anew: bool = False) -> list[str]:
        row = self.writer.here_row
        begins = row is None or (row.chosen is not None and not anew)
        self.writer = (self.writer.add_line() if begins else self.writer).type(line)
        return self._proposed()

    def _proposed(self) -> list[str]:
        proposals = self.writer.proposals
        if not proposals:
            return [f"{self._name()}, {self.writer.count}.", *self.writer.open]
        listed = [f"{place}: {proposal}" for place, proposal in enumerate(proposals, 1)]
        return [f"{self._name()}, {self.writer.count}. What is free about it? Type a number.", *listed]

    def _choose(self, number: int) -> list[str]:
        if not self.writer.proposals:
            return [f"There is nothing to choose. {' '.join(self.writer.open) or 'Type the tiles of a hand.'}"]
        if not 1 <= number <= len(self.writer.proposals):
            return [f"Type a number from 1 to {len(self.writer.proposals)}."]
        return self._did(self.writer.choose(number - 1), "")

    def _turn(self, what: str, rest: str) -> list[str]:
        at = self._group(rest)
        if isinstance(at, str):
            return [at]
        there = self.writer.to_group(at - self.writer.group)
        if what not in there.turns:
            return [f"Group {at + 1} has no {what} to turn."]
        turned = there.turn(what)
        told = self._did(turned, "")
        shown = self.writer.here_row.chosen if self.writer.here_row else None
        return [*told, *(self._group_told(shown, at) if shown and self.writer is turned else [])]

    def _ranks(self, rest: str) -> list[str]:
        group, _, digits = rest.partition(" ")
        at, row = self._group(group), self.writer.here_row
        if isinstance(at, str) or row is None or row.chosen is None:
            return [str(at)]
        letter = free_rank(row.chosen, at)
        if not letter:
            return ["The rank of this group is not free."]
        ranks = tuple(sorted({int(sign) for sign in digits if sign in "123456789"}))
        return self._did(self.writer.set_ranks(letter, ranks or None), "")

    def _value(self, rest: str) -> list[str]:
        if not (rest.isascii() and rest.isdigit() and len(rest) < 4):
            return ["Type a number behind it, such as value 30."]
        return self._did(self.writer.set_value(int(rest)), f"{self._name()} counts {int(rest)}.")

    def _flag(self, there: Writer) -> list[str]:
        if there.here is None:
            return ["There is no hand yet."]
        concealed = "concealed" if there.here.concealed else "not concealed"
        return self._did(there, f"{self._name()} is {concealed}, {'with' if there.here.jokers else 'without'} jokers.")

    def _try(self) -> list[str]:
        rack = self.writer.dealt(self._pick)
        order = [*KINDS, "J"]
        return [compact(tuple(sorted(rack, key=order.index))) if rack else "Choose first what is free about it."]

    # ---- the card

    def _heading(self, rest: str) -> list[str]:
        if not rest:
            return ["Type the words of the heading behind it."]
        sections = self.writer.draft.sections
        if self.writer.here is None and sections and not sections[self.writer.section].lines:
            return self._did(self.writer.name_section(rest), f"Heading: {rest}.")
        return self._did(self.writer.add_section(rest), f"Heading: {rest}.")

    def _title(self, rest: str) -> list[str]:
        draft = self.writer.draft
        if not rest:
            return [f"The title is {draft.title}."]
        return self._did(self.writer.set_head(rest, draft.year, draft.note, draft.share), f"Title: {rest}.")

    def _year(self, rest: str) -> list[str]:
        draft = self.writer.draft
        if not (rest.isascii() and rest.isdigit() and len(rest) == 4 and rest[0] != "0"):
            return ["Type four figures behind it, such as year 2026."]
        return self._did(self.writer.set_head(draft.title, int(rest), draft.note, draft.share), f"Year: {rest}.")

    def _hand(self, rest: str) -> list[str]:
        places = self.writer.draft.lines
        if not (rest.isascii() and rest.isdigit() and len(rest) < 4 and 1 <= int(rest) <= len(places)):
            return [f"The card has {some(len(places), 'hand')}. Type the number of one, such as hand 1."]
        self.writer = self.writer.to_line(*places[int(rest) - 1])
        return self._tell()

    # ---- telling

    def _did(self, there: Writer, told: str) -> list[str]:
        """Take a change, unless it leaves too much free, and tell it: in these words, or the hand as it is now."""
        if trouble := too_free(there):
            return [trouble]
        if there.draft == self.writer.draft and there is not self.writer:
            self.writer = there
            return ["Nothing has changed."]
        if there is self.writer:
            return ["Nothing has changed."]
        self.writer = there
        return [told] if told else self._freedom()

    def _freedom(self) -> list[str]:
        writer = self.writer
        if writer.words is None:
            return [f"{self._name()}: {' '.join(writer.open)}"]
        lines = [f"{self._name()}: {writer.words}, {some(writer.ways, 'way')}."]
        if writer.twin:
            lines.append(f"This is the same hand as hand {writer.twin}.")
        return [*lines, *writer.open]

    def _tell(self) -> list[str]:
        here, row, writer = self.writer.here, self.writer.here_row, self.writer
        if here is None or row is None:
            return ["There is no hand yet. Type the tiles of one."]
        told = told_row(here, writer.row, writer.draft.year)
        if told.picture is None or row.chosen is None:
            return [f"{self._name()}: {row.typed or 'nothing typed'}.", *told.open]
        jokers = joker_text(row.chosen, writer.joker_groups)
        others = [spoken(picture) for picture in writer.other_examples(self._pick)]
        return [
            f"{self._name()}: {spoken(told.picture)}.",
            *self._freedom()[1:],
            f"{told.words}, {some(told.ways, 'way')}.",
            *(f"Or {other}." for other in others),
            f"{jokers[:1].upper()}{jokers[1:]}.",
            f"It counts {told.value}, {'concealed' if here.concealed else 'not concealed'}.",
            *([here.note] if here.note else []),
        ]

    def _groups(self) -> list[str]:
        row = self.writer.here_row
        if row is None or row.chosen is None:
            return ["Choose first what is free about it."]
        return [line for at in range(len(row.chosen.groups)) for line in self._group_told(row.chosen, at)]

    def _group_told(self, row: ShownRow, at: int) -> list[str]:
        turns = turns_of(row, at, replace(self.writer, group=at).turns)
        told = "; ".join(f"{turn.what}: {turn.stands}" for turn in turns) or "nothing is free"
        return [f"Group {at + 1}, {group_text(row, at)}. {told[:1].upper()}{told[1:]}."]

    def _list(self) -> list[str]:
        draft, lines, number = self.writer.draft, [], 0
        for section in draft.sections:
            lines.append(f"{section.name}, {some(len(section.lines), 'hand')}.")
            for line in section.lines:
                number += 1
                for row in range(len(line.rows)):
                    told = told_row(line, row, draft.year)
                    name = f"{number}" if not row else "or"
                    more = told.words if not told.open else f"not finished. {told.open[0]}"
                    lines.append(f"{name}: {told.tiles}; {more}; counts {told.value}")
        return lines

    def _open(self) -> list[str]:
        numbers = {place: number for number, place in enumerate(self.writer.draft.lines, 1)}
        return [f"Hand {numbers[place]}: {' '.join(told)}" for place, told in self.writer.draft.open().items()] or [
            "All hands are finished."
        ]

    def _name(self) -> str:
        places = self.writer.draft.lines
        here = (self.writer.section, self.writer.line)
        return f"Hand {places.index(here) + 1}" if here in places else "No hand"

    def _group(self, text: str) -> int | str:
        """Return the place of a group from 0, by its number or its tiles; or why there is none."""
        row = self.writer.here_row
        if row is None or row.chosen is None:
            return "Choose first what is free about it."
        texts = [group_text(row.chosen, at).lower() for at in range(len(row.chosen.groups))]
        if text.lower() in texts:
            return texts.index(text.lower())
        if text.isascii() and text.isdigit() and len(text) < 3 and 1 <= int(text) <= len(texts):
            return int(text) - 1
        return f"Name a group by its number, 1 to {len(texts)}, such as rank 2; groups tells them all."


def write_plainly(file: WrittenFile, year: int, pick: Pick) -> int:
    """Write a card on standard input and output until the end of the input, or `quit`. Return the exit code."""
    try:
        writer = PlainWriter(Writer(begin_card(file, year)), pick)
    except BadCard as bad:
        complain(*bad.faults, "Mend these lines in an editor first.")
        return 1
    say(f"The card is saved in {file.path}.", *([NO_COMMENTS] if file.has_comments else []), writer.told())
    while True:
        try:
            line = ask("")
        except EOFError:
            return 0
        if line.strip().lower() in ("quit", "q"):
            return 0
        try:
            if not _reread(file, writer):
                continue
            before = writer.writer.draft
            say(*writer.hear(line))
            if writer.writer.draft != before and not file.write(writer.writer.text):
                complain("The file was changed elsewhere just now; your last line was not saved. Type it again.")
                _reread(file, writer)
        except BadCard as bad:
            complain(*bad.told)


def _reread(file: WrittenFile, writer: PlainWriter) -> bool:
    """Take in what somebody else has changed; say whether the card can be written on."""
    data = file.changed()
    if data is None:
        return True
    read = read_draft(data)
    if isinstance(read, Draft):
        here = writer.writer
        there = Writer(read).to_line(here.section, here.line)
        writer.writer = replace(there, past=(*here.past, replace(here, past=(), ahead=())))
        say("The file was changed elsewhere and has been read again.", writer.told())
        return True
    say("The file was changed elsewhere and cannot be read. Mend it there; nothing is saved before.", *read)
    file.forget()
    return False

"""Keys of the card writer: what each of them does to the card that is being written, and what is to be shown.

Pure: the screen saves `writer` whenever it has changed. The mark stands on the head of the card, on a heading, or on a
row of a hand; while a field is open, letters are text.
"""

from dataclasses import replace
from typing import Literal

from client.models.written_card import (
    KEY_OF_TURN,
    Entry,
    Level,
    ToldRow,
    Turn,
    at_first_turn,
    at_row,
    entries,
    free_rank,
    one_step,
    told_row,
    too_free,
    turns_of,
)
from shared.cards.draft import Draft
from shared.cards.faces import Relative
from shared.cards.guess import Proposal
from shared.cards.picture import Picture
from shared.cards.read import MAX_HANDS, MAX_SECTIONS
from shared.cards.writer import Pick, Writer
from shared.rules.tiles import Rack

Field = Literal["", "tiles", "value", "ranks", "note", "heading", "title"]
Asked = Literal["", "back", "overwrite"]
"""What a key asks of the screen."""
LONGEST: dict[Field, int] = {"tiles": 120, "value": 3, "ranks": 9, "note": 200, "heading": 40, "title": 60}
AS_IT_IS = -1
"""The mark on a list of proposals that stands for what is chosen already."""
_TURN_OF_KEY = {key: what for what, key in KEY_OF_TURN.items()}
_YEARS = range(1000, 10_000)


class CardWriter:
    """A card being written by somebody with keys.

    Attributes:
        writer: the card and the place in it.
        field: which field is open, "" if letters are commands.
        text, caret: what the open field holds, and where letters go into it.
        mark: which proposal is marked while tiles are typed.
        moving: whether up and down carry the hand along.
        dealt: a random complete rack of the hand, while it is looked at.
        examples: two random examples of the marked proposal, or of the row; the same ones until it changes.
        note: what the last key led to, where that is worth a sentence.
        faults: what is wrong with the file that somebody else has changed; while there are any, nothing is written.
        may_keep: whether what is here may be written over such a file.
    """

    def __init__(self, writer: Writer, pick: Pick, faults: tuple[str, ...] = (), may_keep: bool = True) -> None:
        self.writer = writer
        self.pick = pick
        self.level: Level = "hand"
        self.field: Field = ""
        self.text, self.caret = "", 0
        self.mark = 0
        self.moving = False
        self.dealt: Rack = ()
        self.note = ""
        self.faults, self.first_fault, self.may_keep = faults, 0, may_keep
        self._began = writer
        self._is_new = False
        self.examples: tuple[Picture, ...] = ()
        self._examples_of: object = None
        self._settle()
        self._draw_lots()

    # ---- what is to be seen

    @property
    def entry(self) -> Entry:
        """Where the mark stands."""
        if self.level == "card":
            return Entry("card")
        if self.level == "heading":
            return Entry("heading", self.writer.section)
        place = (self.writer.section, self.writer.line, self.writer.row)
        return next(one for one in entries(self.writer.draft) if one.level == "hand" and place == _place(one))

    @property
    def told(self) -> ToldRow | None:
        """The row in hand, if the mark stands on one."""
        here = self.writer.here
        return told_row(here, self.writer.row, self.writer.draft.year) if here and self.level == "hand" else None

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """What the typed tiles may stand for."""
        return self.writer.proposals if self.field == "tiles" else ()

    @property
    def is_kept(self) -> bool:
        """Whether what is chosen for the open line is none of the proposals, and can be left as it is."""
        row = self.writer.here_row
        return bool(self.field == "tiles" and row and row.chosen and self._place_of_chosen() is None)

    @property
    def turns(self) -> tuple[Turn, ...]:
        """What keys would turn about the group in hand."""
        row = self.writer.here_row
        if self.field or self.level != "hand" or row is None or row.chosen is None:
            return ()
        return turns_of(row.chosen, self.writer.group, self.writer.turns)

    # ---- keys

    def press(self, key: str) -> Asked:
        """Act on a key as the screen names it; `at 3`, `take 2` and `group 1` come from the mouse."""
        asked = self._press(key)
        self._draw_lots()
        return asked

    def _press(self, key: str) -> Asked:
        self.note = ""
        if self.faults:
            return self._press_faults(key)
        dealt, self.dealt = self.dealt, ()
        word, _, number = key.partition(" ")
        if number.isdigit():
            self._click(word, int(number))
            return ""
        if self.field:
            self._press_field(key)
            return ""
        if key in ("q", "escape"):
            if dealt or self.moving:
                self.moving = False
                return ""
            return "back"
        if self.moving and key not in ("up", "down"):
            self.moving = False
            return ""
        self._press_command(key)
        self._settle()
        return ""

    def write_next(self) -> None:
        """Begin a hand below the one in hand; under a heading, the first one."""
        if sum(len(section.lines) for section in self.writer.draft.sections) >= MAX_HANDS:
            self.note = f"A card holds {MAX_HANDS} hands, and these are as many."
            return
        base = self.writer
        at_top = self.level != "hand"
        if self.level == "card":
            base = replace(base, section=0)
        self._open_tiles(replace(base, line=-1 if at_top else base.line).add_line(), base, is_new=True)

    def reread(self, draft: Draft) -> None:
        """Take the card as somebody else has changed it; undoing brings back what was here."""
        self.faults, self.field, self.moving, self.dealt, self.may_keep = (), "", False, (), True
        if draft == self.writer.draft:
            return
        there = Writer(draft).to_line(self.writer.section, self.writer.line)
        self.writer = one_step(self.writer, there)
        self.note = "The file was changed elsewhere and has been read again. u brings back what was here."
        self._settle()

    def found_faults(self, faults: tuple[str, ...]) -> None:
        """The file was changed elsewhere and cannot be read: show what is wrong, and write nothing."""
        if faults != self.faults:
            self.faults, self.first_fault = faults, 0

    def _press_faults(self, key: str) -> Asked:
        match key:
            case "up" | "down":
                by = -1 if key == "up" else 1
                self.first_fault = max(0, min(self.first_fault + by, len(self.faults) - 1))
            case "k" if self.may_keep:
                return "overwrite"
            case "q" | "escape":
                return "back"
        return ""

    def _click(self, word: str, number: int) -> None:
        if word == "take" and self.field == "tiles":
            self.mark = number - 1
            self._finish()
            return
        if word == "at":
            self._leave_field()
            listed = entries(self.writer.draft)
            self._go(listed[min(number, len(listed) - 1)])
        if word == "group" and not self.field:
            self.writer = self.writer.to_group(number - self.writer.group)

    def _press_command(self, key: str) -> None:
        match key:
            case "up" | "down":
                self._carry(-1 if key == "up" else 1) if self.moving else self._step(-1 if key == "up" else 1)
            case "pageup" | "pagedown":
                self._step(-10 if key == "pageup" else 10)
            case "u" | "y":
                self._look_back(key)
            case "h":
                self._add_heading()
            case "enter" | "space" if self.level == "card":
                self._open("title", self.writer.draft.title)
            case "enter":
                self.write_next()
            case _ if self.level == "hand":
                self._press_hand(key)
            case _:
                self._press_above(key)

    def _press_above(self, key: str) -> None:
        """Keys on the head of the card and on a heading."""
        draft = self.writer.draft
        match key, self.level:
            case "e" | "space", "heading":
                self._open("heading", draft.sections[self.writer.section].name)
            case "e", "card":
                self._open("title", draft.title)
            case "n", "card":
                self._open("note", draft.note)
            case "left" | "right", "card":
                year = draft.year + (1 if key == "right" else -1)
                if year in _YEARS:
                    self._set_head(replace(draft, year=year))
            case "x", "heading":
                lost = len(draft.sections[self.writer.section].lines)
                self.writer = self.writer.delete_section()
                hands = f" with its {lost} hands" if lost > 1 else " with its hand" if lost else ""
                self.note = f"The heading is deleted{hands}; u brings it back."

    def _press_hand(self, key: str) -> None:
        match key:
            case "left" | "right":
                self.writer = self.writer.to_group(-1 if key == "left" else 1)
            case "r" | "s" | "d" | "w":
                self._turn(_TURN_OF_KEY[key])
            case "e" | "space":
                self._open_tiles(self.writer, self.writer, is_new=False)
            case "v":
                self._open("value", "")
            case _ if len(key) == 1 and key.isdigit():
                self._open("value", key)
            case "n":
                self._open("note", self.writer.here.note if self.writer.here else "")
            case "l":
                self._open_ranks()
            case "c":
                self.writer = self.writer.turn_concealed()
            case "j":
                self._set(self.writer.turn_jokers())
            case "o":
                base = self.writer
                added = base.add_row()
                if added.draft == base.draft:
                    self.note = "A hand can be played in no more ways than these."
                else:
                    self._open_tiles(added, base, is_new=True)
            case "t":
                self.dealt = self.writer.dealt(self.pick)
                self.note = "" if self.dealt else "Say first what is free about it: e opens the line."
            case "m":
                self.moving = True
            case "shift+up" | "shift+down":
                self._carry(-1 if key == "shift+up" else 1)
            case "x":
                rows = len(self.writer.here.rows) if self.writer.here else 1
                number = self.entry.number
                self.writer = self.writer.delete_row()
                what = "This way to play it" if rows > 1 else f"Hand {number}"
                self.note = f"{what} is deleted; u brings it back."

    def _draw_lots(self) -> None:
        """Find other examples of the marked proposal, or of the row, unless they are the ones that are shown."""
        shown = self.writer
        if self.field == "tiles" and self.mark != AS_IT_IS:
            shown = shown.choose(self.mark)
        if self._examples_of != shown.here_row:
            self._examples_of, self.examples = shown.here_row, shown.other_examples(self.pick)

    # ---- going about

    def _go(self, entry: Entry) -> None:
        self.level = entry.level
        if entry.level == "hand":
            self.writer = at_row(self.writer, *_place(entry))
        elif entry.level == "heading":
            self.writer = replace(self.writer, section=entry.section, line=0, row=0, group=0)

    def _step(self, by: int) -> None:
        listed = entries(self.writer.draft)
        self._go(listed[max(0, min(listed.index(self.entry) + by, len(listed) - 1))])

    def _carry(self, by: int) -> None:
        if self.level == "hand":
            self.writer = self.writer.move_line(by)

    def _look_back(self, key: str) -> None:
        there = self.writer.undo() if key == "u" else self.writer.redo()
        if there is self.writer:
            self.note = "There is nothing to take back." if key == "u" else "Nothing was taken back."
            return
        self.writer, self.level = there, "hand"

    def _settle(self) -> None:
        """Stand on something that is there."""
        draft = self.writer.draft
        section = max(0, min(self.writer.section, len(draft.sections) - 1))
        lines = len(draft.sections[section].lines) if draft.sections else 0
        line = max(0, min(self.writer.line, lines - 1))
        if (section, line) != (self.writer.section, self.writer.line):
            self.writer = replace(self.writer, section=section, line=line, row=0, group=0)
        if self.level == "hand" and self.writer.here is None:
            self.level = "heading"
        if self.level == "heading" and not draft.sections:
            self.level = "card"

    # ---- fields

    def _open(self, field: Field, text: str) -> None:
        self.field, self.text, self.caret = field, text, len(text)
        self._began, self._is_new = self.writer, False

    def _open_tiles(self, there: Writer, base: Writer, is_new: bool) -> None:
        """Open the tiles of a row: `base` is what the card was before, to come back to and to undo to."""
        self.level, self.writer = "hand", there
        self._open("tiles", there.here_row.typed if there.here_row else "")
        self._began, self._is_new = base, is_new
        chosen = self._place_of_chosen()
        self.mark = AS_IT_IS if self.is_kept else chosen or 0

    def _open_ranks(self) -> None:
        row, here = self.writer.here_row, self.writer.here
        letter = free_rank(row.chosen, self.writer.group) if row and row.chosen else ""
        if not letter or here is None:
            self.note = "The rank of this group is not free. r frees it."
            return
        listed = here.n if letter == "n" else here.m
        self._open("ranks", "".join(map(str, listed or ())))

    def _add_heading(self) -> None:
        if len(self.writer.draft.sections) >= MAX_SECTIONS:
            self.note = f"A card holds {MAX_SECTIONS} headings, and these are as many."
            return
        base = self.writer
        sections = base.draft.sections
        if self.level == "card" or not sections or sections[base.section].lines:
            self.writer = base.add_section("Hands")
        self.level = "heading"
        self._open("heading", "")
        self._began, self._is_new = base, True

    def _press_field(self, key: str) -> None:
        match key:
            case "enter":
                self._finish()
            case "escape":
                self._leave_field()
            case "up" | "down" if self.field == "tiles":
                first = AS_IT_IS if self.is_kept else 0
                by = -1 if key == "up" else 1
                self.mark = max(first, min(self.mark + by, len(self.proposals) - 1))
            case "up" | "down":
                self._finish()
            case "left" | "right":
                self.caret = max(0, min(self.caret + (1 if key == "right" else -1), len(self.text)))
            case "home" | "end":
                self.caret = 0 if key == "home" else len(self.text)
            case "backspace" if self.caret:
                self._put(self.text[: self.caret - 1] + self.text[self.caret :], self.caret - 1)
            case "delete":
                self._put(self.text[: self.caret] + self.text[self.caret + 1 :], self.caret)
            case "space":
                self.type(" ")
            case _ if len(key) == 1 and key.isprintable():
                self.type(key)

    def type(self, text: str) -> None:
        """Put typed or pasted text where the caret stands."""
        text = "".join(sign for sign in text.expandtabs(1) if sign.isprintable())
        if self.field in ("value", "ranks"):
            text = "".join(sign for sign in text if sign in "0123456789")
        text = text[: LONGEST.get(self.field, 0) - len(self.text)]
        if text:
            self._put(self.text[: self.caret] + text + self.text[self.caret :], self.caret + len(text))

    def _put(self, text: str, caret: int) -> None:
        self.text, self.caret = text, caret
        if self.field == "tiles":
            self.writer, self.mark = self._step_from_began(self.writer.type(text)), 0
            self._draw_lots()
        elif self.field == "heading":
            about = self.writer.draft.sections[self.writer.section].about
            self.writer = self._step_from_began(self.writer.name_section(text, about))

    def _step_from_began(self, there: Writer) -> Writer:
        """Return a writer whose last change is all that was typed since the field was opened."""
        return one_step(self._began, there)

    def _finish(self) -> None:
        """Close the field with what it says."""
        text = self.text.strip()
        match self.field:
            case "tiles":
                self._finish_tiles()
                return
            case "heading":
                self.field = ""
                if self._is_new:
                    self.write_next()
                return
            case "title":
                self._set_head(replace(self.writer.draft, title=text or self.writer.draft.title))
            case "note" if self.level == "card":
                self._set_head(replace(self.writer.draft, note=text))
            case "note":
                self.writer = self.writer.set_note(text)
            case "value" if text:
                self.writer = self.writer.set_value(int(text))
            case "ranks" if not self._takes_ranks(text):
                return
        self.field = ""

    def _takes_ranks(self, text: str) -> bool:
        """Take the listed ranks; say whether the example is one of them."""
        row = self.writer.here_row
        if row and row.chosen:
            letter, at = free_rank(row.chosen, self.writer.group), self.writer.group
            face = row.chosen.groups[at].face
            assert isinstance(face, Relative)
            low = (int(row.chosen.tiles[at][0]) - face.plus) * (face.n_times + face.m_times)
            ranks = tuple(sorted({int(digit) for digit in text} - {0}))
            if ranks and low not in ranks:
                self.note = f"The example itself starts at {low}: leave {low} in, or type another example."
                return False
            self._set(self.writer.set_ranks(letter, ranks or None))
        return True

    def _finish_tiles(self) -> None:
        """Take the marked proposal; a line that is not a hand yet stays open and says why."""
        if not self.text.strip():
            self._leave_field()
            return
        if not self.proposals:
            told = self.told
            self.note = f"{told.open[0]} Esc leaves the line as it is." if told and told.open else ""
            return
        if self.mark == AS_IT_IS or self._set(self._step_from_began(self.writer.choose(self.mark))):
            self.field = ""
            self.writer = at_first_turn(self.writer)

    def _leave_field(self) -> None:
        """Close the field; tiles and headings stay as they were typed, a line on which nothing stands goes."""
        field, self.field = self.field, ""
        if field == "tiles" and not self.text.strip():
            deleted = self.writer.delete_row()
            self.writer = self._began if self._is_new else one_step(self._began, deleted)
            self.level = "hand" if self.writer.here else "heading"
        elif field == "heading" and self._is_new and not self.text.strip():
            self.writer, self.level = self._began, "hand"
        self._settle()

    # ---- changes that can leave too much free

    def _turn(self, what: str) -> None:
        if what not in self.writer.turns:
            have = " or ".join(f"{KEY_OF_TURN[one]} {one}" for one in self.writer.turns)
            self.note = f"This group has no {what} to turn{f'; {have} it has' if have else ''}."
            return
        self._set(self.writer.turn(what))

    def _set_head(self, head: Draft) -> None:
        self._set(self.writer.set_head(head.title, head.year, head.note, head.share))

    def _set(self, there: Writer) -> bool:
        """Take a change, unless the card could not be read with it; say whether it was taken."""
        trouble = too_free(there)
        if trouble:
            self.note = trouble
            return False
        self.writer = there
        return True

    def _place_of_chosen(self) -> int | None:
        """Which proposal is the chosen one, from 0; None if it is none of them."""
        here, row = self.writer.here, self.writer.here_row
        if here is None or row is None or row.chosen is None:
            return None
        for place in range(len(self.writer.proposals)):
            if self.writer.choose(place).draft == self.writer.draft:
                return place
        return None


def _place(entry: Entry) -> tuple[int, int, int]:
    return entry.section, entry.line, entry.row

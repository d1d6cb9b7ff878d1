"""The card writer drawn: the list of hands above, and below it all about the line in hand.

Draws a CardWriter; decides nothing. Every place that can be pressed stands for a key of the model.
"""

from rich.cells import cell_len
from textual import events

from client.models.card_writer import AS_IT_IS, CardWriter
from client.models.written_card import Entry, ToldRow, entries, group_text, joker_text, told_row
from client.text import some, wrapped
from client.theme import Ground
from client.tui.widgets.canvas import Canvas, Painting, Pressed
from client.tui.widgets.faults import draw_faults
from client.tui.widgets.hand import HandRow, draw_row, picture_rows
from shared.cards.picture import Block, Cell, Picture
from shared.rules.tiles import KINDS, Rack

_TILES, _MOST_TILES = 7, 38
_TYPING, _LOOKING = 14, 11
"""Rows below the list while tiles are typed, and else."""
_HOW = (
    "Type one example of the hand:   FFFF 111b 2222b 333b",
    "",
    "1b 1c 1d   a bam, a crak, a dot; 111b are three",
    "N E W S    winds",
    "R G O      red, green, white dragon (soap)",
    "F          flower",
    "A space begins a new group. The year's digits can be typed together: 2026b.",
)
_COMPLETE = "A complete rack of it. Does the paper allow it?   t deals another"


class Wheeled(Painting):
    """What a screen draws itself; the wheel is up and down."""

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Move the mark on."""
        event.stop()
        self.post_message(Pressed("down"))

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Move the mark back."""
        event.stop()
        self.post_message(Pressed("up"))


def draw_writer(canvas: Canvas, model: CardWriter) -> None:
    """Draw the list and what is in hand, or what is wrong with the file."""
    if model.faults:
        why = "The file was changed elsewhere and cannot be read." if model.may_keep else "The file cannot be read."
        heading = f"{why} Nothing is saved until it is mended there."
        draw_faults(canvas, heading, model.faults, model.first_fault)
        return
    below = canvas.height - (_TYPING if model.field == "tiles" else _LOOKING)
    _draw_list(canvas, model, max(3, below))
    _draw_below(canvas, model, max(3, below))


# ---- the list


def _draw_list(canvas: Canvas, model: CardWriter, height: int) -> None:
    listed, draft = entries(model.writer.draft), model.writer.draft
    at = listed.index(model.entry)
    first = max(0, min(at - height * 2 // 3, len(listed) - height))
    shown = range(first, min(len(listed), first + height))
    told = {
        place: told_row(draft.sections[one.section].lines[one.line], one.row, draft.year)
        for place in shown
        if (one := listed[place]).level == "hand"
    }
    tiles = min(_MOST_TILES, max((cell_len(row.tiles) for row in told.values()), default=0))
    for y, place in enumerate(shown):
        entry, here = listed[place], place == at
        ground: Ground = "chosen" if here and not model.field else "panel" if here else "page"
        canvas.put(0, y, " " * canvas.width, "text", ground)
        if entry.level == "hand":
            _draw_row(canvas, y, model, entry, told[place], tiles, ground)
        else:
            _draw_heading(canvas, y, model, entry, ground)
        if here:
            canvas.put(1, y, ">" if canvas.look.ascii else "▸", "text", ground, bold=True)
        canvas.zone(0, y, canvas.width, 1, f"at {place}")
    up, down = "^v" if canvas.look.ascii else "▴▾"
    if first:
        canvas.put(0, 0, up, "mark", bold=True)
    if shown.stop < len(listed):
        canvas.put(0, height - 1, down, "mark", bold=True)


def _draw_heading(canvas: Canvas, y: int, model: CardWriter, entry: Entry, ground: Ground) -> None:
    draft = model.writer.draft
    if entry.level == "card":
        end = canvas.put(3, y, draft.title, "text", ground, bold=True)
        canvas.put(end + 2, y, str(draft.year), "text", ground)
        return
    section = draft.sections[entry.section]
    end = canvas.put(3, y, section.name, "text", ground, bold=True)
    if section.lines:
        canvas.put(end + 2, y, some(len(section.lines), "hand"), "quiet", ground)
    else:
        canvas.put(end + 2, y, "no hand yet: write one, or delete the heading with x", "warn", ground)


def _draw_row(
    canvas: Canvas, y: int, model: CardWriter, entry: Entry, told: ToldRow, tiles: int, ground: Ground
) -> None:
    canvas.put(3, y, f"{entry.number:>3}" if not entry.row else " or", "quiet", ground)
    if told.picture:
        blocks = told.picture.blocks
        draw_row(canvas, _TILES, y, HandRow(blocks, 1), ground)
    else:
        canvas.put(_TILES, y, canvas.fitted(told.tiles, min(_MOST_TILES, cell_len(told.tiles))), "text", ground)
    line = model.writer.draft.sections[entry.section].lines[entry.line]
    state = "open" if told.open else f"{told.value}"
    x, end = _TILES + tiles + 2, canvas.width - 8
    words = told.words or (told.open[0] if told.open and not model.field else "")
    canvas.put(x, y, canvas.fitted(words, end - x), "text" if told.words else "warn", ground)
    canvas.put(canvas.width - 7, y, f"{state:>4}", "warn" if told.open else "text", ground, bold=bool(told.open))
    canvas.put(canvas.width - 2, y, "C" if line.concealed else " ", "text", ground)


# ---- what is in hand


def _draw_below(canvas: Canvas, model: CardWriter, top: int) -> None:
    entry = model.entry
    rule = "-" if canvas.look.ascii else "─"
    canvas.put(0, top, rule * canvas.width, "line")
    canvas.put(2, top, f" {_title(model, entry)} ", "quiet")
    if model.field == "tiles":
        _draw_typing(canvas, model, top + 1)
    elif model.field:
        _draw_field(canvas, model, top + 1)
    elif entry.level == "hand":
        _draw_hand(canvas, model, top + 1)
    else:
        _draw_about(canvas, model, entry, top + 1)


def _title(model: CardWriter, entry: Entry) -> str:
    here = model.writer.here
    if entry.level == "card":
        return "the card"
    if entry.level == "heading" or here is None:
        return "a heading"
    ways = f", {entry.row + 1} of {len(here.rows)} ways to play it" if len(here.rows) > 1 else ""
    return f"hand {entry.number}{ways}"


def _draw_text(canvas: Canvas, model: CardWriter, x: int, y: int, room: int) -> None:
    """Draw the open field with its caret; of a long text the part around the caret."""
    first = max(0, model.caret - room + 1)
    text = f"{model.text} "[first : first + room]
    canvas.put(x, y, " " * room, "text", "button")
    canvas.put(x, y, text, "text", "button", bold=True)
    caret = model.caret - first
    canvas.put(x + caret, y, text[caret : caret + 1] or " ", "text", "button", reverse=True)


def _draw_typing(canvas: Canvas, model: CardWriter, y: int) -> None:
    width = canvas.width
    _draw_text(canvas, model, 3, y, width - 16)
    canvas.end(y, model.writer.count, margin=2, bold=model.writer.count.startswith("14 "))
    y += 1
    proposals = model.proposals
    if not model.text.strip():
        for number, line in enumerate(part for how in _HOW for part in (wrapped(how, width - 4) or [""])):
            canvas.put(3, y + 1 + number, line, "quiet")
        return
    if not proposals:
        faults = model.writer.read.faults
        if faults:
            canvas.put(3 + faults[0].column - 1, y, "^", "warn", bold=True)
        told = model.told
        for sentence in told.open if told else ():
            for line in wrapped(sentence, width - 6):
                y += 1
                canvas.put(3, y, line, "warn" if faults else "quiet")
        return
    canvas.put(3, y, "What is free about it?", "quiet")
    first = AS_IT_IS if model.is_kept else 0
    for place in range(first, len(proposals)):
        y += 1
        here = place == model.mark
        ground: Ground = "chosen" if here else "page"
        canvas.put(2, y, " " * (width - 4), "text", ground)
        if place == AS_IT_IS:
            told = model.told
            words, ways = f"as it is now: {told.words if told else ''}", told.ways if told else 0
        else:
            words, ways = str(proposals[place].freedom), proposals[place].ways
        canvas.put(3, y, (">" if canvas.look.ascii else "▸") if here else " ", "text", ground, bold=True)
        room = width - 20
        count = some(ways, "way")
        canvas.put(width - 3 - len(count), y, count, "text", ground)
        canvas.zone(2, y, width - 4, 1, f"take {place + 1}")
        if not here or cell_len(words) <= room:
            canvas.put(5, y, canvas.fitted(words, room), "text", ground, bold=here)
            continue
        top, *rest = wrapped(words, room)
        canvas.put(5, y, top, "text", ground, bold=True)
        if rest:
            y += 1
            canvas.put(2, y, " " * (width - 4), "text", ground)
            canvas.put(5, y, canvas.fitted(" ".join(rest), width - 9), "text", ground, bold=True)
    _draw_examples(canvas, model, y + 1)


def _draw_examples(canvas: Canvas, model: CardWriter, y: int) -> None:
    examples = model.examples
    if not examples:
        canvas.put(3, y, "no other example", "quiet")
        return
    x = canvas.put(3, y, "so also ", "quiet")
    for number, picture in enumerate(examples):
        row = HandRow(picture.blocks, 1)
        if number and x + 4 + row.width > canvas.width - 2:
            break
        x = draw_row(canvas, x + (4 if number else 1), y, row)


def _draw_hand(canvas: Canvas, model: CardWriter, y: int) -> None:
    told, here, row = model.told, model.writer.here, model.writer.here_row
    if told is None or here is None or row is None:
        return
    canvas.end(y, model.writer.count, margin=2, bold=True)
    if told.picture is None or row.chosen is None:
        canvas.put(3, y, told.typed or "(nothing typed)", bold=True, key="e")
        for sentence in told.open:
            for line in wrapped(sentence, canvas.width - 6):
                y += 1
                canvas.put(3, y, line, "warn")
        canvas.put(3, y + 2, "e opens the line", "quiet", key="e")
        return
    _draw_groups(canvas, model, told.picture, y)
    for number, line in enumerate(wrapped(f"{told.words}: {some(told.ways, 'way')}", canvas.width - 5)[:2]):
        y += number
        canvas.put(3, y + 2, line, bold=True)
    if model.dealt:
        _draw_rack(canvas, model.dealt, y + 4)
        for number, line in enumerate(wrapped(_COMPLETE, canvas.width - 4)):
            canvas.put(3, y + 5 + number, line, "quiet", key="t")
        return
    _draw_examples(canvas, model, y + 3)
    _draw_turns(canvas, model, y + 4)
    canvas.put(3, y + 6, joker_text(row.chosen, model.writer.joker_groups), "quiet", key="j")
    x = canvas.put(3, y + 7, f"value {told.value}", key="v")
    x = canvas.put(x + 3, y + 7, "concealed" if here.concealed else "not concealed", key="c")
    note = f"note: {here.note}" if here.note else "no note"
    canvas.put(x + 3, y + 7, canvas.fitted(note, min(cell_len(note), canvas.width - x - 5)), key="n")
    told_open = told.open[0] if told.open else ""
    if model.writer.twin:
        told_open = f"This is the same hand as {model.writer.twin}. Change one of them, or delete it with x."
    for number, line in enumerate(wrapped(told_open, canvas.width - 4)):
        canvas.put(3, y + 8 + number, line, "warn", bold=True)


def _draw_groups(canvas: Canvas, model: CardWriter, picture: Picture, y: int) -> None:
    """Draw the hand with a mark under the group in hand; each group can be pressed."""
    row = model.writer.here_row
    if row is None or row.chosen is None:
        return
    (line, *_) = picture_rows(picture, 10_000)
    draw_row(canvas, 3, y, line)
    at, x = 0, 3
    for block in line.blocks:
        wide, left = len(block.cells) + len(block.suit), len(block.cells)
        start = x
        while left > 0 and at < len(row.chosen.groups):
            count = row.chosen.groups[at].count
            span = wide if count == len(block.cells) else count
            canvas.zone(start, y, span, 2, f"group {at}")
            if at == model.writer.group:
                canvas.put(start, y + 1, ("^" if canvas.look.ascii else "▀") * span, "mark", bold=True)
            start, left, at = start + count, left - count, at + 1
        x += wide + line.between


def _draw_turns(canvas: Canvas, model: CardWriter, y: int) -> None:
    row = model.writer.here_row
    if row is None or row.chosen is None:
        return
    group = group_text(row.chosen, model.writer.group)
    if not model.turns:
        canvas.put(3, y, f"{group}: nothing about it is free", "quiet")
    for number, turn in enumerate(model.turns):
        x = canvas.put(3, y, " " * len(group) if number else group, bold=True)
        end = canvas.put(canvas.put(x + 2, y, turn.key, "mark", bold=True) + 1, y, f"{turn.what}: {turn.stands}")
        canvas.zone(3, y, end - 3, 1, turn.key)
        y += 1


def _draw_rack(canvas: Canvas, rack: Rack, y: int) -> None:
    """Draw a complete rack sorted by suit, as it would stand before a player."""
    order = [*KINDS, "J"]
    blocks: list[Block] = []
    for tile in sorted(rack, key=order.index):
        suit = tile[1:]
        cell = Cell("joker" if tile == "J" else "tile", tile, tile[0])
        if blocks and blocks[-1].suit == suit and (suit or blocks[-1].cells[-1].tile == tile):
            blocks[-1] = Block((*blocks[-1].cells, cell), suit)
        else:
            blocks.append(Block((cell,), suit))
    draw_row(canvas, 3, y, HandRow(tuple(blocks), 2))


def _draw_field(canvas: Canvas, model: CardWriter, y: int) -> None:
    here = model.writer.here
    what, help_ = {
        "value": ("value", f"What the hand counts. It is {model.told.value if model.told else 0} now."),
        "ranks": ("ranks", "The ranks that its lowest free rank may have, such as 135. Empty: all that fit."),
        "note": ("note", "A remark beside the hand." if model.level == "hand" and here else "A remark about the card."),
        "heading": ("heading", "What the hands below have in common."),
        "title": ("title", "What the card is called."),
    }.get(model.field, ("", ""))
    x = canvas.put(3, y + 1, what, "quiet") + 2
    _draw_text(canvas, model, x, y + 1, min(canvas.width - x - 3, 62))
    canvas.put(3, y + 3, help_, "quiet")


def _draw_about(canvas: Canvas, model: CardWriter, entry: Entry, y: int) -> None:
    draft = model.writer.draft
    if entry.level == "heading":
        section = draft.sections[entry.section]
        keys = "enter writes a hand under it; e changes the heading; h begins another one."
        lines = [section.name, section.about, keys]
    else:
        lines = [
            f"{draft.title}, {draft.year}",
            draft.note,
            "e changes the title, left and right the year, n the note.",
            "Printed cards belong to their publishers: write one down for your own use only.",
        ]
    for line in lines:
        for part in wrapped(line, canvas.width - 6):
            y += 1
            canvas.put(3, y, part)

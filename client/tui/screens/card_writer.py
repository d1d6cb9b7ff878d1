"""Writing a card of one's own: keys go to the model, and every change goes to the file at once.

One task at a time looks whether somebody else has changed the file, then saves what is newest; no key waits for it.
"""

import asyncio

from textual.app import ComposeResult

from client.models.card_writer import CardWriter
from client.storage.card_files import NO_COMMENTS, BadCard, WrittenFile, begin_card
from client.text import some
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.card_writer import Wheeled, draw_writer
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from shared.cards.draft import Draft, read_draft
from shared.cards.writer import Pick, Writer

LOOK_EVERY_MS = 1_000
_HELP: Keys = (("f1", "help", "f1"),)


class CardWriterScreen(BaseScreen):
    """A card in a file, being written. year is that of a new card, pick draws random examples."""

    ABOUT = (
        "Type one example of a hand, choose what is free about it, and go on to the next. Turn single groups with "
        "letters where no proposal is right. Everything is saved as you write; hands that are not finished stay."
    )

    def __init__(self, file: WrittenFile, year: int, pick: Pick) -> None:
        super().__init__()
        self.file, self._year = file, year
        self.model = CardWriter(Writer(Draft(year=year)), pick)
        self._saved: Draft | None = None
        self._is_read = False
        self._turn = asyncio.Lock()
        self._looked_ms = 0
        self._over = False

    def compose(self) -> ComposeResult:
        """Build a title, the list with what is in hand, and the keys."""
        yield Title(self._title)
        yield Wheeled(self._draw)
        yield Note(lambda: self.told or self.model.note, self._rest)
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Read the file."""
        self.shell.keep(self._begin())

    async def _begin(self) -> None:
        async with self._turn:
            try:
                draft = await asyncio.to_thread(begin_card, self.file, self._year)
                self.model = CardWriter(Writer(draft), self.model.pick)
                self._saved, self._is_read = draft, True
                if not draft.lines:
                    self.model.write_next()
                if self.file.has_comments:
                    self.model.note = NO_COMMENTS
            except BadCard as bad:
                self.model = CardWriter(self.model.writer, self.model.pick, bad.told, may_keep=False)
                self._is_read = True
        if self.is_attached:
            self.redraw()

    @property
    def typing(self) -> bool:
        """Whether letters are text."""
        return bool(self.model.field)

    def paste(self, text: str) -> None:
        """Pasted text is typed text."""
        self.model.type(text)
        self._save()

    def tick(self) -> None:
        """Look now and then whether somebody else has changed the file."""
        now_ms = self.shell.now_ms()
        if self._is_read and now_ms - self._looked_ms >= LOOK_EVERY_MS and not self._turn.locked():
            self._looked_ms = now_ms
            self.shell.keep(self._reconcile())

    def press(self, key: str) -> None:
        """Hand the key to the model and save what it changed."""
        if not self._is_read:
            if key in ("q", "escape"):
                self.app.pop_screen()
            return
        asked = self.model.press(key)
        self._over = self._over or asked == "overwrite"
        self._save()
        if asked == "back":
            self.app.pop_screen()

    def _save(self) -> None:
        if self._over or (not self.is_saved and not self.model.faults):
            self.shell.keep(self._reconcile())

    async def _reconcile(self) -> None:
        """Take in what somebody else has changed, else save the newest; one at a time, and the last one saves all."""
        async with self._turn:
            before = self.told
            try:
                if not self._over:
                    data = await asyncio.to_thread(self.file.changed)
                    if data is not None:
                        await self._take_in(data)
                await self._write()
                self.told = ""
            except BadCard as bad:
                self.told = bad.told[0]
        if self.is_attached and (before != self.told or self.is_current):
            self.redraw()

    async def _take_in(self, data: bytes) -> None:
        read = await asyncio.to_thread(read_draft, data)
        if isinstance(read, Draft):
            self.model.reread(read)
            self._saved = read
        else:
            self.model.found_faults(tuple(map(str, read)))

    async def _write(self) -> None:
        over, writer = self._over, self.model.writer
        if not over and (writer.draft == self._saved or self.model.faults):
            return
        if await asyncio.to_thread(lambda: self.file.write(writer.text, over)):
            self._saved, self._over = writer.draft, False
            if over:
                self.model.found_faults(())

    @property
    def is_saved(self) -> bool:
        """Whether the file holds what is on the screen."""
        return self._saved == self.model.writer.draft

    def _title(self) -> str:
        draft = self.model.writer.draft
        saved = "not saved" if self.model.faults else "saved" if self.is_saved else "saving"
        still = len(draft.open())
        left = f", {still} open" if still else ""
        return f"Writing {self.file.path.stem}   {some(len(draft.lines) - still, 'hand')}{left}, {saved}"

    def _rest(self) -> str:
        if self.model.moving:
            return "Up and down carry the hand; any other key puts it down."
        if self.model.told and not self.model.field and not self.model.faults:
            return "o or  t try  c concealed  j jokers  n note  h heading  m move  x delete  u undo"
        return ""

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        model = self.model
        if model.faults:
            keep: Keys = (("k", "keep what was here", "k"),)
            return (("up down", "scroll", "down"), *(keep if model.may_keep else ()), *BACK)
        if model.field == "tiles":
            leave: Keys = (("esc", "leave the line", "escape"), *_HELP)
            if model.proposals:
                return (("up down", "choose", "down"), ("enter", "take it", "enter"), *leave)
            return leave
        if model.field:
            return (("enter", "done", "enter"), ("esc", "leave", "escape"), *_HELP)
        if model.level != "hand":
            return (("enter", "write", "enter"), ("e", "change", "e"), ("h", "heading", "h"), *BACK)
        turns = " ".join(turn.key for turn in model.turns)
        turn: Keys = ((f"left right {turns}".strip(), "turn" if turns else "group", "right"),)
        return (("enter", "next hand", "enter"), ("e", "tiles", "e"), *turn, ("v", "value", "v"), *BACK)

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("enter", "take what is marked; then: write the next hand below", "enter"),
            ("up down", "choose what is free; else: another hand, a heading, the card itself", "down"),
            ("esc", "leave the line as it is; what is not finished is kept and marked open", ""),
            ("left right", "another group of the hand; on the card itself: its year", "right"),
            ("r s", "turn the group's rank (moves, stays, is any) or its suit (tied, one by name, any)", ""),
            ("d w", "turn the group's dragon or wind", ""),
            ("e", "change the tiles, the heading or the title", "e"),
            ("o", "or: another way to play the same hand", "o"),
            ("0-9 v", "what the hand counts", "v"),
            ("c j n", "concealed; without jokers; a note", "c"),
            ("l", "list the ranks that a free rank may have", "l"),
            ("t", "deal a complete rack of the hand, to hold against the paper", "t"),
            ("h", "a new heading below", "h"),
            ("m", "move the hand up or down; shift and arrows do so at once", "m"),
            ("x", "delete the hand, the way to play it, or the heading with its hands", "x"),
            ("u y", "take a change back; make it again", "u"),
            ("q", "back; everything is saved", "q"),
        )

    def _draw(self, canvas: Canvas) -> None:
        if self._is_read:
            draw_writer(canvas, self.model)
        else:
            canvas.put(2, 1, "Reading ...", "quiet")

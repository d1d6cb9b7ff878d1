"""Sets to take home: a line or file to play, the sets on this machine, and one set with what can be done with it."""

import asyncio
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.models.settings_form import Row
from client.reports.evening_files import near_home
from client.text import wrapped
from client.tui.screens.base import BaseScreen
from client.tui.screens.compare import CompareScreen
from client.tui.screens.fields import FieldsScreen
from client.tui.screens.host import HostScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.names import clean_name
from shared.rules.settings import Settings

if TYPE_CHECKING:
    from client.hosting.take_home import Shown

_LONGEST, _LEFT = 900, 3
SAME = "They are the same deals as this evening's."
FRESH = (
    "It brings new deals: those of this evening have no seed. Each was dealt from a secret of its own, too long for a "
    "line to type. Give the next evening a seed in its settings, and its deals can be taken home."
)


class FormScreen(FieldsScreen):
    """Rows of which some take typing; enter acts on a row."""

    LONGEST = {"line": _LONGEST, "name": 60, "folder": 300}  # noqa: RUF012 (never changed)

    def rows(self) -> Sequence[Row]:
        """Return the rows: those that are typed first."""
        raise NotImplementedError

    def chosen(self, name: str) -> None:
        """Act on a row."""
        raise NotImplementedError

    def keys(self) -> Keys:
        """Return the keys of the form."""
        return (("up down", "row", ""), ("enter", "do it", "enter"), ("F1", "help", "f1"), ("esc", "back", "escape"))

    def press(self, key: str) -> None:
        """Type, move on, or act."""
        self.told = ""
        word, _, number = key.partition(" ")
        if word == "row" and number:
            self.at, key = int(number), ""
            key = "" if self.typing else "enter"
        match key:
            case "escape" | "f10":
                self.app.pop_screen()
            case "q" if not self.typing:
                self.app.pop_screen()
            case "up" | "down" | "tab":
                self.at = (self.at + (-1 if key == "up" else 1)) % len(self.rows())
            case "enter":
                self.chosen(self.rows()[self.at].name)
            case _:
                self.type_key(key)


class SetsScreen(FormScreen):
    """A line or a file, a new set, and the sets on this machine."""

    ABOUT = (
        "A set to take home is the same deals for everybody, each playing alone. One line fixes it: paste or type it "
        "here, or the path of its file. Each group of the line checks itself. Results that others send as lines are "
        "pasted here too. Seconds are those of the player's own machine: this is for people who trust each other."
    )

    def __init__(self, level_ms: int, text: str = "") -> None:
        super().__init__({"line": text[:_LONGEST]})
        self.level_ms = level_ms
        self.sets: tuple[Shown, ...] = ()

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("A set to take home")
        yield Rows(self.rows, lambda: self.at, 0, 99, id="found")
        yield Note(lambda: self.told, self._about)
        yield KeyBar(self.keys)

    def on_screen_resume(self) -> None:
        """Look again how far the sets are."""
        self._list()

    @work(exclusive=True, group="sets")
    async def _list(self) -> None:
        from client.hosting.take_home import listed

        self.sets = await asyncio.to_thread(listed)
        self.redraw()

    def rows(self) -> Sequence[Row]:
        """Return the field, the way to a new set, and the sets."""
        return (
            self.typed_row("line", "Line or file of a set"),
            Row("new", "Make a new set", "", changes=False),
            *(Row(one.line, one.called, one.stands, changes=False) for one in self.sets),
        )

    def chosen(self, name: str) -> None:
        """Show the set, or the form of a new one."""
        if name == "new":
            from client.hosting.take_home import USUAL

            self.app.push_screen(NewSetScreen(Settings(level_ms=self.level_ms).model_copy(update=USUAL)))
            return
        text = self.values["line"].strip() if name == "line" else name
        if not text:
            self.told = "Paste or type the line of a set, or the path of its file."
            return
        show_set(self, text)

    def _about(self) -> str:
        one = self.sets[self.at - 2] if self.at >= 2 and self.at - 2 < len(self.sets) else None
        return one.words[0] if one else ""


def show_set(screen: BaseScreen, text: str) -> None:
    """Show the set of a line or a file, or of a result that was pasted, or say what is wrong with it."""
    screen.run_worker(_show_set(screen, text), group="set", exclusive=True)


async def _show_set(screen: BaseScreen, text: str) -> None:
    from client.hosting.take_home import shown_of

    screen.told = "Reading ..."
    screen.redraw()
    try:
        text, shown, told = await asyncio.to_thread(shown_of, text)
    except ValueError as error:
        screen.told = str(error)
        screen.redraw()
        return
    screen.told = ""
    there = SetScreen(text, shown)
    there.told = told
    screen.app.push_screen(there)


class NewSetScreen(HostScreen):
    """Every setting of a new set."""

    ABOUT = (
        "With tiles from the wall everybody gets the same tiles, whatever they pass. The seed fixes the deals; without "
        "one they are fresh. The card is that of the chosen name; players need it too."
    )
    TITLE = "A new set to take home"
    OPENS, DOES = "Make the set", "make"
    HAS_NAME = False

    def _open(self) -> None:
        card = self.card_text(self.form.card)
        if card is not None:
            self._make(self.form.settings, card)

    @work(exclusive=True, group="set")
    async def _make(self, settings: Settings, card: str) -> None:
        from client.hosting.take_home import look, make

        try:
            shown = await asyncio.to_thread(lambda: look(make(settings, card).line))
        except ValueError as error:
            self.told = str(error)
            self.redraw()
            return
        app = self.app
        app.pop_screen()
        app.push_screen(SetScreen(shown.line, shown))


class SetScreen(FormScreen):
    """One set: its line to copy, what it is, and what can be done."""

    ABOUT = (
        "Send the line to the others, or let them type it. Whoever has begun goes on where they left; a second try is "
        "kept and marked. A result says what it holds before it is written or copied. To compare, put the files that "
        "you were sent into one folder; results that came as lines are pasted here, at any row."
    )

    def __init__(self, text: str, shown: "Shown") -> None:
        super().__init__({"name": "", "folder": ""})
        self.text, self.shown = text, shown
        self.paper: tuple[str, ...] = ()
        self.handed = ""
        """The line of one's own result, once it was asked for."""
        self._asked = ("", "")

    def compose(self) -> ComposeResult:
        """Build what the set is, and the rows."""
        from client.hosting.take_home import results_folder

        self.values = {"name": self.shell.player or self.shown.name, "folder": near_home(results_folder())}
        self.at = 2
        yield Title(lambda: f"{self.shown.called}   {self.shown.stands}")
        yield Painting(self._draw)
        yield Rows(self.rows, lambda: self.at, 0, 99, id="doors")
        yield Note(lambda: self.told)
        yield KeyBar(self.keys)

    def on_screen_resume(self) -> None:
        """Look again how far the player is."""
        self._look()

    def rows(self) -> Sequence[Row]:
        """Return the fields, and what can be done."""
        shown = self.shown
        play = "Play it again, marked as another try" if shown.is_over else "Go on" if shown.has_begun else "Play"
        return (
            self.typed_row("name", "Your name, as others read it"),
            self.typed_row("folder", "Results of others are in"),
            Row("play", play, "", changes=False),
            Row("file", self._says("file", "Write it"), "", changes=False),
            Row("line", self._says("line", "Show and copy it"), "", changes=False),
            Row("compare", "Compare results", "", changes=False),
            Row("hand on", "Save the set as a file and a picture", "", changes=False),
        )

    def chosen(self, name: str) -> None:
        """Play, hand in, or compare."""
        asked, self._asked, self.paper, self.handed = self._asked, ("", ""), (), ""
        match name:
            case "play":
                self._play()
            case "file" | "line":
                self._hand_in(name, asked)
            case "compare":
                self._compare()
            case "hand on":
                self._hand_on()
            case _:
                self.at += 1

    def _says(self, row: str, does: str) -> str:
        asked = f"{does}: press enter again"
        return asked if self._asked[0] == row else f"Hand in your result as a {row}"

    @work(exclusive=True, group="set")
    async def _play(self) -> None:
        opening = self.shell.openers.take_home
        if opening is None:
            return
        if name := clean_name(self.values["name"]):
            self.shell.player = name
        try:
            opened = await asyncio.to_thread(opening, self.text, name, self.shown.is_over)
            self.told = "Opening ..."
            self.shell.open_table(opened)
        except ValueError as error:
            self.told = str(error)
        self.redraw()

    @work(exclusive=True, group="set")
    async def _hand_in(self, row: str, asked: tuple[str, str]) -> None:
        from client.hosting.result_lines import line_of
        from client.hosting.take_home import result_here, what_it_holds, write_result

        name = clean_name(self.values["name"])
        if not name:
            self.at, self.told = 0, "Say first what others are to call you."
            self.redraw()
            return
        self.told = "Reading ..."
        self.redraw()

        def act() -> tuple[str, ...]:
            kept, result = result_here(self.shown.line, name)
            if asked != (row, name):
                return ("The result holds:", *what_it_holds(result, row == "line"))
            if row == "line":
                self.handed = line_of(result)
                return ("Your result, copied if your terminal allows it. Send all of it to whoever compares.",)
            return (f"Written to {near_home(write_result(kept, result))}. Send it to whoever compares.",)

        try:
            self.paper = await asyncio.to_thread(act)
            self.told, self._asked = "", (row, name) if asked != (row, name) else ("", "")
            if self.handed:
                self.app.copy_to_clipboard(self.handed)
        except ValueError as error:
            self.told = str(error)
        self.redraw()

    def paste(self, text: str) -> None:
        """Take a result in, or type the text."""
        from client.hosting.result_lines import is_result

        if is_result(text):
            self._take_in(text)
        else:
            super().paste(text)

    @work(exclusive=True, group="set")
    async def _take_in(self, text: str) -> None:
        from client.hosting.take_home import take_in

        await self.tell_of(lambda: take_in(text, self._folder)[1], "Reading ...")

    @property
    def _folder(self) -> Path:
        return Path(self.values["folder"]).expanduser()

    @work(exclusive=True, group="set")
    async def _compare(self) -> None:
        from client.hosting.take_home import results_of

        self.told = "Reading ..."
        self.redraw()
        read = partial(results_of, [str(self._folder)], self.shown.line)
        try:
            results = await asyncio.to_thread(read)
        except ValueError as error:
            *refused, self.told = str(error).splitlines()
            self.paper = tuple(refused)
            self.redraw()
            return
        self.told = ""
        self.app.push_screen(CompareScreen(results, read, self._folder))

    @work(exclusive=True, group="set")
    async def _hand_on(self) -> None:
        from client.hosting.take_home import hand_on

        await self.tell_of(lambda: hand_on(self.text))

    @work(exclusive=True, group="look")
    async def _look(self) -> None:
        from client.hosting.take_home import look

        self.shown = await asyncio.to_thread(look, self.text)
        self.redraw()

    def _draw(self, canvas: Canvas) -> None:
        """Draw the line in its groups, and what the set is; or what was just said at length."""
        y = 0 if self.handed else _put_groups(canvas, 1, self.shown.line)  # one line at a time is enough to copy
        y = _put_texts(canvas, y, self.paper or self.shown.words)
        if self.handed:
            _put_groups(canvas, y + 2, self.handed)


class MadeScreen(BaseScreen):
    """The line of a set that was made at a desk, to be read out or copied; nothing is played there."""

    ABOUT = (
        "Everybody who types this line, or is sent it, plays the set alone when it suits. It is kept on this machine: "
        "at home, under sets to take home, results are compared. Only an evening with a seed can hand on its own deals."
    )

    def __init__(self, shown: "Shown", deals: str) -> None:
        super().__init__()
        self.shown, self.deals = shown, deals

    def compose(self) -> ComposeResult:
        """Build the line, what the set is, and where its deals come from."""
        yield Title(f"A set to take home: {self.shown.called}")
        yield Painting(self._draw)
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the way back."""
        return BACK

    def press(self, key: str) -> None:
        """Go back."""
        if key in ("q", "escape", "enter"):
            self.app.pop_screen()

    def _draw(self, canvas: Canvas) -> None:
        _put_texts(canvas, _put_groups(canvas, 1, self.shown.line), (*self.shown.words, "", self.deals))


def _put_texts(canvas: Canvas, y: int, texts: Sequence[str]) -> int:
    """Draw texts, each in as many rows as it takes; return the last row."""
    for text in texts:
        for line in wrapped(text, canvas.width - 2 * _LEFT) or [""]:
            y += 1
            canvas.put(_LEFT, y, line)
    return y


def _put_groups(canvas: Canvas, y: int, line: str) -> int:
    """Draw a line in rows of whole groups; return the row below it. A row that goes on ends with a dash."""
    groups = line.split("-")
    each = max(1, (canvas.width - 5) // 7)
    for at in range(0, len(groups), each):
        more = "-" if at + each < len(groups) else ""
        canvas.put(_LEFT, y, "-".join(groups[at : at + each]) + more, "mark", bold=True)
        y += 1
    return y

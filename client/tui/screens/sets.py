"""Sets to take home: a line or file to play, the sets on this machine, and one set with what can be done with it."""

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.models.settings_form import Row
from client.reports.evening_files import near_home
from client.text import wrapped
from client.tui.screens.base import BaseScreen
from client.tui.screens.compare import CompareScreen
from client.tui.screens.host import HostScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.names import clean_name
from shared.rules.settings import Settings

if TYPE_CHECKING:
    from client.hosting.take_home import Shown

_SHOWN_CELLS = 44
_LONGEST = 300


class FormScreen(BaseScreen):
    """Rows of which some take typing; enter acts on a row."""

    def __init__(self, values: dict[str, str]) -> None:
        super().__init__()
        self.values, self.at = values, 0

    def rows(self) -> Sequence[Row]:
        """Return the rows: those that are typed first."""
        raise NotImplementedError

    def chosen(self, name: str) -> None:
        """Act on a row."""
        raise NotImplementedError

    def typed_row(self, name: str, label: str) -> Row:
        """Return the row of a field."""
        value = self.values[name]
        value = value if len(value) <= _SHOWN_CELLS else f"..{value[2 - _SHOWN_CELLS :]}"
        return Row(name, label, value + ("_" if self._field == name else ""), changes=False, typed=True)

    @property
    def _field(self) -> str:
        """The field in hand, or nothing."""
        names = list(self.values)
        return names[self.at] if self.at < len(names) else ""

    @property
    def typing(self) -> bool:
        """Whether characters belong to a field."""
        return bool(self._field)

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
            case "backspace" if self.typing:
                self.values[self._field] = self.values[self._field][:-1]
            case "space" if self.typing:
                self._type(" ")
            case _ if len(key) == 1:
                self._type(key)

    def paste(self, text: str) -> None:
        """Pasted text is typed text."""
        self._type(text)

    def _type(self, text: str) -> None:
        if self.typing:
            printable = "".join(character for character in text if character.isprintable())
            self.values[self._field] = (self.values[self._field] + printable)[:_LONGEST]


class SetsScreen(FormScreen):
    """A line or a file, a new set, and the sets on this machine."""

    ABOUT = (
        "A set to take home is the same deals for everybody, each playing alone. One line fixes it: paste or type it "
        "here, or the path of its file. Each group of the line checks itself. Seconds are those of the player's own "
        "machine: this is for people who trust each other."
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
    """Show the set of a line or a file, or say what is wrong with it."""
    from client.hosting.take_home import look

    try:
        screen.app.push_screen(SetScreen(text, look(text)))
    except ValueError as error:
        screen.told = str(error)


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
        from client.hosting.take_home import make

        card = self.card_text(self.form.card)
        if card is None:
            return
        try:
            taken = make(self.form.settings, card)
        except ValueError as error:
            self.told = str(error)
            return
        self.app.pop_screen()
        show_set(self, taken.line)


class SetScreen(FormScreen):
    """One set: its line to copy, what it is, and what can be done."""

    ABOUT = (
        "Send the line to the others, or let them type it. Whoever has begun goes on where they left; a second try is "
        "kept and marked. The result says what it holds before it is written. To compare, put the results that you "
        "were sent into one folder."
    )

    def __init__(self, text: str, shown: "Shown") -> None:
        super().__init__({"name": "", "folder": ""})
        self.text, self.shown = text, shown
        self.paper: tuple[str, ...] = ()
        self._asked = ""

    def compose(self) -> ComposeResult:
        """Build what the set is, and the rows."""
        from client.hosting.take_home import results_folder

        self.values = {"name": self.shell.player, "folder": near_home(results_folder())}
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
            Row("hand in", "Write it: press enter again" if self._asked else "Hand in your result", "", changes=False),
            Row("compare", "Compare results", "", changes=False),
        )

    def chosen(self, name: str) -> None:
        """Play, hand in, or compare."""
        asked, self._asked, self.paper = self._asked, "", ()
        match name:
            case "play":
                self._play()
            case "hand in":
                self._hand_in(asked)
            case "compare":
                self._compare()
            case _:
                self.at += 1

    def _play(self) -> None:
        opening = self.shell.openers.take_home
        if opening is None:
            return
        if name := clean_name(self.values["name"]):
            self.shell.player = name
        try:
            self.shell.open_table(opening(self.text, name, self.shown.is_over))
            self.told = "Opening ..."
        except ValueError as error:
            self.told = str(error)

    @work(exclusive=True, group="set")
    async def _hand_in(self, asked: str) -> None:
        from client.hosting.take_home import result_here, what_it_holds, write_result

        name = clean_name(self.values["name"])
        if not name:
            self.at, self.told = 0, "Say first what others are to call you."
            self.redraw()
            return

        def act() -> tuple[str, tuple[str, ...]]:
            kept, result = result_here(self.shown.line, name)
            if asked == name:
                return f"Written to {near_home(write_result(kept, result))}. Send it to whoever compares.", ()
            return "", ("The result holds:", *what_it_holds(result))

        try:
            told, self.paper = await asyncio.to_thread(act)
            self.told, self._asked = "", "" if told else name
            self.paper = self.paper or (told,)
        except ValueError as error:
            self.told = str(error)
        self.redraw()

    @work(exclusive=True, group="set")
    async def _compare(self) -> None:
        from client.hosting.take_home import results_in

        self.told = "Reading ..."
        self.redraw()
        try:
            results = await asyncio.to_thread(results_in, Path(self.values["folder"]), self.shown.line)
        except ValueError as error:
            self.told, self.paper = str(error).splitlines()[-1], tuple(str(error).splitlines()[:-1])
            self.redraw()
            return
        self.told = ""
        self.app.push_screen(CompareScreen(results))

    @work(exclusive=True, group="look")
    async def _look(self) -> None:
        from client.hosting.take_home import look

        self.shown = await asyncio.to_thread(look, self.text)
        self.redraw()

    def _draw(self, canvas: Canvas) -> None:
        """Draw the line in its groups, and what the set is; or what was just said at length."""
        left, width = 3, canvas.width - 6
        groups = self.shown.line.split("-")
        each = max(1, (width + 1) // 8)
        y = 1
        for at in range(0, len(groups), each):
            more = "-" if at + each < len(groups) else ""
            canvas.put(left, y, "-".join(groups[at : at + each]) + more, "mark", bold=True)
            y += 1
        for text in self.paper or self.shown.words:
            for line in wrapped(text, width):
                y += 1
                canvas.put(left, y, line)

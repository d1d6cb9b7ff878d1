"""The host's set-up screen: the clock on the left, the other choices on the right, presets and the door below."""

from dataclasses import replace

from textual.app import ComposeResult
from textual.containers import Horizontal

from client.models.settings_form import LOAD, OPEN, SAVE, WHO, SettingsForm
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.rules.settings import Settings

_FIRST_CHOICE = "carry_over"


class HostScreen(BaseScreen):
    """Every setting of a table, and the way to open it."""

    ABOUT = (
        "Set how the table plays. A step's length follows the level until you set it yourself; backspace lets it "
        "follow again. The steps together need not be as long as the level."
    )

    TITLE = "Host a table"
    OPENS, DOES = "Open the table", "open"
    """What the last row does, and in one word."""
    HAS_NAME = True
    """Whether the host's name is asked for."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._start = settings
        self.form = SettingsForm(settings, {})

    def compose(self) -> ComposeResult:
        """Build two columns and the rows below them."""
        presets, faults = self.shell.storage.load_presets()
        name = self.shell.player if self.HAS_NAME else None
        self.form = SettingsForm(self._start, presets, player=name, opens=self.OPENS, told=" ".join(faults))
        yield Title(self.TITLE)
        choices, ends = self._begins(_FIRST_CHOICE), self._begins(LOAD)
        with Horizontal(id="columns"):
            yield Rows(lambda: self.form.rows(), lambda: self.form.at, 0, choices)
            yield Rows(lambda: self.form.rows(), lambda: self.form.at, choices, ends)
        yield Rows(lambda: self.form.rows(), lambda: self.form.at, ends, len(self.form.rows()), id="doors")
        yield Note(lambda: self.told or self.form.told, lambda: self.form.meaning)
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return what the row in hand can do."""
        typed: Keys = (("0-9", "type", ""),) if self.form.row.typed else ()
        return (
            ("up down", "row", ""),
            ("left right", "change", ""),
            *typed,
            ("F5", self.DOES, "f5"),
            ("F1", "help", "f1"),
            ("esc", "back", "escape"),
        )

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("up down", "another row", ""),
            ("tab", "the other column", ""),
            ("left right", "change the value", ""),
            ("0 - 9 :", "type a time as 45 or 2:30, or a seed", ""),
            ("backspace", "erase; let a step follow the level again", ""),
            ("enter", f"take in what was typed; keep the preset; {self.OPENS.lower()}", ""),
            ("F5", self.OPENS.lower(), ""),
            ("esc", "back", ""),
        )

    @property
    def typing(self) -> bool:
        """Whether characters belong to the row in hand."""
        return self.form.row.name in (SAVE, WHO)

    def press(self, key: str) -> None:
        """Change the form, keep a preset, or open the table."""
        self.told = ""
        word, _, number = key.partition(" ")
        if number and word in ("row", "less", "more"):
            self._clicked(word, int(number))
        elif key in ("escape", "f10") or (key == "q" and not self.typing):
            self.app.pop_screen()
        elif key == "f5" or (key == "enter" and self.form.row.name == OPEN):
            self._open()
        elif key == "enter":
            self._enter()
        else:
            self._edit(key)

    def _begins(self, name: str) -> int:
        """Return the number of the row with this name."""
        return next(number for number, row in enumerate(self.form.rows()) if row.name == name)

    def _edit(self, key: str) -> None:
        form = self.form
        match key:
            case "up" | "down":
                self.form = form.moved(form.at + (1 if key == "down" else -1))
            case "tab":
                choices = self._begins(_FIRST_CHOICE)
                self.form = form.moved(form.at + choices if form.at < choices else 0)
            case "left" | "right":
                self.form = form.changed(1 if key == "right" else -1)
            case "backspace":
                self.form = form.erased()
            case "space" if self.typing:
                self.form = form.typing(" ")
            case _ if len(key) == 1:
                self.form = form.typing(key)

    def _clicked(self, word: str, number: int) -> None:
        self.form = self.form.moved(number)
        if word != "row":
            self.form = self.form.changed(1 if word == "more" else -1)
        elif self.form.row.name == OPEN:
            self._open()

    def _enter(self) -> None:
        self.form = self.form.entered()
        if self.form.row.name == SAVE and self.form.name:
            try:
                self.shell.storage.save_preset(self.form.name, self.form.settings)
            except ValueError as error:
                self.told = str(error)
                return
            presets = {**self.form.presets, self.form.name: self.form.settings}
            self.form = replace(self.form, presets=presets, preset=self.form.name, name="")
            self.told = f"Kept as {self.form.preset}."
        elif self.form.row.name == LOAD:
            self.form = self.form.changed(1)

    def _open(self) -> None:
        self.form = self.form.entered()
        shell = self.shell
        if not self.form.told:
            self.told = "Opening the table ..."
            shell.player = self.form.player or ""
            shell.open_table(shell.openers.host(self.form.settings, shell.player or "Host", shell.port))

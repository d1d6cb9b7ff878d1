"""The host's set-up screen: the clock on the left, the other choices on the right, presets and the door below."""

from textual.app import ComposeResult
from textual.containers import Horizontal

from client.models.host import set_to
from client.models.settings_form import FIRST_CHOICE, LOAD, SettingsForm
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.rules.settings import Settings


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

    HAS_CARD = True
    """Whether the card can be chosen here."""

    def __init__(self, settings: Settings, card: str = "", anew: bool = False) -> None:
        super().__init__()
        self._start, self._card, self._anew = settings, card, anew
        self.form = SettingsForm(settings, {})

    def compose(self) -> ComposeResult:
        """Build two columns and the rows below them."""
        presets, faults = self.shell.storage.load_presets()
        name = self.shell.player if self.HAS_NAME else None
        card = self._card or self.shell.card
        cards = tuple(dict.fromkeys((*self.shell.storage.card_names(), card))) if self.HAS_CARD else ()
        self.form = SettingsForm(
            self._start, presets, player=name, opens=self.OPENS, told=" ".join(faults), cards=cards, card=card
        )
        yield Title(self.TITLE)
        choices, ends = self.form.place_of(FIRST_CHOICE), self.form.place_of(LOAD)
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
    def table_settings(self) -> Settings:
        """The settings as they stand in the form."""
        return self.form.settings

    @property
    def typing(self) -> bool:
        """Whether characters belong to the row in hand."""
        return self.form.takes_text

    def press(self, key: str) -> None:
        """Hand the key to the form, and do what it asks for."""
        self.told, card = "", self.form.card
        self.form, asked = self.form.press(key)
        if self.form.card != card:
            self.shell.choose_card(self.form.card)
        match asked:
            case "back":
                self.app.pop_screen()
            case "save":
                self._save()
            case "open" if not self.form.told:
                self._open()

    def _save(self) -> None:
        try:
            self.shell.storage.save_preset(self.form.name, self.form.setup)
        except ValueError as error:
            self.told = str(error)
        else:
            self.told = f"Kept as {self.form.name}."
            self.form = self.form.saved()

    def _open(self) -> None:
        shell = self.shell
        card = self.card_text(self.form.card)
        if card is None:
            return
        self.told = "Opening the table ..."
        shell.player = self.form.player or ""
        host = shell.openers.host_anew if self._anew and shell.openers.host_anew else shell.openers.host
        shell.open_table(host(self.form.settings, shell.player or "Host", shell.port, card))


class TableSettingsScreen(HostScreen):
    """Every setting of an open table, to be changed between heats; its card stays."""

    ABOUT = (
        "What you change here counts from the next heat on. Everybody is told what changed, in words, and is asked to "
        "be ready again. A heat that runs goes on as it began."
    )
    TITLE = "Settings from the next heat on"
    OPENS, DOES = "Play by these settings", "set"
    HAS_NAME = HAS_CARD = False

    def _open(self) -> None:
        self.app.pop_screen()
        self.carry_out(set_to(self._start, self.form.settings))

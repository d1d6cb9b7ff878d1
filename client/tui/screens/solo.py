"""Practise alone: one row of choices that are remembered, the rest on a key, and the guided first heat."""

from pathlib import Path

from textual.app import ComposeResult

from client.models.guided import OFFER
from client.setup import ABOUT_CARDS, ALONE, Setup, fitting_name, next_card
from client.tui.ports import AtGuided, AtSolo
from client.tui.screens.base import BaseScreen
from client.tui.screens.host import HostScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from shared.rules.settings import LEVELS_MS, Settings
from shared.times import write_time

HINTS = ("none", "after each pass", "at the end")
_CARD_CELLS = 15
_AT_CARD = 1


class SoloScreen(BaseScreen):
    """The level, the card, the hints; enter leads to the first heat."""

    ABOUT = (
        "Three bots play with you and never keep you waiting. Left and right choose a place in the row, up and down "
        "change it; what you choose is remembered. The guided heat is on g: no clock, and a word at each step."
    )

    def __init__(self, level_ms: int) -> None:
        super().__init__()
        self.at, self.level_ms = 0, level_ms
        self.settings, self.is_first = Settings(), False

    def compose(self) -> ComposeResult:
        """Take up what was chosen last, and build the row."""
        kept = self.shell.storage.load_solo()
        self.is_first = kept is None
        self.settings = (kept or ALONE).model_copy(update={"level_ms": self.level_ms})
        yield Title("Practise alone")
        yield Painting(self._draw)
        yield Note(lambda: self.told, lambda: ABOUT_CARDS if self.at == _AT_CARD else "")
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Return the keys of the row."""
        return (
            ("left right", "place", "right"),
            ("up down", "change", "up"),
            ("enter", "play", "enter"),
            ("s", "more", "s"),
            *BACK,
        )

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            *self.keys()[:3],
            ("s", "all other choices: heats, bots, taking back, plan step", "s"),
            ("g", "the guided heat: no clock, the card for a first evening", "g"),
            ("q", "back", "q"),
        )

    def press(self, key: str) -> None:
        """Choose, play, or go to all choices."""
        self.told = ""
        word, _, place = key.partition(" ")
        if place:
            self.at = int(place)
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "left" | "right":
                self.at = (self.at + (1 if key == "right" else -1)) % 3
            case "up" | "down" | "more" | "less":
                self._change(1 if word in ("up", "more") else -1)
            case "s":
                self.app.push_screen(SoloChoicesScreen(self.settings, self.shell.card))
            case "g":
                self.shell.storage.save_solo(self.settings)
                self.shell.go(AtGuided())
            case "enter":
                play_alone(self, Setup(self.settings, self.shell.card))

    def on_screen_resume(self) -> None:
        """Take up what was chosen among all choices."""
        if kept := self.shell.storage.load_solo():
            self.settings, self.is_first = kept, False

    def _change(self, by: int) -> None:
        shell, settings = self.shell, self.settings
        if self.at == _AT_CARD:
            shell.choose_card(next_card(shell.storage.card_names(), shell.card, by))
        elif self.at:
            hints = HINTS[(HINTS.index(settings.hints) + by) % len(HINTS)]
            self.settings = settings.model_copy(update={"hints": hints})
        else:
            longer = [level for level in LEVELS_MS if level > settings.level_ms]
            shorter = [level for level in LEVELS_MS if level < settings.level_ms]
            level_ms = (longer[0] if longer else LEVELS_MS[0]) if by > 0 else (shorter or LEVELS_MS)[-1]
            self.settings = settings.model_copy(update={"level_ms": level_ms, "lengths_ms": {}})

    def _draw(self, canvas: Canvas) -> None:
        """Draw the three places side by side, and under them what is not in the row."""
        settings, plain = self.settings, canvas.look.ascii
        places = (
            ("level", write_time(settings.level_ms)),
            ("card", fitting_name(Path(self.shell.card).stem, _CARD_CELLS)),
            ("hints", settings.hints),
        )
        width = min(22, canvas.width // 3)
        left, y = (canvas.width - 3 * width) // 2, max(1, canvas.height // 2 - 4)
        for place, (name, value) in enumerate(places):
            x, here = left + place * width, place == self.at
            canvas.put(x + 1, y, name, "quiet")
            x = canvas.put(x + 1, y + 1, "<" if plain else "◂", "mark", key=f"less {place}")
            x = canvas.put(x + 1, y + 1, value, "text", "chosen" if here else canvas.ground, bold=here)
            canvas.put(x + 1, y + 1, ">" if plain else "▸", "mark", key=f"more {place}")
        heats = f"{settings.heats} heats" if settings.heats > 1 else "1 heat"
        waits = "nobody is waited for" if settings.bot_pace == "no wait" else f"bots play {settings.bot_pace}"
        canvas.middle(y + 4, f"{heats}, three bots ({settings.bot_skill}), {waits}", "quiet")
        if self.is_first:
            canvas.middle(y + 7, OFFER, "mark", bold=True)


class SoloChoicesScreen(HostScreen):
    """Every setting of a table for one."""

    TITLE = "Practise alone: all choices"
    OPENS, DOES = "Play", "play"
    HAS_NAME = False

    def _open(self) -> None:
        play_alone(self, self.form.setup)


def play_alone(screen: BaseScreen, setup: Setup) -> None:
    """Remember the choices and open the table; the seed is for one set only."""
    text = screen.card_text(setup.card)
    if text is not None:
        screen.told = "Opening ..."
        screen.shell.storage.save_solo(setup.settings.unseeded())
        screen.shell.go(AtSolo(setup.settings, text))

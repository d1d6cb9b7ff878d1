"""What all screens share: keys and clicks go one way, and everything drawn is drawn again on request."""

import asyncio
from collections.abc import Callable
from typing import cast

from textual import events
from textual.screen import Screen

from client.models.session import Action, Meant
from client.tui.ports import Shell
from client.tui.widgets.canvas import Drawn, Pressed
from client.tui.widgets.key_bar import LEAVE, Keys
from shared.rules.settings import Settings


class BaseScreen(Screen[None]):
    """A screen that gives every key, and every click on a thing that stands for a key, to press()."""

    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (74, "-middle"), (116, "-wide")]  # noqa: RUF012 (Textual's own type)
    VERTICAL_BREAKPOINTS = [(0, "-low"), (24, "-normal"), (34, "-high")]  # noqa: RUF012
    ABOUT = ""
    """What the help says first about this screen."""

    told = ""
    """A sentence for the player, shown where the screen has a line for it."""

    @property
    def typing(self) -> bool:
        """Whether typed characters are text and no commands."""
        return False

    @property
    def table_settings(self) -> Settings | None:
        """The settings by which the rules are told, where the screen has some that are not those of the open table."""
        return None

    @property
    def shell(self) -> Shell:
        """The app, as far as a screen knows it."""
        return cast("Shell", self.app)

    def keys(self) -> Keys:
        """Return the keys of the last line, at most six."""
        return LEAVE

    def help_keys(self) -> Keys:
        """Return every key of this screen for the help."""
        return self.keys()

    def press(self, key: str) -> None:
        """Act on a key."""

    def carry_out(self, meant: Meant) -> None:
        """Send the intents that a key means, and do what it asks of the program itself."""
        for one in meant:
            if one == "leave":
                self.shell.leave()
            elif one == "look":
                self.shell.show_looks()
            elif isinstance(one, str):
                self.act(one)
            else:
                self.shell.ask(one)

    def card_text(self, name: str) -> str | None:
        """Return the text of a card; None if it cannot be had, and the first thing that is wrong is told."""
        try:
            return self.shell.storage.card_text(name)
        except ValueError as error:
            first, *more = str(error).splitlines()
            self.told = f"{first} (and {len(more)} more)" if more else first
            return None

    async def tell_of(self, act: Callable[[], str], meanwhile: str = "") -> None:
        """Let an act run beside the event loop, and tell what comes of it, or in a sentence why nothing does."""
        self.told = meanwhile
        self.redraw()
        try:
            self.told = await asyncio.to_thread(act)
        except ValueError as error:
            self.told = str(error)
        self.redraw()

    def keeps(self, key: str) -> bool:
        """Whether a key that shows a page over any screen means something else here."""
        return False

    def act(self, action: Action) -> None:
        """Do what only some screens can: each says what."""

    def tick(self) -> None:
        """Draw what time alone changes; called ten times a second while this screen is on top."""

    def redraw(self) -> None:
        """Draw everything again."""
        for drawn in self.query(Drawn):
            drawn.redraw()

    def on_screen_resume(self) -> None:
        """Show what changed while another screen lay on top."""
        self.redraw()

    def on_key(self, event: events.Key) -> None:
        """Name the key by its character where it has one."""
        event.stop()
        printable = event.character if event.is_printable and event.character != " " else None
        if printable and not self.typing:
            printable = printable.lower()
        self.do(printable or event.key)

    def on_paste(self, event: events.Paste) -> None:
        """Hand on what was pasted."""
        event.stop()
        self.paste(event.text)
        self.redraw()

    def paste(self, text: str) -> None:
        """Take pasted text; a screen on which nothing is typed lets it go."""

    def on_pressed(self, message: Pressed) -> None:
        """A click on a thing is the key it stands for."""
        message.stop()
        self.do(message.key)

    def do(self, key: str) -> None:
        """Act on a key, whatever it came from, and draw what has changed.

        Keys that were typed fast may still lie in the queue of a screen that the first of them has left: they are
        let go, since another screen than the one in sight would act on them. The key of the help means the same on all.
        """
        if key == "f1" or (key == "?" and not self.typing):
            self.shell.show_help()
            return
        if not self.is_current:
            return
        if key in ("f6", "f7") and not self.keeps(key):
            self.shell.show_over(key)
        elif key == "f8":
            self.shell.change_settings()
        else:
            self.press(key)
            if self.is_current:
                self.redraw()

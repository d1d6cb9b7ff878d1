"""The rules as the table at hand plays them, and the glossary, in which one finds words by typing them."""

from textual.app import ComposeResult

from client.reports.rules import GLOSSARY, found_in, rules_of
from client.text import wrapped
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import KeyBar, Keys, Note
from client.tui.widgets.paper import Line, Paper
from shared.rules.settings import Settings

_INDENT = 2
_LONGEST = 30


class RulesScreen(BaseScreen):
    """The rules of one table; without a table, those of the usual settings."""

    ABOUT = "The rules of the passing, made from the settings of the table."

    def __init__(self, settings: Settings | None) -> None:
        super().__init__()
        self.settings = settings
        self.paper = Paper(self._lines)

    def compose(self) -> ComposeResult:
        """Build a title, the text and the keys."""
        yield Title(f"Rules   {'as this table plays' if self.settings else 'with the usual settings'}")
        yield self.paper
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Scrolling where there is more than fits, the glossary, and the way back."""
        more: Keys = (("up down", "scroll", ""), ("space", "next page", "space")) if self.paper.scrolls else ()
        return (*more, ("w", "words", "w"), ("?", "help", "?"), ("q", "back", "q"))

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("up down", "a line up or down", ""),
            ("space, page up and down", "a page on or back", "space"),
            ("home end", "the first page, the last one", ""),
            ("w", "the glossary: what a word means", "w"),
            ("q", "back", "q"),
        )

    def press(self, key: str) -> None:
        """Scroll, go to the glossary, or back."""
        match key:
            case "w":
                self.app.push_screen(WordsScreen())
            case "q" | "escape" | "enter":
                self.app.pop_screen()
            case _:
                self.paper.turn("pagedown" if key == "space" else key)

    def _lines(self, width: int) -> list[Line]:
        lines: list[Line] = []
        for section in rules_of(self.settings or Settings()):
            lines.append(Line(section.title))
            for text in section.lines:
                lines += [Line("", line, _INDENT) for line in wrapped(text, width - _INDENT)]
            lines.append(Line())
        return lines[:-1]


class WordsScreen(BaseScreen):
    """The glossary: what is typed is looked for at once, in the words and in what they mean."""

    ABOUT = "What the words on the screens mean. Type a few letters: entries that hold them stay."

    def __init__(self) -> None:
        super().__init__()
        self.typed = ""
        self.paper = Paper(self._lines)

    def compose(self) -> ComposeResult:
        """Build a title with what is looked for, the entries and the keys."""
        yield Title(self._title)
        yield self.paper
        yield Note(lambda: "" if found_in(self.typed) else "No entry holds these letters; backspace erases one.")
        yield KeyBar(self.keys)

    @property
    def typing(self) -> bool:
        """Characters are always looked for."""
        return True

    def keys(self) -> Keys:
        """What is typed, scrolling, and the way back."""
        more: Keys = (("up down", "scroll", ""),) if self.paper.scrolls else ()
        erase: Keys = (("backspace", "erase", "backspace"),) if self.typed else ()
        return (("a-z", "find", ""), *erase, *more, ("F1", "help", "f1"), ("esc", "back", "escape"))

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("a-z", "find entries with these letters", ""),
            ("backspace", "erase the last letter", "backspace"),
            ("up down", "a line up or down", ""),
            ("page up and down", "a page on or back", ""),
            ("esc", "back", "escape"),
        )

    def press(self, key: str) -> None:
        """Look for what is typed, scroll, or go back."""
        before = self.typed
        match key:
            case "escape" | "enter" | "f10":
                self.app.pop_screen()
            case "backspace":
                self.typed = self.typed[:-1]
            case "space":
                self.typed = f"{self.typed} "
            case _ if len(key) == 1:
                self.typed = f"{self.typed}{key}"[:_LONGEST]
            case _:
                self.paper.turn(key)
        if self.typed != before:
            self.paper.first = 0

    def _title(self) -> str:
        count = len(found_in(self.typed))
        return f"Words   find: {self.typed}_   {count} {'entry' if count == 1 else 'entries'}"

    def _lines(self, width: int) -> list[Line]:
        indent = max(map(len, GLOSSARY)) + 2
        return [
            Line("" if row else word, line, indent)
            for word, means in found_in(self.typed)
            for row, line in enumerate(wrapped(means, width - indent))
        ]

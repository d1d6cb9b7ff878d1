"""Help for what is on the screen, and a question before somebody leaves a running heat."""

from collections.abc import Callable

from textual.app import ComposeResult

from client.reports.rules import HOUSE
from client.text import wrapped
from client.tui.screens.base import BaseScreen
from client.tui.screens.rules import RulesScreen, WordsScreen
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.key_bar import KeyBar, Keys
from shared.rules.settings import Settings


class Page(Drawn):
    """Words, then a list of keys; where not all keys fit, from a first one on, and the words before the first only."""

    def __init__(self, title: str, words: tuple[str, ...], keys: Keys) -> None:
        super().__init__()
        self.title, self.words, self.keys, self.first = title, words, keys, 0

    def draw(self, canvas: Canvas) -> None:
        """Draw from the top; a column of keys and one of what they do."""
        left, width = _margins(canvas.width)
        canvas.put(left, 1, self.title, "mark", bold=True)
        y = 3
        for line in self._told(canvas.width, canvas.height):
            canvas.put(left, y, line)
            y += 1
        for key, lines, press in self._listed(width)[self.first : self.after(canvas.width, canvas.height)]:
            canvas.put(left, y, key, "mark", bold=True)
            for row, line in enumerate(lines):
                end = canvas.put(left + self._column, y + row, line)
                if press:
                    canvas.zone(left, y + row, end - left, 1, press)
            y += len(lines)

    def after(self, width: int, height: int) -> int:
        """Return the place of the first key that has no room on this page any more; one key always has."""
        y = 3 + len(self._told(width, height))
        listed = self._listed(_margins(width)[1])
        for place in range(self.first, len(listed)):
            y += len(listed[place][1])
            if y > height and place > self.first:
                return place
        return len(listed)

    @property
    def _column(self) -> int:
        return max((len(key) for key, _, _ in self.keys), default=0) + 3

    def _told(self, width: int, height: int) -> list[str]:
        if self.first:
            return []
        lines = list[str]()
        for words in self.words:
            lines += wrapped(words, _margins(width)[1])
            lines += [""] * (height > 24)
        return lines + [""] * (height <= 24)

    def _listed(self, width: int) -> list[tuple[str, list[str], str]]:
        return [(key, wrapped(does, width - self._column), press) for key, does, press in self.keys]


def _margins(width: int) -> tuple[int, int]:
    """Return where the text of a page begins and how wide it may be."""
    left = max(2, (width - 92) // 2)
    return left, min(88, width - 2 * left)


class HelpScreen(BaseScreen):
    """What can be done on the screen below; settings are those of the table, if there is one."""

    def __init__(self, about: str, keys: Keys, settings: Settings | None = None) -> None:
        super().__init__()
        self.page, self.settings = Page("Help", (about, HOUSE), keys), settings

    def compose(self) -> ComposeResult:
        """Build one page."""
        yield self.page
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Space turns the page while there is another one; two keys lead to the rules and to the glossary."""
        more: Keys = (("space", "more", "space"),) if self._next else ()
        return (*more, ("r", "rules", "r"), ("w", "words", "w"), ("any other key", "back", "q"))

    @property
    def _next(self) -> int:
        """The first key of the next page, 0 if this is the last."""
        after = self.page.after(*self.page.size)
        return after if after < len(self.page.keys) else 0

    def press(self, key: str) -> None:
        """Turn the page if there is another one, or go to the rules or words in its place; any other key goes back."""
        if self._next and key in ("space", "down", "pagedown"):
            self.page.first = self._next
            return
        self.app.pop_screen()
        if key in ("r", "w"):
            self.app.push_screen(RulesScreen(self.settings) if key == "r" else WordsScreen())


class LeaveScreen(BaseScreen):
    """Asks once before a running heat is left; warning says what that means."""

    def __init__(self, leave: Callable[[], None], warning: str) -> None:
        super().__init__()
        self.leave, self.warning = leave, warning

    def compose(self) -> ComposeResult:
        """Build the question."""
        yield Page(
            "Leave?",
            (f"{self.warning} Nothing stops while you think.",),
            (("y", "leave", "y"), ("n", "stay", "n")),
        )
        yield KeyBar(self.keys)

    def keys(self) -> Keys:
        """Yes or no."""
        return (("y", "leave", "y"), ("n", "stay", "n"))

    def press(self, key: str) -> None:
        """Leave on y, stay on anything else."""
        self.app.pop_screen()
        if key == "y":
            self.leave()

"""Help for what is on the screen, and a question before somebody leaves a running heat."""

from collections.abc import Callable

from textual.app import ComposeResult

from client.screens.sheet import Sheet
from client.widgets.canvas import Canvas, Drawn
from client.widgets.foot import Foot, Keys
from client.words import wrapped

HOUSE = "House rules differ: where your table's own rule sheet says otherwise, the sheet wins."


class Page(Drawn):
    """Words, then a list of keys."""

    def __init__(self, title: str, words: tuple[str, ...], keys: Keys) -> None:
        super().__init__()
        self.title, self.words, self.keys = title, words, keys

    def draw(self, canvas: Canvas) -> None:
        """Draw from the top; a column of keys and one of what they do."""
        left = max(2, (canvas.width - 92) // 2)
        width = min(88, canvas.width - 2 * left)
        canvas.put(left, 1, self.title, "mark", bold=True)
        y = 3
        for words in self.words:
            for line in wrapped(words, width):
                canvas.put(left, y, line)
                y += 1
            if canvas.height > 24:
                y += 1
        y += canvas.height <= 24
        column = max((len(key) for key, _, _ in self.keys), default=0) + 3
        for key, does, press in self.keys:
            end = canvas.put(canvas.put(left, y, key.ljust(column), "mark", bold=True), y, does)
            if press:
                canvas.zone(left, y, end - left, 1, press)
            y += 1


class HelpScreen(Sheet):
    """What can be done on the screen below."""

    def __init__(self, about: str, keys: Keys) -> None:
        super().__init__()
        self.about, self.listed = about, keys

    def compose(self) -> ComposeResult:
        """Build one page."""
        yield Page("Help", (self.about, HOUSE), self.listed)
        yield Foot(lambda: (("any key", "back", "q"),))

    def press(self, key: str) -> None:
        """Any key goes back."""
        self.app.pop_screen()


class LeaveScreen(Sheet):
    """Asks once before a running heat is left."""

    def __init__(self, leave: Callable[[], None]) -> None:
        super().__init__()
        self.leave = leave

    def compose(self) -> ComposeResult:
        """Build the question."""
        yield Page(
            "Leave the table?",
            ("A heat is running. If you leave, a bot plays on in your seat. The clock does not stop while you think.",),
            (("y", "leave", "y"), ("n", "stay", "n")),
        )
        yield Foot(self.keys)

    def keys(self) -> Keys:
        """Yes or no."""
        return (("y", "leave", "y"), ("n", "stay", "n"))

    def press(self, key: str) -> None:
        """Leave on y, stay on anything else."""
        self.app.pop_screen()
        if key == "y":
            self.leave()

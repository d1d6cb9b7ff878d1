"""Browsing cards of hands at leisure: those that come with racktempo and one's own; what is wrong with a bad one."""

import asyncio
from dataclasses import dataclass

from textual import work
from textual.app import ComposeResult

from client.models.card_browser import CardBrowser
from client.storage.card_files import BadCard, card_names, find_card, fresh_name
from client.text import wrapped
from client.tui.ports import AtWriter
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.card import draw_card
from client.tui.widgets.card_writer import Wheeled
from client.tui.widgets.faults import draw_faults
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, FINDING, KeyBar, Keys, Note
from shared.cards.picture import PLAIN
from shared.cards.play import SHIPPED

_LEGEND = (
    "A hand stands in tiles, as one example of it; words say what of it is free.",
    "",
    "111b       three 1 bam; the suit stands behind a group: b bam, c crak, d dot",
    "F          flower",
    "N E W S    north, east, west and south wind",
    "R G O      red dragon, green dragon, soap (the white dragon)",
    "2026b      the year; its 0 is a soap",
    "",
    "Against your rack, tiles that you hold stand as tiles, and",
    "·          is a tile that you lack",
    "°          is a gap: you lack it and hold the ranks on both sides",
    "J          is a joker that helps there",
    "",
    "Jokers fill groups of three and more, never a single or a pair.",
    "A concealed hand shows nothing of itself before it is complete.",
)
_MEANS = 11
"""Cells before what a sign means."""
_PLAIN = str.maketrans({"·": PLAIN.missing, "°": PLAIN.gap})


@dataclass(frozen=True, slots=True)
class _Found:
    """A card by its name: what can be looked through, and everything that is wrong with it."""

    name: str
    pane: CardBrowser
    faults: tuple[str, ...] = ()


class CardScreen(BaseScreen):
    """Left and right change the card; the rest is as at the table."""

    ABOUT = (
        "A card is a list of hands. Your own cards lie as files in the folder of cards: "
        "racktempo card check FILE names what is wrong with one."
    )

    def __init__(self) -> None:
        super().__init__()
        self.at = 0
        self.legend = False
        self.first = 0
        self._cards: list[_Found] = []

    def compose(self) -> ComposeResult:
        """Build a title, the card and the keys."""
        yield Title(self._title)
        yield Wheeled(self._draw)
        yield Note(lambda: self.told)
        yield KeyBar(self.keys)

    def on_screen_resume(self) -> None:
        """Read the cards, anew after one has been written."""
        self._load()

    @work(exclusive=True, group="cards")
    async def _load(self) -> None:
        for place, name in enumerate(await asyncio.to_thread(card_names)):
            self._cards[place : place + 1] = [await asyncio.to_thread(_find, name)]
            self.redraw()

    def found(self) -> _Found | None:
        """Return the card in hand, if it has been read yet."""
        return self._cards[self.at % len(self._cards)] if self._cards else None

    @property
    def typing(self) -> bool:
        """Whether characters belong to a search."""
        found = self.found()
        return found is not None and found.pane.typing

    def _title(self) -> str:
        found = self.found()
        return f"Card   {found.name}   {self.at % len(self._cards) + 1} of {len(self._cards)}" if found else "Card"

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        if self.typing:
            return FINDING
        if self.legend:
            return (("l", "the card again", "l"), ("up down", "scroll", "down"), *BACK)
        card: Keys = (("left right", "card", "right"),)
        write: Keys = (("e", "write", "e"),)
        found = self.found()
        if found and found.faults:
            return (*card, ("up down", "scroll", "down"), *write, *BACK)
        return (*card, ("up down", "hand", ""), ("w", "find", "w"), *write, *BACK)

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("left right", "another card", "right"),
            ("up down", "another hand", ""),
            ("z", "the next section", "z"),
            ("w", "find words: run, kong, dragon, concealed, 111b, a value", "w"),
            ("r", "pin a hand", "r"),
            ("l", "how a hand is shown", "l"),
            ("e", "write on this card if it is your own, else begin one", "e"),
            ("n", "begin a new card of your own", "n"),
            ("q", "back", "q"),
        )

    def press(self, key: str) -> None:
        """Look through the card in hand, or go to another."""
        found = self.found()
        if found is None or not self.typing:
            match key:
                case "q" | "escape" | "l" if self.legend:
                    self.legend, self.first = False, 0
                    return
                case "up" | "down" if self.legend or (found and found.faults):
                    self.first = max(0, self.first + (1 if key == "down" else -1))
                    return
                case "q" | "escape":
                    self.app.pop_screen()
                    return
                case "left" | "right" if self._cards:
                    self.at = (self.at + (1 if key == "right" else -1)) % len(self._cards)
                    self.first = 0
                    return
                case "e" | "n":
                    own = found is not None and found.name not in SHIPPED and key == "e"
                    self.shell.go(AtWriter(found.name if found and own else fresh_name()))
                    return
                case "l":
                    self.legend, self.first = True, 0
                    return
        if found is not None:
            self._cards[self.at % len(self._cards)] = _Found(
                found.name, found.pane.press(key) or found.pane, found.faults
            )

    def _draw(self, canvas: Canvas) -> None:
        """Draw the card in hand, how it is read, or what is wrong with it."""
        found = self.found()
        if found is None:
            canvas.put(2, 1, "Reading ...", "quiet")
        elif found.faults:
            heading = f"The card {found.name} cannot be played by yet:"
            self.first = min(self.first, len(found.faults) - 1)
            draw_faults(canvas, heading, found.faults, self.first)
        elif self.legend:
            lines = _legend(canvas.width - 4)
            self.first = max(0, min(self.first, len(lines) - canvas.height))
            for y, line in enumerate(lines[self.first : self.first + canvas.height]):
                canvas.put(2, y, line.translate(_PLAIN) if canvas.look.ascii else line)
            if self.first + canvas.height < len(lines):
                canvas.end(canvas.height - 1, "v" if canvas.look.ascii else "▾", "mark", bold=True)
        else:
            draw_card(canvas, found.pane)


def _legend(width: int) -> list[str]:
    """Return the legend in lines of at most so many cells."""
    lines = [""]
    for line in _LEGEND:
        has_sign = line[_MEANS - 2 : _MEANS] == "  "
        lines += wrapped(line, width, later=" " * _MEANS if has_sign else "") if line else [""]
    return lines


def _find(name: str) -> _Found:
    try:
        return _Found(name, CardBrowser(find_card(name).card))
    except BadCard as bad:
        return _Found(name, CardBrowser(), bad.told)

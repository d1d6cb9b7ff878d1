"""After the Charleston: does a rack fill? The coach plays it on, a thousand times or once, draw by draw."""

from collections.abc import Awaitable, Callable
from contextlib import aclosing
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult

from client.models.filling import FillModel
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Painting
from client.tui.widgets.filling import draw_filling
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from shared.rules.tiles import Rack

if TYPE_CHECKING:
    from shared.coach.passes import Position


class FillScreen(BaseScreen):
    """One rack. after returns the text of its card and what its player knows; it may raise ValueError."""

    ABOUT = (
        "The coach plays your rack on after the passing, a thousand times: it draws, calls and discards, until "
        "somebody else ends the hand, as early or late as on this card. The bars say which hands it became; below "
        "them, how often it fills if it has to be that one hand. Space shows one game, draw by draw."
    )

    def __init__(self, rack: Rack, after: "Callable[[], Awaitable[tuple[str, Position]]]") -> None:
        super().__init__()
        self.model, self._after = FillModel(rack), after
        self._seed = 1
        self._games = 0

    def compose(self) -> ComposeResult:
        """Build a title, the rack with what came of it, a line of words and the keys."""
        yield Title("Does it fill?")
        yield Painting(lambda canvas: draw_filling(canvas, self.model))
        yield Note(lambda: self.told, self._words)
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Begin at once."""
        self._fill()

    def _words(self) -> str:
        model = self.model
        if model.shows == "one":
            return "The game is over: n deals another one." if model.is_over else ""
        if model.running:
            return f"Looking ... {model.filled.done if model.filled else 0:.0%}."
        return "" if model.filled is None or model.filled.done == 1 else "Stopped."

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        model = self.model
        if model.shows == "one":
            draw: Keys = () if model.is_over else (("space", "draw", "space"),)
            return (*draw, ("n", "new game", "n"), ("enter", "all games", "enter"), *BACK)
        is_whole = model.filled is not None and model.filled.done == 1
        stop: Keys = () if is_whole else (("x", "stop" if model.running else "go on", "x"),)
        one: Keys = () if model.running else (("space", "one draw at a time", "space"),)
        return (*one, *stop, *BACK)

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("space", "one game, and its next draw", "space"),
            ("left right", "the draw before, the next one", ""),
            ("n", "another game", "n"),
            ("enter", "the thousand games again", "enter"),
            ("x", "stop, or begin again", "x"),
            ("q", "back", "q"),
        )

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it asks."""
        self.told = ""
        match self.model.press(key):
            case "back":
                self.app.pop_screen()
            case "stop":
                self.workers.cancel_group(self, "fill")
            case "again" if self.model.filled is None or self.model.filled.done < 1:
                self._fill()
            case "deal":
                self._deal()

    @work(exclusive=True, group="fill")
    async def _fill(self) -> None:
        model = self.model
        model.running = True
        try:
            card, position = await self._after()
            async with aclosing(self.shell.coaching.filling(card, position, self._seed)) as answers:
                async for model.filled in answers:
                    self.redraw()
        except ValueError as error:
            self.told = str(error)
        finally:
            model.running = False
            self.redraw()

    @work(exclusive=True, group="deal")
    async def _deal(self) -> None:
        self._games += 1
        try:
            card, position = await self._after()
            turns = await self.shell.coaching.one_game(card, position, self._seed + self._games)
        except ValueError as error:
            self.told = str(error)
        else:
            self.model.deal(turns)
        self.redraw()

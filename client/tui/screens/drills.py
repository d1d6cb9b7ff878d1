"""Drills: what can be practised one decision at a time, at the chosen level and by the chosen card; and whole heats."""

from datetime import datetime

from textual import work
from textual.app import ComposeResult

from client.coach.drilling import Drilling, fresh, of_rack, own_costliest
from client.models.settings_form import Row
from client.setup import ABOUT_CARDS, fitting_name, next_card
from client.tui.screens.base import BaseScreen
from client.tui.screens.whole_heats import WholeHeatsScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rows import Rows
from shared.rules.decisions import DRILLS, Drill
from shared.rules.settings import LEVELS_MS, Settings
from shared.rules.typed_tiles import MOST_TYPED, read_tiles
from shared.times import write_time

KEY_BYTES = 32
_ROOMY = 74
"""Columns from which there is room for what a drill is about."""
_LEVEL, _CARD, _FIRST = 0, 1, 2
"""The rows of the level and the card, and that of the first drill."""
_DRILLS: tuple[Drill, ...] = tuple(DRILLS)
_RACK = _FIRST + _DRILLS.index("rack")
_WHOLE = _FIRST + len(_DRILLS)


class DrillScreen(BaseScreen):
    """Rows for the level and the card, then one for each drill, then whole heats."""

    ABOUT = (
        "A drill is ten decisions: a rack, a clock, your answer, the coach's verdict. There is no heat to sit through. "
        "The level decides the time for each. What comes of a round is kept beside your earlier ones."
    )

    def __init__(self) -> None:
        super().__init__()
        self.level, self.at, self.tiles = LEVELS_MS.index(Settings().level_ms), _FIRST, ""

    def compose(self) -> ComposeResult:
        """Build the rows."""
        yield Title("Drills")
        yield Rows(self.rows, lambda: self.at, 0, _WHOLE + 1)
        yield Note(lambda: self.told, self._about)
        yield KeyBar(self.keys)

    @property
    def typing(self) -> bool:
        """Whether characters are tiles."""
        return self.at == _RACK

    def rows(self) -> tuple[Row, ...]:
        """Return the level, the card, the drills and the way to whole heats."""
        roomy = self.size.width >= _ROOMY
        return (
            Row("level", "Whole Charleston", write_time(LEVELS_MS[self.level])),
            Row("card", "Card", fitting_name(self.shell.card, 40)),
            *(
                Row(drill, aim.title, aim.about if roomy else "", changes=False)
                for drill, aim in DRILLS.items()
                if drill != "rack"
            ),
            Row("rack", DRILLS["rack"].title, f"{self.tiles}_" if self.typing else self.tiles, changes=False),
            Row("whole", "Whole heats", "tempting deals, your costliest, with bots" if roomy else "", changes=False),
        )

    def keys(self) -> Keys:
        """Return the keys of the rows."""
        change: Keys = (("left right", "card" if self.at == _CARD else "level", "right"),)
        if self.typing:
            return (("up down", "drill", "down"), ("enter", "begin", "enter"), ("esc", "back", "escape"))
        return (("up down", "choose", "down"), *change, ("enter", "begin", "enter"), *BACK)

    def _about(self) -> str:
        if self.at == _CARD:
            return ABOUT_CARDS
        if self.typing:
            typed = read_tiles(self.tiles)
            fault = f" {typed.faults[0]}" if typed.faults else ""
            return f"Type 13 or 14 tiles, such as 1123b 567c 9d NE FF J: {typed.count_of(14)}.{fault}"
        return DRILLS[_DRILLS[self.at - _FIRST]].goal if _FIRST <= self.at < _WHOLE else ""

    def press(self, key: str) -> None:
        """Choose a drill, a level or a card, type a rack, or begin."""
        self.told = ""
        word, _, number = key.partition(" ")
        if number:
            self.at = int(number)
        if self.typing and (len(key) == 1 or key in ("space", "backspace")):
            self._type(key)
            return
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "up" | "down":
                self.at = (self.at + (1 if word == "down" else -1)) % (_WHOLE + 1)
            case "left" | "right" | "less" | "more":
                self._change(1 if word in ("right", "more") else -1)
            case "enter" | "row" if self.at == _WHOLE:
                self.app.push_screen(WholeHeatsScreen())
            case "enter" if self.at < _FIRST:
                self._change(1)
            case "enter" | "row" if self.at >= _FIRST and not (word == "row" and self.typing):
                self._begin(_DRILLS[self.at - _FIRST])

    def _type(self, key: str) -> None:
        if key == "backspace":
            self.tiles = self.tiles[:-1]
        elif len(self.tiles) < MOST_TYPED:
            self.tiles += " " if key == "space" else key

    def _change(self, by: int) -> None:
        """Change the card on its own row, else the level."""
        shell = self.shell
        if self.at == _CARD:
            shell.choose_card(next_card(shell.storage.card_names(), shell.card, by))
        else:
            self.level = (self.level + by) % len(LEVELS_MS)

    @work(exclusive=True, group="drill")
    async def _begin(self, drill: Drill) -> None:
        try:
            found = await self._made(drill)
        except ValueError as error:
            found = str(error)
        if isinstance(found, Drilling):
            self.shell.decide(found)
        else:
            self.told = found
        self.redraw()

    async def _made(self, drill: Drill) -> Drilling | str:
        shell, settings = self.shell, Settings(level_ms=LEVELS_MS[self.level])
        if drill == "costliest":
            return await own_costliest(shell.coaching, shell.journal, self._now)
        card = self.card_text(shell.card)
        if card is None:
            return self.told
        if drill == "rack":
            typed = read_tiles(self.tiles)
            if typed.faults:
                return str(typed.faults[0])
            return await of_rack(shell.coaching, typed.tiles, settings, card)
        return fresh(shell.coaching, shell.journal, drill, settings, card, shell.random_bytes(KEY_BYTES), self._now)

    def _now(self) -> datetime:
        return datetime.fromisoformat(self.shell.stamp())

"""The table screen: the rack, the clock, the route, the others and the question of the moment.

Draws the model and hands it keys; decides nothing.
"""

from functools import lru_cache

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from client.models.guided import more_time
from client.models.host import bot_offer, changed, seat_bot
from client.models.rack import PLACES
from client.models.table import TableModel
from client.models.watched import show_rack
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Head, Route
from client.tui.widgets.key_bar import FINDING, LEAVE, Beneath, KeyBar, Keys, Pinned
from client.tui.widgets.opponents import Opponents, clock_in_short
from client.tui.widgets.pane import Pane
from client.tui.widgets.plainest import FLAT, SLIM, TILES_FROM, Plainest
from client.tui.widgets.rack import RackRow
from client.tui.widgets.tray import Tray
from shared.cards import Hand
from shared.cards.picture import AgainstRack, nearest
from shared.rules.tiles import Rack, by_suit

TARGET = "4"
"""The key that names a target: on the card, in any step."""
_PLAINEST_KEYS = {
    "vote": "1 goes on, 0 stops; enter answers, q leaves",
    "offer": "0 to 3 tiles; enter answers, q leaves",
}


@lru_cache(maxsize=32)
def _against(hand: Hand, rack: Rack, year: int) -> AgainstRack:
    """Return a hand against a rack; kept, because the same line is drawn again and again."""
    return nearest(hand, rack, year)


class TableScreen(BaseScreen):
    """One heat from the deal to its end."""

    ABOUT = (
        "Three tiles go at each pass. Lift them, then press enter. A joker is never passed. If your time runs out, "
        "what you lifted goes, topped up from the right end of your rack."
    )

    HORIZONTAL_BREAKPOINTS = [SLIM, (TILES_FROM[0], "-narrow"), *BaseScreen.HORIZONTAL_BREAKPOINTS[1:]]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [FLAT, (TILES_FROM[1], "-low"), *BaseScreen.VERTICAL_BREAKPOINTS[1:]]  # noqa: RUF012

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model
        self._shown = self._offered = ""
        self._rung = False

    def compose(self) -> ComposeResult:
        """Build the main column and, for wide screens, the pane beside it."""
        model, now_ms = self.model, self.shell.now_ms
        yield Plainest(self.plainest)
        with Horizontal():
            with Vertical(id="main"):
                yield Head(model)
                yield Route(model)
                yield Opponents(model, now_ms)
                yield Pane(model, now_ms, clock=True, id="over")
                yield Tray(model)
                yield RackRow(model)
                yield Beneath(
                    lambda: model.line or model.note or bot_offer(model, now_ms()) or self._alarm(),
                    self._pinned,
                    self._hint,
                )
                yield KeyBar(self.keys)
            yield Pane(model, now_ms, clock=False, id="beside")

    @property
    def typing(self) -> bool:
        """Whether characters belong to a search in the card."""
        return self.model.pane.typing

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        wide = self.has_class("-wide")
        if key == TARGET and self.model.card_in_sight(wide) and not self.typing:
            self.model.name_target(self.shell.now_ms())
        elif key == "f9":
            self.carry_out(show_rack(self.model))
        elif key == "f5":
            self.carry_out(seat_bot(self.model, self.shell.now_ms()))
        else:
            self.carry_out(self.model.press(key, is_wide=wide))

    def keeps(self, key: str) -> bool:
        """A guided heat has a page of its own at the key that shows who is beside the table."""
        return key == "f6" and self.model.guided

    def redraw(self) -> None:
        """Draw everything again, a pane in place of the upper part if one was asked for."""
        self.set_class(bool(self.model.shows), "open")
        super().redraw()

    def plainest(self) -> tuple[str, ...]:
        """Return the step, the clock and the rack with its places; lifted tiles have a star."""
        model = self.model
        if model.step is None:
            return ("q leaves, also from here.",)
        tiles = zip(PLACES, model.rack.tiles, strict=False)
        rack = [f"{place}:{tile}{'*' * (at in model.rack.lifted)}" for at, (place, tile) in enumerate(tiles)]
        shown = "The racks are covered." if model.stage == "paused" else "  ".join(rack)
        asked = f"{model.step.name.capitalize()}   {clock_in_short(model, self.shell.now_ms())}"
        return (asked, shown, model.line or model.note or _PLAINEST_KEYS.get(model.step.ask, "enter passes, q leaves"))

    def _pinned(self) -> Pinned | None:
        """Return the pinned hand, against the rack only where the table gives hints during the heat."""
        told, heat, view = self.model.pane.told_pinned, self.model.heat, self.model.view
        if told is None:
            return None
        if view is None or heat is None or heat.paused or view.settings.hints != "after each pass":
            return Pinned(told.name, told.rows[0].picture)
        drawn = _against(told.hand, by_suit(heat.rack), told.year)
        return Pinned(told.name, drawn.picture, (drawn.text(), f"{drawn.away} to go"))

    def _alarm(self) -> str:
        """Return what there is to say of the wall: all heat long if checking has ended, else at its first step; there
        also what the host has changed."""
        wall, heat = self.model.wall, self.model.heat
        stopped = wall.now is not None and wall.now.stopped
        is_first = heat is not None and heat.step == "first right"
        return (wall.alarm() if stopped or is_first else "") or (changed(self.model) if is_first else "")

    def _hint(self) -> str:
        return self.model.hint.line() if self.model.hint else ""

    def tick(self) -> None:
        """Draw the clock if it shows something new, ring once in the last ten seconds, send drafts."""
        look, face = self.shell.look, self.model.face(self.shell.now_ms())
        fine = face.last_ten and not look.calm
        shown = str(-(-face.left_ms // (100 if fine else 1000)))
        if shown != self._shown:
            self._shown = shown
            for drawn in (*self.query(Opponents), *self.query(Plainest), *self.query("#over").results(Pane)):
                drawn.redraw()
        if (offer := bot_offer(self.model, self.shell.now_ms())) != self._offered:
            self._offered = offer
            self.redraw()
        deciding_late = face.last_ten and self.model.stage == "deciding"
        if deciding_late and not self._rung and look.bell:
            self.app.bell()
        self._rung = deciding_late
        self.carry_out(self.model.drafts())
        if self.model.guided and self.model.stage == "deciding":
            self.carry_out(more_time(face.left_ms))

    def keys(self) -> Keys:
        """Return the keys that matter in the running step."""
        step, heat, model = self.model.step, self.model.heat, self.model
        ask = step.ask if step else ""
        if model.pane.typing:
            return FINDING
        if model.stage == "paused":
            return ((("p", "go on", "p"),) if model.may_keep else ()) + LEAVE
        pause: Keys = (("p", "pause", "p"),) if model.may_keep and not model.guided else ()
        more: Keys = (("x", "+10 s", "x"),) if model.is_host and not model.guided else ()
        rest: Keys = (("v", "card", "v"), *pause, *more, *LEAVE)
        if model.bot_in_my_seat:
            back: Keys = () if model.plays_next else (("t", "play myself", "t"),)
            return (*back, *rest[1:])
        if model.may_hurry:
            return (("enter", "hurry the bots", "enter"), *rest)
        if model.stage != "deciding" or heat is None:
            return rest
        if ask == "vote":
            return (("1", "go on", "1"), ("0", "stop", "0"), ("enter", "confirm", "enter"), *rest)
        if ask == "offer":
            side: Keys = (("left right", "with whom", ""),) if step and not step.direction else ()
            return (*side, ("0-3", "how many", ""), ("enter", "confirm", "enter"), *rest)
        if ask == "plan":
            name: Keys = (
                (("r", "name a hand", "r"),) if self.model.card_in_sight(self.has_class("-wide")) else (rest[0],)
            )
            does = "confirm" if self.model.rack.lifted or self.model.pane.pinned else "skip"
            return (*name, ("a-n", "discards", ""), ("enter", does, "enter"), *rest[1:])
        most = heat.most_blind
        third: Keys = ((f"0-{most}", "blind", ""),) if most else (("u", "take back", "u"),)
        return (("a-n", "lift", ""), ("enter", "pass", "enter"), *third, *rest)

    def help_keys(self) -> Keys:
        """Return every key of the table."""
        host: Keys = (
            ("p", "pause, or go on (host)", "p"),
            ("x", "ten seconds more for all who decide (host)", "x"),
            ("F5", "for somebody who is away: a bot until they are back, or their other machine (host)", "f5"),
        )
        return (
            ("a to n", "lift or drop the tile at that place", ""),
            ("left right", "move the mark along the rack", ""),
            ("space", "lift or drop the marked tile", "space"),
            ("shift+left right, < >", "move the marked tile: your own order", ""),
            ("s", "sort by suit, by rank", "s"),
            ("enter", "pass the lifted tiles; confirm your choice; then hurry the bots", "enter"),
            ("u", "drop all that is lifted, before you pass", "u"),
            ("v F2", "the card, or the table again (esc)", "v"),
            ("up down z", "on the card: another hand, the next section", ""),
            ("w", "find words on the card: what you type lifts nothing; enter pins", "w"),
            ("r", "pin the marked hand: it stays in sight, and is named in the plan", "r"),
            (TARGET, "on the card: name the marked hand as your target, then its section, then none", TARGET),
            ("y F4", "why: the coach on your last pass, if the host wants hints", "y"),
            ("F3", "the route in full: what went and what came", "f3"),
            *((("F6", "who is beside the table", "f6"),) if self.model.view and self.model.view.beside else ()),
            ("F7", "the wall: its commitment in full, and the words to read aloud", "f7"),
            *((("F9", "let your rack be seen, or stop", "f9"),) if show_rack(self.model) else ()),
            ("0 1 2 3", "how many go unseen; courtesy number; 1 go on, 0 stop", ""),
            ("t", "play where a bot plays for you", "t"),
            ("o", "look: dark or light, plain borders, a calm clock", "o"),
            *host,
            ("q", "leave the table (asks first)", "q"),
        )

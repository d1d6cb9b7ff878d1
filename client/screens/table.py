"""The table screen: the rack, the clock, the route, the others and the question of the moment.

Draws the model and hands it keys; decides nothing.
"""

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from client.model import Model
from client.screens.sheet import Sheet
from client.widgets.around import Around
from client.widgets.detail import Detail
from client.widgets.foot import Foot, Keys, Note
from client.widgets.head import Head, Route
from client.widgets.rack import RackRow
from client.widgets.tray import Tray


class TableScreen(Sheet):
    """One heat from the deal to its end."""

    ABOUT = (
        "Three tiles go at each pass. Lift them, then press enter. A joker is never passed. If your time runs out, "
        "what you lifted goes, topped up from the right end of your rack."
    )

    def __init__(self, model: Model) -> None:
        super().__init__()
        self.model = model
        self._shown = ""
        self._rung = False

    def compose(self) -> ComposeResult:
        """Build the main column and, for wide screens, the pane beside it."""
        with Horizontal():
            with Vertical(id="main"):
                yield Head(self.model)
                yield Route(self.model)
                yield Around(self.model, self.racktempo.now_ms)
                yield Tray(self.model)
                yield RackRow(self.model)
                yield Note(lambda: self.model.line or self.model.note)
                yield Foot(self.keys)
            yield Detail(self.model)

    def press(self, key: str) -> None:
        """Ask the table for what the model makes of the key."""
        if key in ("q", "o"):
            (self.racktempo.ask_to_leave if key == "q" else self.racktempo.show_looks)()
            return
        for intent in self.model.press(key):
            self.racktempo.ask(intent)

    def tick(self) -> None:
        """Draw the clock if it shows something new, ring once in the last ten seconds, send drafts."""
        look, face = self.racktempo.look, self.model.face(self.racktempo.now_ms())
        fine = face.last_ten and not look.calm
        shown = str(-(-face.left_ms // (100 if fine else 1000)))
        if shown != self._shown:
            self._shown = shown
            for around in self.query(Around):
                around.redraw()
        deciding_late = face.last_ten and self.model.stage == "deciding"
        if deciding_late and not self._rung and look.bell:
            self.app.bell()
        self._rung = deciding_late
        for intent in self.model.drafts():
            self.racktempo.ask(intent)

    def keys(self) -> Keys:
        """Return the keys that matter in the running step."""
        step, heat, model = self.model.step, self.model.heat, self.model
        ask = step.ask if step else ""
        rest: Keys = (("s", "sort", "s"), ("?", "help", "?"), ("q", "leave", "q"))
        if model.stage == "paused":
            host = model.view is not None and model.view.host
            return ((("p", "go on", "p"),) if host else ()) + rest[1:]
        if model.bot_in_my_seat:
            return (("t", "take my seat back", "t"), *rest[1:])
        if model.stage != "deciding" or heat is None:
            return rest
        if ask == "vote":
            return (("1", "go on", "1"), ("0", "stop", "0"), ("enter", "say it", "enter"), *rest)
        if ask == "offer":
            return (("0-3", "how many", ""), ("enter", "say it", "enter"), *rest)
        if ask == "plan":
            return (("a-n", "lift discards", ""), ("enter", "say it", "enter"), *rest)
        back = ("u", "take back", "u")
        blind: Keys = (("0-3", "unseen", ""),) if heat.may_blind else ()
        return (("a-n", "lift", ""), ("enter", "pass", "enter"), back, *(blind or rest[:1]), *rest[1:])

    def help_keys(self) -> Keys:
        """Return every key of the table."""
        host: Keys = (("p", "pause, or go on (host)", "p"), ("x", "ten seconds more for all who decide (host)", "x"))
        return (
            ("a to n", "lift or drop the tile at that place", ""),
            ("left right", "move the mark along the rack", ""),
            ("space", "lift or drop the marked tile", "space"),
            ("shift+left right, < >", "move the marked tile: your own order", ""),
            ("s", "sort by suit, by rank", "s"),
            ("enter", "pass the lifted tiles; say what you chose", "enter"),
            ("u", "drop all that is lifted, before you pass", "u"),
            ("0 1 2 3", "how many go unseen; courtesy number; 1 go on, 0 stop", ""),
            ("t", "take your seat back from a bot", "t"),
            ("o", "look: dark or light, plain borders, a calm clock", "o"),
            *host,
            ("q", "leave the table (asks first)", "q"),
        )

"""The shared clock for real tiles where each person has a machine: done for oneself, and who is done so far.

Draws the model and hands it keys; decides nothing.
"""

from textual.app import ComposeResult

from client.models.session import Action
from client.models.shared_clock import SharedClockModel
from client.tui.ports import AtRacks, AtRealSet
from client.tui.screens.base import BaseScreen
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import LEAVE, KeyBar, Keys, Note
from client.tui.widgets.shared_clock import SharedClockBoard
from shared.names import clean_name


class SharedClockScreen(BaseScreen):
    """A set of heats with real tiles, one machine a person."""

    ABOUT = (
        "For people with tiles on a table, each with a machine. The clock names the step and counts; you pass the "
        "tiles. Press done for yourself; the step ends when all are done. The clock does not wait for "
        "people without a machine."
    )

    def __init__(self, model: SharedClockModel) -> None:
        super().__init__()
        self.model = model
        self._shown: tuple[object, ...] = ()
        self._up = False

    def compose(self) -> ComposeResult:
        """Build the title, the board and the keys."""
        yield Title(self._title)
        yield SharedClockBoard(self.model, self.shell.now_ms, self._way_in)
        yield Note(self._words)
        yield KeyBar(self.keys)

    def tick(self) -> None:
        """Draw when a shown second has changed; ring once when one's own time for a step is up."""
        view, now_ms = self.model.view, self.shell.now_ms()
        if view is None:
            return
        was_up = self._up
        self._up = self.model.own.stand == "thinking" and self.model.left_ms(view.you, now_ms) <= 0
        if self._up and not was_up and self.shell.look.bell:
            self.app.bell()
        left = tuple(-(-self.model.left_ms(place, now_ms) // 1000) for place in (1, 2, 3, 4))
        late = tuple(self.model.is_late(place, now_ms) for place in (1, 2, 3, 4))
        shown = (left, late, self.model.heat_ms(now_ms) // 1000, self.model.setup_ms(now_ms) // 1000)
        if shown != self._shown:
            self._shown = shown
            self.redraw()

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        view, model = self.model.view, self.model
        if view is None:
            return LEAVE
        without: Keys = (("w", "go without", "w"),) if view.host and model.away() else ()
        if view.paused:
            return (*((("p", "go on", "p"),) if view.host else ()), *without, *LEAVE)
        pause: Keys = (("p", "pause", "p"),) if view.host and view.phase != "over" else ()
        match model.own.stand:
            case "thinking":
                no = {"vote": "stop", "offer": "nobody gives"}.get(model.asks)
                return (("space", "done", "space"), *((("0", no, "0"),) if no else ()), *without, *pause, *LEAVE)
            case "done":
                return (("u", "take back", "u"), *without, *pause, *LEAVE)
        racks: Keys = (("t", "your rack", "t"),)
        review: Keys = (("r", "review", "r"),) if model.own_times else ()
        if view.phase == "over":
            return (*((("enter", "another set", "enter"),) if view.host else ()), *racks, *review, *LEAVE)
        if view.phase == "step":
            return (*without, *pause, *LEAVE)
        ready = "not ready" if model.own.stand == "ready" else "ready"
        return (
            ("enter", ready, "enter"),
            ("1-4", "my place", ""),
            *without,
            *racks,
            *(pause[: view.phase == "set-up"]),
            *LEAVE,
        )

    def help_keys(self) -> Keys:
        """Return every key of the clock."""
        return (
            ("enter n", "ready for the next heat, or not; it begins when all are ready", "enter"),
            ("space", "done with this step", "space"),
            ("0", "done, and stop; done, and give nothing: one person decides this for the whole table", "0"),
            ("u", "take it back while others still think; your clock runs on as if you had never been done", "u"),
            ("1 to 4", "where you sit, before a heat; you change places with the person shown there", ""),
            ("p", "pause, or go on (host)", "p"),
            ("t r", "between heats: type your own tiles, review them; nobody sees them", "t"),
            ("w", "stop waiting for those who are away; they keep their seats until a newcomer needs one (host)", "w"),
            ("b", "one bell when your time for a step is up, or none", "b"),
            ("q", "leave (asks first while a heat is running)", "q"),
        )

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        self.carry_out(self.model.press(key))

    def act(self, action: Action) -> None:
        """Turn the bell on or off, take one's own tiles, or review them."""
        heats = self.model.clocked
        if action == "racks" and heats:
            self.shell.go(AtRacks(heats, may_stay=lambda: not self.model.in_heat))
        elif action == "review" and (over := [heat for heat in heats if heat.times]):
            self.shell.go(AtRealSet(over))
        elif action == "bell":
            self.shell.change_look(self.shell.look.toggled("bell"))
            self.model.note = f"One bell at the end of your time: {'yes' if self.shell.look.bell else 'no'}."

    def _title(self) -> str:
        view = self.model.view
        if view is None:
            return ""
        heat = f"heat {view.heat} of {view.settings.heats}"
        bell = ["bell on"] if self.shell.look.bell else []
        return "   ".join([clean_name(view.table, "clock"), heat, f"your place: {view.you}", *bell])

    def _words(self) -> str:
        """Return trouble, what is on its way, for whom everybody waits, or what comes next."""
        model, view = self.model, self.model.view
        if view is None:
            return ""
        if model.line or model.note:
            return model.line or model.note
        if model.is_sending:
            return "sending ..."
        if view.paused:
            where = f" at {view.step}" if view.step else ""
            return f"The clock is paused{where}{'' if view.host else ' until the host goes on'}."
        if model.own.stand in ("done", "ready") and (names := model.waiting_for()):
            return f"waiting for {', '.join(names)}"
        if view.phase == "step":
            return f"then: {view.following}" if view.following else "the last step of this heat"
        return ""

    def _way_in(self) -> tuple[tuple[str, str], ...]:
        view, way_in = self.model.view, self.shell.way_in
        if view is None or not (view.host and view.code and way_in.addresses):
            return ()
        lines = [("others join at", "  or  ".join(way_in.addresses[:3])), ("with the code ", view.code)]
        lines += [("", words) for words in (way_in.beacon, way_in.who_reads) if words]
        return tuple(lines)

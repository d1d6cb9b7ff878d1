"""Seats and ready: who sits where before the first heat, how others come in, and what the host may arrange."""

from textual.app import ComposeResult

from client.models.host import changed, keeping
from client.models.played import club_of, evening_words
from client.models.seats import SeatsModel
from client.models.session import Action
from client.models.settings_form import house_rules
from client.models.start_card import start_card
from client.models.table import TableModel, shown_name
from client.models.watched import consent_words, show_rack, watching_line
from client.text import some, wrapped
from client.theme import Ground, Role
from client.tui.screens.addresses import AddressesScreen
from client.tui.screens.base import BaseScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.evening import draw_moved, what_begins
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import LEAVE, Changed, KeyBar, Keys, Note
from shared.rules.settings import Settings
from shared.times import write_time
from shared.wire.views import ChairView, View

Spans = list[tuple[str, Role, bool]]
"""A line in pieces: each its text, its role, and whether it is bold."""
_BESIDE = "beside the table (F6):"
_MORE: tuple[str, Role] = ("? shows the other rules", "mark")
_WIDTH = 72
_ROOMY = 20
"""Rows from which there is a blank one below each chair."""


def _state(chair: ChairView) -> str:
    if chair.sitter == "nobody":
        return "free"
    if chair.sitter == "bot":
        return "bot, ready"
    if not chair.connected:
        return "away; asks: l lets in" if chair.asks else "away"
    if chair.wish is not None:
        return f"wishes chair {chair.wish + 1}"
    return f"{'host, ' if chair.host else ''}{'ready' if chair.ready else 'not ready yet'}"


def _rules(settings: Settings) -> tuple[str, str, str]:
    second = {
        "offered": "second Charleston offered",
        "always": "second Charleston always",
        "never": "no second Charleston",
    }
    return (
        f"{some(settings.heats, 'heat')}, {write_time(round(settings.total_ms(), -3))} for each Charleston, "
        f"{second[settings.second]}",
        f"unused time {'is carried over' if settings.carry_over else 'is lost'}, blind passes "
        f"{'allowed' if settings.blind else 'not allowed'}, {'with' if settings.courtesy else 'without'} courtesy pass",
        f"a pass is final {'at once' if settings.final_at == 'commit' else 'when its step closes'}; racks "
        f"{'are opened' if settings.open_racks else 'stay closed'} at the end",
    )


def _key_of(text: str) -> str | None:
    return "f6" if text.startswith(_BESIDE) else None


class SeatsScreen(BaseScreen):
    """Four chairs until everybody is ready."""

    ABOUT = "The heat begins when every person is ready. Bots take the chairs that stay empty."

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model
        self.chairs = SeatsModel(model)

    def compose(self) -> ComposeResult:
        """Build the list of chairs."""
        yield Title(lambda: evening_words(self.model) or "Seats")
        yield Painting(self._draw)
        yield Changed(lambda: changed(self.model))
        yield Note(self.words)
        yield KeyBar(self.keys)

    def words(self) -> str:
        """Return trouble, what begins, or what a teacher may see."""
        begins = what_begins(self.model, self.shell.now_ms())
        bot = "A bot plays for you; t: play yourself." if self.model.bot_in_my_seat else ""
        wall = self.model.wall.alarm() or self.model.wall.before_deal()
        what = begins or keeping(self.model) or bot or consent_words(self.model)
        return self.model.line or self.model.note or what or self.model.about_card or wall

    def tick(self) -> None:
        """Draw a countdown."""
        club = club_of(self.model)
        if club and (club.starts_in_ms is not None or club.goes_on_in_ms is not None):
            self.redraw()

    def keys(self) -> Keys:
        """Return the host's keys or a guest's."""
        view = self.model.view
        ready = ("enter", "not ready" if self.model.is_ready else "ready", "enter")
        if view is None or not view.host:
            start: Keys = (("s", "start now", "s"),) if self.model.may_keep else ()
            return (ready, *start, *LEAVE)
        return (
            ready,
            ("s", "start now", "s"),
            ("b", "seat a bot", "b"),
            ("F8", "settings", "f8"),
            *LEAVE,
        )

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("enter", "ready, or not ready after all", "enter"),
            ("up down", "choose a chair", ""),
            ("m", "sit there: at once, or a wish if somebody sits there; your own takes it back", "m"),
            ("l", "let in another machine that asks for this chair (host)", "l"),
            ("c", "a new code for newcomers (host)", "c"),
            ("b", "let a bot take the chair (host)", "b"),
            ("f", "send this person away for the evening (host)", "f"),
            ("t", "play where a bot plays for you", "t"),
            ("s", "start now without waiting for anybody (host)", "s"),
            *((("v", "let your rack be seen, or stop", "v"),) if show_rack(self.model) else ()),
            ("F6", "who is beside the table; the host lets them see racks, or sends them away", "f6"),
            ("F7", "the wall: its commitment in full, and how it is made", "f7"),
            ("F8", "change the settings, clocks and presets too (host)", "f8"),
            ("a", "choose the addresses shown to guests (host)", "a"),
            ("q", "leave", "q"),
        )

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        self.carry_out(self.chairs.press(key))

    def act(self, action: Action) -> None:
        """Show the addresses of this machine."""
        if action == "addresses" and self.shell.way_in.all_addresses:
            self.app.push_screen(AddressesScreen())

    def _draw(self, canvas: Canvas) -> None:
        """Draw the four chairs, how others come in, and the rules."""
        view = self.model.view
        if view is None:
            return
        if self.model.moved:
            draw_moved(canvas, self.model)
            return
        is_wide = canvas.width >= _WIDTH + 3
        left = max(3, (canvas.width - _WIDTH) // 2) if is_wide else 1
        width = min(_WIDTH, canvas.width - left)
        above, rules = self._above_rules(view, canvas.width - left - 1), self._told(view, canvas.width - left - 1)
        apart = 2 if canvas.height >= _ROOMY and len(above) + len(rules) + 10 <= canvas.height else 1
        y = max(apart - 1, (canvas.height - 18) // 2)
        for number, chair in enumerate(view.chairs):
            self._chair(canvas, (left, y, width), number, chair, (36, 50) if is_wide else (33, 45))
            y += apart
        for row in above:
            x = left
            for text, role, bold in row:
                shown = canvas.fitted(text, canvas.width - x - 1).rstrip() if len(text) >= canvas.width - x else text
                x = canvas.put(x, y, shown, role, bold=bold, key=_key_of(text)) + 1
            y += 1
        told = rules if y + len(rules) < canvas.height else (*rules[: canvas.height - y - 2], _MORE)
        for text, role in told:
            canvas.put(left, y, text, role)
            y += 1
        canvas.put(left, y, self.model.wall.short(), "quiet", key="f7")

    def _chair(
        self, canvas: Canvas, box: tuple[int, int, int], number: int, chair: ChairView, columns: tuple[int, int]
    ) -> None:
        view, (left, y, width), (deals_at, state_at) = self.model.view, box, columns
        assert view is not None
        ground: Ground = "chosen" if number == self.chairs.at else "panel"
        canvas.put(left, y, " " * width, "text", ground)
        canvas.put(left + 1, y, f"chair {number + 1}", "text" if ground == "chosen" else "quiet", ground)
        you = " (you)" if number == view.you else ""
        canvas.put(left + 10, y, shown_name(chair) + you, "text", ground, bold=True)
        canvas.put(left + deals_at, y, "deals first" if number == view.east else "", "text", ground)
        canvas.put(left + state_at, y, canvas.fitted(_state(chair), width - state_at - 1), "text", ground)
        canvas.zone(left, y, width, 1, f"chair {number}")

    def _above_rules(self, view: View, width: int) -> list[Spans]:
        """Return the lines between chairs and rules: who is beside the table, how others join, and the heat to come."""
        rows: list[Spans] = []
        if beside := watching_line(view):
            rows.append([(f"{_BESIDE} {beside}", "mark", False)])
        rows.append([])
        way_in = self.shell.way_in
        if view.host and view.code and way_in.addresses:
            rows.append([("others join at ", "quiet", False), ("  or  ".join(way_in.addresses[:3]), "text", True)])
            rows.append([("with the code  ", "quiet", False), (view.code, "mark", True)])
            rows += [[(words[:76], "quiet", False)] for words in (way_in.beacon, way_in.who_reads) if words]
            rows += [] if way_in.beacon else [[]]
        heat, first, _ = start_card(view, self.model.laid(view.heat_number + 1), self.model.guided)
        return [*rows, [(f"{heat}:", "mark", True), (first, "text", True)]]

    def _told(self, view: View, width: int) -> tuple[tuple[str, Role], ...]:
        """Return the lines that say how this table plays."""
        _, _, clocks = start_card(view, self.model.laid(view.heat_number + 1), self.model.guided)
        told: tuple[tuple[str, Role], ...] = (
            (clocks, "text"),
            *((line, "quiet") for line in (*_rules(view.settings), house_rules(view.settings)) if line),
        )
        return tuple((row, role) for line, role in told for row in wrapped(line, width))

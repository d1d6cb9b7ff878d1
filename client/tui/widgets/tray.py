"""The panel above the rack: the tray and where its tiles go, or the question that the running step asks."""

from rich.cells import cell_len

from client.models.host import GIVEN_BACK
from client.models.neighbours import neighbours
from client.models.rack import PLACES
from client.models.table import TableModel
from client.text import some, wrapped
from client.tui.widgets.canvas import Canvas, Drawn
from client.tui.widgets.faces import role, title
from client.tui.widgets.head import arrow
from shared.rules.seats import Direction, Seat
from shared.rules.steps import Step
from shared.rules.tiles import Tile

_PLACE = 10
_NAMES = 40
"""Cells that a list of names may take."""
_WITH_NAMES = 74
"""Columns from which the receiver's name stands at the arrow; below, the words above the tray have it."""


class Tray(Drawn):
    """Four rows: one of words, three of tray or buttons."""

    def __init__(self, model: TableModel) -> None:
        super().__init__()
        self.model = model

    def draw(self, canvas: Canvas) -> None:
        """Draw what the running step asks."""
        step, heat = self.model.step, self.model.heat
        canvas.ground = "panel"
        for y in range(canvas.height):
            canvas.put(0, y, " " * canvas.width)
        if step is None or heat is None:
            return
        if self.model.stage == "paused":
            back = self.model.view is not None and self.model.view.restored
            why = "Back after a restart:" if back else "The host has paused the table."
            canvas.middle(1, f"{why} {GIVEN_BACK if back else 'The racks are covered.'}", bold=True)
            canvas.middle(2, "p goes on" if self.model.may_keep else "It goes on where it stopped.", "quiet")
            return
        match step.ask:
            case "vote":
                said = {1: "You go on.", 0: "You stop."}
                self._question(canvas, "Go on to a second Charleston?", self._chosen(said) or self._rule())
            case "offer" if step.direction:
                self._question(
                    canvas,
                    f"Courtesy: how many would you swap with {self._partner(step.direction)}?",
                    self._chosen({n: f"You offer {n}." for n in range(4)}) or "The smaller of your two numbers counts.",
                )
            case "offer":
                side = "left" if self.model.side == Direction.LEFT else "right"
                to = f"{self._partner(self.model.side)} on your {side}"
                self._question(
                    canvas,
                    f"One more courtesy, to either side: how many with {to}?",
                    self._chosen({0: "You offer none.", **{n: f"You offer {n} to {to}." for n in range(1, 4)}})
                    or "You swap if both name each other; the smaller number counts.",
                )
            case "plan":
                self._plan(canvas)
            case _:
                self._tray(canvas, step)

    def _rule(self) -> str:
        """Return the rule of the vote at this table, and whether tiles lie face down until it is over."""
        view, heat = self.model.view, self.model.heat
        silence = view.settings.silence if view else "go on"
        hidden = f" {some(heat.face_down, 'tile')} face down." if heat and heat.face_down else ""
        return f"One stop ends it. No answer means {silence}.{hidden}"

    def _partner(self, direction: Direction) -> str:
        return next((seat.name for seat in neighbours(self.model) if seat.relation == direction.word), "")

    def _waiting(self) -> str:
        names = self.model.waiting_for()
        listed = ", ".join(names)
        return f" Waiting for {listed if cell_len(listed) <= _NAMES else f'{len(names)} others'}." if names else ""

    # ---- a pass

    def _tray(self, canvas: Canvas, step: Step) -> None:
        heat = self.model.heat
        assert heat is not None
        direction = heat.direction(step.name)
        to = self.model.chair_name(heat.seats[Seat(heat.seat).to(direction)].chair) if direction else ""
        canvas.put(2, 0, f"{step.name.capitalize()}:", bold=True)
        canvas.put(4 + len(step.name), 0, self._words(to))
        if not heat.give or direction is None:
            return
        width = _PLACE * heat.give
        x = (canvas.width - width) // 2
        lifted = self.model.rack.lifted_tiles()
        for place in range(heat.give):
            self._place(canvas, x + place * _PLACE, lifted[place] if place < len(lifted) else None, place)
        self._direction(canvas, x, x + width, direction, to if canvas.width >= _WITH_NAMES else "")
        self._commit(canvas, x + width)

    def _words(self, to: str) -> str:
        heat = self.model.heat
        assert heat is not None
        if self.model.bot_in_my_seat:
            later = "you play from the next heat on." if self.model.plays_next else "t: play yourself."
            return f"a bot plays in your seat; {later}"
        missing = self.model.wanted - len(self.model.rack.lifted)
        match self.model.stage:
            case "sending":
                return "sending ... not passed until the table confirms"
            case "answered":
                return f"passed.{self._waiting()}"
            case "watching":
                return "nothing is asked of you; the others are swapping."
            case _ if missing:
                unseen = f" and {self.model.blind} blind" if self.model.blind else ""
                return f"lift {missing} more{unseen} for {to}."
        return f"ready for {to}. Enter passes."

    def _place(self, canvas: Canvas, x: int, tile: Tile | None, place: int) -> None:
        heat = self.model.heat
        assert heat is not None
        blind = self.model.blind > 0 and place >= heat.give - self.model.blind
        canvas.box(x, 1, _PLACE, 3, "mark" if tile or blind else "line")
        if tile is not None:
            text = canvas.fitted(title(tile).center(_PLACE - 2), _PLACE - 2)
            canvas.put(x + 1, 2, text, role(tile), "lifted", bold=True)
            if self.model.stage == "deciding":
                letter = PLACES[self.model.rack.lifted[place]]
                canvas.zone(x, 1, _PLACE, 3, letter)
        elif blind:
            canvas.put(x + 1, 2, "blind".center(_PLACE - 2), "mark", bold=True)

    def _direction(self, canvas: Canvas, left: int, right: int, direction: Direction, to: str) -> None:
        sign, plain = arrow(direction, canvas.look.ascii), canvas.look.ascii
        dash = "-" if plain else "─"
        match direction.word:
            case "left":
                canvas.put(left - 7, 2, sign + dash * 5, "mark", bold=True)
                canvas.put(max(1, left - 7 - 1 - cell_len(to)), 2, to, bold=True)
            case "right":
                canvas.put(canvas.put(right + 1, 2, dash * 5 + sign, "mark", bold=True) + 1, 2, to, bold=True)
            case _:
                canvas.put(left - 3, 1, sign, "mark", bold=True)
                canvas.put(left - 3, 2, "|" if plain else "│", "mark", bold=True)
                canvas.put(left - 3, 3, "|" if plain else "│", "mark", bold=True)
                canvas.put(max(1, left - 4 - cell_len(to)), 1, to, bold=True)

    def _commit(self, canvas: Canvas, right: int) -> None:
        heat = self.model.heat
        assert heat is not None
        if self.model.stage != "deciding":
            return
        x = canvas.width - 10
        if len(self.model.rack.lifted) == self.model.wanted:
            canvas.button(x, 3, " pass ", "enter", chosen=True)
        if heat.most_blind:
            x = canvas.put(2, 3, "blind " if canvas.width >= _WITH_NAMES else "", "quiet")
            for number in range(heat.most_blind + 1):
                x = canvas.button(x, 3, str(number), str(number), chosen=number == self.model.blind)

    # ---- the plan

    def _plan(self, canvas: Canvas) -> None:
        words = {"sending": "sending ...", "answered": f"sent.{self._waiting()}"}.get(self.model.stage, "")
        canvas.put(canvas.put(2, 0, "What would you play, and discard first?", bold=True) + 1, 0, words)
        deciding, hand = self.model.stage == "deciding", self.model.pane.told_pinned
        canvas.put(2, 1, "hand", "quiet")
        room = max(8, (canvas.width - 3 * _PLACE) // 2 - 3)
        first, *rest = wrapped(hand.name if hand else "none named", room)
        for row, line in enumerate((first, canvas.fitted(" ".join(rest), room)), start=2):
            canvas.put(2, row, line, "text" if hand else "quiet", bold=True, key="v")
        if deciding and not hand:
            canvas.put(2, 3, "r names the marked one" if canvas.width >= _WITH_NAMES else "r names it", "quiet")
        lifted = self.model.rack.lifted_tiles()
        x = (canvas.width - 3 * _PLACE) // 2
        for place in range(3):
            self._place(canvas, x + place * _PLACE, lifted[place] if place < len(lifted) else None, place)
        if deciding:
            canvas.button(canvas.width - 13, 3, " confirm " if hand or lifted else "   skip  ", "enter", chosen=True)

    # ---- a question

    def _question(self, canvas: Canvas, question: str, rule: str) -> None:
        canvas.middle(0, question, bold=True)
        canvas.middle(1, rule, "quiet")
        match self.model.stage:
            case "sending":
                canvas.middle(3, "sending ...", "warn")
            case "answered":
                canvas.middle(3, f"Answered.{self._waiting()}", "good")
            case "deciding":
                self._buttons(canvas)

    def _chosen(self, said: dict[int, str]) -> str:
        """Return what enter would say now, or nothing while nothing is chosen."""
        choice = self.model.choice
        return f"{said[choice]} Enter confirms." if choice in said and self.model.stage == "deciding" else ""

    def _buttons(self, canvas: Canvas) -> None:
        step, choice = self.model.step, self.model.choice
        assert step is not None
        texts = {1: " 1 go on ", 0: " 0 stop "} if step.ask == "vote" else {n: f" {n} " for n in range(4)}
        width = sum(len(text) + 4 for text in texts.values()) + 15
        x = (canvas.width - width) // 2
        if step.name == "side offer":
            for key, at in (("left", 2), ("right", canvas.width - 13)):
                canvas.button(at, 3, f" {key.center(5)} ", key, chosen=self.model.side.word == key)
        for number, text in texts.items():
            x = canvas.button(x, 3, text, str(number), chosen=choice == number) + 2
        if choice is not None:
            canvas.button(x + 1, 3, " confirm ", "enter", chosen=True)

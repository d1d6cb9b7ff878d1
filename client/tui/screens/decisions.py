"""Decisions one after the other, with no table: a rack, a clock, an answer, the coach's verdict, the next rack.

Works from anywhere, also while a table is open, and leads back there. A rack is dealt while the one before
is in sight; the coach answers in its own process, and nothing waits for it.
"""

from textual import work
from textual.app import ComposeResult

from client.coach.drilling import Drilling
from client.models.decisions import Decided, Decisions
from client.tui.screens.base import BaseScreen
from client.tui.screens.cards import CardScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.decisions import draw_goal, draw_over, draw_question, draw_verdict
from client.tui.widgets.head import Title
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from client.tui.widgets.rack import RackRow


class DecisionScreen(BaseScreen):
    """One round of decisions."""

    ABOUT = (
        "One decision at a time: a rack, a clock, your answer, then what the coach says. There is no table and nobody "
        "waits. The clock stands still while you read this."
    )

    def __init__(self, drilling: Drilling) -> None:
        super().__init__()
        self.drilling = drilling
        self.model = Decisions(drilling.title, drilling.count, drilling.goal)
        self.record: tuple[str, ...] = ()
        self._asked = 0
        self._finished = False
        self._shown = ""

    def compose(self) -> ComposeResult:
        """Build the title, what is asked or said, the rack, a line of words and the keys."""
        yield Title(self._title)
        yield Painting(self._draw)
        yield RackRow(self.model)
        yield Note(self._words)
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Ask for the first rack."""
        self._more()

    def _title(self) -> str:
        model = self.model
        counted = f"   {model.number} of {model.count}" if model.number and model.count > 1 else ""
        return f"{model.title}{counted}"

    def _words(self) -> str:
        last = self.model.last
        unkept = last.trouble if last and last.judgement and self.model.phase == "verdict" else ""
        return self.told or unkept or self.model.note

    def keys(self) -> Keys:
        """Return the keys that matter now."""
        model, decision = self.model, self.model.decision
        match model.phase:
            case "goal":
                return (("enter", "begin", "enter"), *BACK)
            case "over":
                return (("enter", "back", "enter"), *BACK[:-1])
            case "verdict":
                following = "next" if len(model.done) < model.count else "end" if model.count > 1 else "back"
                return (("enter", following, "enter"), ("v", "card", "v"), *BACK)
            case "deciding" if decision is not None:
                if decision.choices:
                    return ((f"1-{len(decision.choices)}", "name it", ""), *BACK)
                if model.numbers:
                    return ((f"0-{model.numbers[-1]}", "choose", ""), ("enter", "confirm", "enter"), *BACK)
                blind: Keys = ((f"0-{decision.most_blind}", "blind", ""),) if decision.most_blind else ()
                word = "discard" if decision.ask == "discard" else "pass"
                return (("a-n", "lift", ""), ("enter", word, "enter"), *blind, *BACK)
        return BACK

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("a to n", "lift or drop the tile at that place", ""),
            ("left right space", "move the mark along the rack; lift or drop the marked tile", ""),
            ("s", "sort by suit, by rank", "s"),
            ("u", "drop all that is lifted", "u"),
            ("0 to 9", "what is chosen, or how many go unseen", ""),
            ("enter", "confirm; then the next one", "enter"),
            ("v", "after your answer: the card", "v"),
            ("q", "back to where you were", "q"),
        )

    def press(self, key: str) -> None:
        """Hand the key to the model, and do what it means."""
        self.told = ""
        model = self.model
        match key:
            case "q" | "escape":
                self.app.pop_screen()
            case "v" if model.phase == "verdict":
                self.app.push_screen(CardScreen())
            case "o" if model.phase != "deciding":
                self.shell.show_looks()
            case _:
                before = model.phase
                self._ended(model.press(key, self.shell.now_ms()))
                if model.phase == "over" and (model.count <= 1 or before == "over"):
                    self.app.pop_screen()
                self._more()

    def tick(self) -> None:
        """End a decision whose time is up, and draw the clock where it shows something new."""
        now_ms = self.shell.now_ms()
        if self._ended(self.model.tick(now_ms)):
            self.redraw()
            return
        face = self.model.face(now_ms)
        shown = str(-(-face.left_ms // (100 if face.last_ten and not self.shell.look.calm else 1000)))
        if shown != self._shown:
            self._shown = shown
            for drawn in self.query(Painting):
                drawn.redraw()

    def redraw(self) -> None:
        """Draw everything again, the rack in large tiles only while it is asked about."""
        self.set_class(self.model.phase == "deciding", "-deciding")
        super().redraw()

    def on_screen_suspend(self) -> None:
        """Stop the clock while something else is in sight."""
        self.model.hold(self.shell.now_ms())

    def on_screen_resume(self) -> None:
        """Let the clock run again."""
        self.model.go_on(self.shell.now_ms())

    def _draw(self, canvas: Canvas) -> None:
        model = self.model
        match model.phase:
            case "goal":
                draw_goal(canvas, model)
            case "verdict" if model.last is not None:
                draw_verdict(canvas, model.last)
            case "over":
                draw_over(canvas, model, self.record)
            case _:
                draw_question(canvas, model, self.shell.now_ms())

    # ---- racks and verdicts

    def _more(self) -> None:
        """Ask for the rack after the one in sight, so that it is there when it is wanted."""
        model = self.model
        if self._asked < model.count and self._asked <= len(model.done) + (model.phase == "deciding"):
            self._asked += 1
            self._deal(self._asked - 1)

    @work(group="deal")
    async def _deal(self, number: int) -> None:
        try:
            decision = await self.drilling.supply(number)
        except ValueError as error:
            self.model.ends(str(error))
            self._finish()
        else:
            self.model.deal(decision, self.shell.now_ms())
        self._more()
        self.redraw()

    def _ended(self, done: Decided | None) -> bool:
        if done is None:
            return False
        self._judge(done)
        return True

    @work(group="judge")
    async def _judge(self, done: Decided) -> None:
        await self.drilling.judge(done)
        self.redraw()
        self._finish()

    def _finish(self) -> None:
        """Once the last answer is judged, keep the round."""
        model = self.model
        judged = all(done.judgement or done.trouble for done in model.done)
        if judged and len(model.done) == model.count and not self._finished:
            self._finished = True
            self.shell.keep(self._keep())

    async def _keep(self) -> None:
        self.record = await self.drilling.finish(self.model.done)
        self.redraw()

"""Questions about a typed rack in plain lines, for a screen reader or a pipe: the same questions as on the screen."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from client.console import ask, complain, say
from client.models.ask import QUESTIONS, USE_WORDS, Asked, AskModel
from client.models.real_racks import last_rack
from shared.cards.freedom import listed
from shared.cards.said import listed_tiles
from shared.rules.decisions import Question
from shared.rules.steps import step_named
from shared.rules.tiles import COPIES, JOKER

if TYPE_CHECKING:
    from shared.cards import Card
    from shared.coach.asking import Answer
    from shared.coach.filling import Bar

WORDS: dict[str, Question] = {
    "pass": "pass",
    "blind": "blind",
    "go on": "vote",
    "stop": "vote",
    "offer": "offer",
    "hand": "hand",
    "discard": "discard",
    "fill": "fill",
}
HELP = (
    "Write your rack: 1123b 567c 9d NE FF J. 13 tiles, or 14 for the dealer.",
    f"Then ask: {', '.join(WORDS)}.",
    "first left: ask at this pass. passed 9d NE: what you passed before. passed alone: nothing.",
    "hands: the nearest hands. clock: the rack typed last at the clock. rack: what is known. quit: leave.",
)


class PlainAsk:
    """One rack and the questions about it. hear returns a question for the coach, or what is to be said.

    saved is the rack that was typed last at the clock for real tiles, empty if there is none.
    """

    def __init__(self, year: int, saved: str = "", jokers: int = COPIES[JOKER]) -> None:
        self.model, self.saved = AskModel(year, jokers=jokers), saved

    def hear(self, line: str) -> "Asked | list[str]":
        """Take a line."""
        words = " ".join(line.lower().split())
        word, _, rest = line.strip().partition(" ")
        step = step_named(words)
        if words in ("help", "?"):
            return list(HELP)
        if words == "rack":
            return self._known()
        if words == "hands":
            return self._hands()
        if words == "clock":
            return self._typed(self.saved) if self.saved else ["No rack was typed at the clock yet."]
        if word.lower() == "passed":
            return self._passed(rest)
        if words in WORDS:
            return self._question(WORDS[words])
        if step is not None:
            if self.model.question not in ("pass", "blind"):
                self.model.press("pass")
            if step not in self.model.steps:
                return [f"{QUESTIONS[self.model.question]} is asked at: {', '.join(self.model.steps)}."]
            self.model.step = step
            return self._asked()
        return self._typed(line)

    def _typed(self, line: str) -> "Asked | list[str]":
        before, self.model.text = self.model.text, ""
        self.model.type(line)
        if fault := self.model.fault:
            self.model.text = before
            return [fault]
        return self._asked()

    def _passed(self, line: str) -> "Asked | list[str]":
        before, self.model.before = self.model.before, line.strip()
        if fault := self.model.fault:
            self.model.before = before
            return [fault]
        return self._asked()

    def _question(self, question: Question) -> "Asked | list[str]":
        if question not in self.model.questions:
            return ["Only a rack of 14 tiles has one to discard."]
        self.model.press(question)
        return self._asked()

    def _asked(self) -> "Asked | list[str]":
        count = len(self.model.rack.tiles)
        return self.model.asked() or [f"A rack has 13 tiles, or 14 for the dealer; these are {count}. Write all of it."]

    def _known(self) -> list[str]:
        model = self.model
        rack, passed = model.rack.tiles, model.passed.tiles
        lines = [f"Rack: {listed_tiles(rack)}." if rack else "No rack yet."]
        lines += [f"Passed before: {listed_tiles(passed)}."] if passed else []
        at = f" At {model.step}." if model.question in ("pass", "blind") else ""
        return [*lines, f"Asked: {QUESTIONS[model.question]}{at}"]

    def _hands(self) -> list[str]:
        if self.model.answer is None:
            return ["Write your rack first."]
        return [f"{line.name}: {line.drawn.text()}." for line in self.model.answer.reading.hands[:5]]


def answer_said(answer: "Answer", numbers: bool) -> list[str]:
    """Return an answer as it is read out: the answer, why, and what the tiles are for."""
    uses = [
        f"{name.capitalize()}: {listed_tiles(tiles)}."
        for use, name in USE_WORDS.items()
        if (tiles := tuple(tile for tile, its in answer.uses if its == use))
    ]
    return [answer.headline, *(answer.numbers if numbers else answer.said), *bars_said(answer.bars), *uses]


def bars_said(bars: "Sequence[Bar]") -> list[str]:
    """Return how often a rack that is played on becomes which hand, in one sentence."""
    said = [f"{bar.name}{', if it had to be' if bar.is_held else ''}: {bar.share:.0f} in 100" for bar in bars]
    return [f"{listed(said)}."] if said else []


def talk(plain: PlainAsk, answered: "Callable[[Asked], Answer]", numbers: bool) -> int:
    """Ask and answer on standard input and output until it ends."""
    say("Write your rack, as in 1123b 567c 9d NE FF J. help tells more.")
    if plain.saved:
        say(f"clock: the rack typed last at the clock, {plain.saved}.")
    while True:
        try:
            line = ask("").strip()
        except EOFError:
            return 0
        if line.lower() in ("quit", "q"):
            return 0
        heard = plain.hear(line) if line else []
        if isinstance(heard, list):
            say(*heard)
            continue
        try:
            plain.model.answer = answered(heard)
        except ValueError as error:
            say(error)
        else:
            say(*answer_said(plain.model.answer, numbers))


def ask_plainly(card: "Card", jokers: int) -> int:
    """Talk about racks by a card, of a set with so many jokers; return the exit code."""
    from client.storage.journal import disk_journal
    from client.storage.preferences import load_look
    from shared.coach.asking import answer
    from shared.coach.coach import Coach
    from shared.coach.engine import Engine
    from shared.coach.reading import position_read

    coach = Coach(card, Engine.of_card(card))

    def answered(asked: Asked) -> "Answer":
        position = position_read(asked.rack, asked.step, asked.passed, jokers=asked.jokers)
        if isinstance(position, str):
            raise ValueError(position)
        return answer(coach, asked.question, position, asked.step)

    try:
        return talk(PlainAsk(card.year, last_rack(disk_journal().racks()), jokers), answered, load_look().numbers)
    except OSError as error:
        complain(error)
        return 1

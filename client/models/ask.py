"""A rack that somebody types, and what they ask about it: which questions it allows, and which key does what.

Pure: no screen and no coach. Every character is text; keys that do something are arrows, tab, enter and function keys.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from shared.rules.decisions import Question
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import COPIES, JOKER, Rack
from shared.rules.typed_tiles import TypedTiles, read_tiles

if TYPE_CHECKING:
    from shared.coach.asking import Answer

QUESTIONS: dict[Question, str] = {
    "pass": "What shall I pass?",
    "blind": "Pass any unseen?",
    "vote": "Go on or stop?",
    "offer": "How many to offer?",
    "hand": "Which hand?",
    "discard": "What goes first?",
    "fill": "Does it fill?",
}
USE_WORDS = {"best": "keep", "other": "maybe", "idle": "let go"}
"""What the coach's uses of a tile are called here."""
DEALER, OTHERS = 14, 13
Does = Literal["", "back", "more", "play"]


@dataclass(frozen=True, slots=True)
class Asked:
    """A whole question: the rack, the step it is asked at (None once the passing is over), what was passed before, and
    how many jokers the set has."""

    question: Question
    rack: Rack
    step: StepName | None
    passed: Rack
    jokers: int = COPIES[JOKER]


@dataclass(slots=True)
class AskModel:
    """What is typed and chosen.

    Attributes:
        year: the year of the card, whose digits may be typed.
        text: the rack as typed.
        before: what was passed before, as typed.
        is_before: whether the line of what was passed is being typed.
        question: what is asked.
        step: the pass it is asked at.
        answer: what the coach said, None before it has.
        answered: to which question.
        jokers: how many the set has.
    """

    year: int
    text: str = ""
    before: str = ""
    is_before: bool = False
    question: Question = "pass"
    step: StepName = PASSES[0]
    answer: "Answer | None" = None
    answered: Asked | None = None
    jokers: int = COPIES[JOKER]

    @property
    def rack(self) -> TypedTiles:
        """The rack as far as it can be read."""
        return read_tiles(self.text, self.year)

    @property
    def passed(self) -> TypedTiles:
        """What was passed before, as far as it can be read."""
        return read_tiles(self.before, self.year)

    @property
    def questions(self) -> tuple[Question, ...]:
        """The questions that this number of tiles allows: only the dealer has one tile to discard first."""
        count = len(self.rack.tiles)
        return tuple(question for question in QUESTIONS if question != "discard" or count == DEALER)

    @property
    def steps(self) -> tuple[StepName, ...]:
        """The passes that the question can be asked at."""
        return tuple(step for step in PASSES if self.question == "pass" or STEPS[step].blind_at)

    @property
    def counted(self) -> str:
        """How many tiles are typed: 14 make a dealer's rack, 13 anybody else's."""
        count = len(self.rack.tiles)
        if count == OTHERS:
            return "13 tiles; the dealer has 14"
        return self.rack.count_of(DEALER)

    @property
    def fault(self) -> str:
        """What cannot be read, or is too much, in one sentence."""
        for typed in (self.rack, self.passed):
            if typed.faults:
                return str(typed.faults[0])
        count = len(self.rack.tiles)
        return f"A rack has 13 or 14 tiles; these are {count}. Take some away." if count > DEALER else ""

    def asked(self) -> Asked | None:
        """Return the question as it stands; None while the rack is not whole."""
        if self.fault or len(self.rack.tiles) not in (OTHERS, DEALER):
            return None
        steps: dict[Question, StepName | None] = {"vote": "go on", "offer": "courtesy offer"}
        step = self.step if self.question in ("pass", "blind") else steps.get(self.question)
        return Asked(self.question, self.rack.tiles, step, self.passed.tiles, self.jokers)

    def type(self, text: str) -> None:
        """Add text to the line at hand; a line break is a space."""
        clean = " ".join(text.split("\n")) if "\n" in text else text
        if clean.isprintable():
            if self.is_before:
                self.before += clean
            else:
                self.text += clean
            self._settle()

    def press(self, key: str) -> Does:
        """Take a key that is no text, or a single character."""
        match key:
            case "escape":
                return "back"
            case "f2":
                return "more"
            case "f3" if self.question == "fill":
                return "play"
            case "tab":
                self.is_before = not self.is_before
            case "up" | "down":
                among = self.questions
                self.question = among[(among.index(self.question) + (1 if key == "down" else -1)) % len(among)]
                self._settle()
            case "left" | "right":
                among_steps = self.steps
                by = 1 if key == "right" else -1
                self.step = among_steps[(among_steps.index(self.step) + by) % len(among_steps)]
            case "backspace":
                self._erase()
            case "space":
                self.type(" ")
            case _ if key in QUESTIONS:
                self.question = key  # a click on it
                self._settle()
            case _ if len(key) == 1:
                self.type(key)
        return ""

    def _erase(self) -> None:
        if self.is_before:
            self.before = self.before[:-1]
        else:
            self.text = self.text[:-1]
        self._settle()

    def _settle(self) -> None:
        """Ask nothing that the rack or the question does not allow."""
        if self.question not in self.questions:
            self.question = "pass"
        if self.step not in self.steps:
            self.step = self.steps[0]

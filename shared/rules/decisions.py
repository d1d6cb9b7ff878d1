"""One decision out of a heat: a rack, a step, what its player knew then, and the time for it.

Must never hold anything that the player could not know: no other rack, no wall, nothing that came later. Pure; the
coach judges answers in shared.coach.decisions.
"""

from dataclasses import dataclass
from typing import Literal

from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Rack

Ask = Literal["pass", "give", "vote", "offer", "discard", "family", "hand"]
"""What is asked: tiles of a pass, tiles of the courtesy, going on, how many to offer, the first discard, the section
of the card that the likeliest hand belongs to, or the hand itself."""
Drill = Literal["costliest", "first", "tempting", "go on", "courtesy", "discard", "hand", "family", "rack"]
"""What can be practised one decision at a time."""
Question = Literal["pass", "blind", "vote", "offer", "hand", "discard", "fill"]
"""What can be asked about a rack that somebody types."""
Rating = Literal["best", "close", "costly", "out of time"]


@dataclass(frozen=True, slots=True)
class Aim:
    """What a drill is called, what happens in it in a few words, and its goal as one line before it begins."""

    title: str
    about: str
    goal: str


DRILLS: dict[Drill, Aim] = {
    "costliest": Aim(
        "Your costliest decisions",
        "again, when it is time for them",
        "Find the better pass this time; what you find easily comes back later.",
    ),
    "first": Aim(
        "First passes",
        "thirteen or fourteen fresh tiles",
        "See what the rack can become; let go of three tiles that serve none of it.",
    ),
    "tempting": Aim(
        "Tempting deals",
        "what came in leads astray",
        "Stay with the better hand; that something came in is no reason to change.",
    ),
    "go on": Aim(
        "Go on or stop",
        "after the first left",
        "Stop if you are ahead, go on if you are behind: going on helps everybody.",
    ),
    "courtesy": Aim(
        "The courtesy",
        "how many to offer, which to give",
        "Offer what serves nothing, and no tile more.",
    ),
    "discard": Aim(
        "First discards",
        "fourteen tiles, the passing over",
        "Let go of the tile that you miss least.",
    ),
    "hand": Aim(
        "Which hand now",
        "the passing over, name the hand",
        "Choose the hand that you would play for: the one that is likeliest to fill.",
    ),
    "family": Aim(
        "Name the section",
        "five seconds for each rack",
        "See at a glance to which section of the card the likeliest hand belongs.",
    ),
    "rack": Aim(
        "A rack of your own",
        "type its tiles",
        "The section, the first pass, and with fourteen tiles the first discard.",
    ),
}
ROUND = 10
"""Decisions in a round."""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer: own tiles in any order, how many go unseen, or a number.

    number is 1 to go on and 0 to stop, how many are offered, or the place of a section or hand among the choices.
    """

    tiles: Rack = ()
    blind: int = 0
    number: int | None = None


@dataclass(frozen=True, slots=True)
class HeatKey:
    """Which decision of which kept heat it was: what the history knows a heat by, and the step."""

    commitment: str
    seat: int
    played_at: str
    step: StepName


@dataclass(frozen=True, slots=True)
class Decision:
    """One decision as its player meets it.

    Attributes:
        ask: what is asked.
        step: the step of the Charleston; None after it, for the first discard.
        rack: the tiles held.
        settings: the rules of the table.
        card: the text of the card to play by.
        length_ms: the time for it.
        seat: 0 for East, then to the right.
        passed: own tiles passed before, as far as they are known.
        came: what came in last.
        made: passes made before.
        give: how many tiles go in the courtesy.
        face_down: how many tiles came in that nobody may look at yet.
        seed: fixes the coach's futures.
        choices: the sections or the hands of the card to choose from.
        what: a few words on where it comes from.
        then: what was answered when it was played, if it was.
        lost: how many points less than the best that was, if it is known.
        key: where it is kept, if it is.
    """

    ask: Ask
    step: StepName | None
    rack: Rack
    settings: Settings
    card: str
    length_ms: int
    seat: int = 0
    passed: Rack = ()
    came: Rack = ()
    made: int = 0
    give: int = 3
    face_down: int = 0
    seed: int = 1
    choices: tuple[str, ...] = ()
    what: str = ""
    then: Answer | None = None
    lost: float | None = None
    key: HeatKey | None = None

    @property
    def wants(self) -> tuple[int, ...]:
        """How many own tiles may be given: none if no tiles are asked for."""
        match self.ask:
            case "pass" if self.step is not None:
                return self.settings.gives(self.step)
            case "give":
                return (self.give,)
            case "discard":
                return (1,)
        return ()

    @property
    def most_blind(self) -> int:
        """How many of the three may go unseen."""
        return self.settings.most_blind(self.step) if self.ask == "pass" and self.step else 0

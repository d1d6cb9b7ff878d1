"""What a person can want: the closed set of things that a client may ask of the table.

Every intent about tiles names the step it is meant for, so that one that arrives too late is never taken for
the step after it. Which seat or chair speaks is known from the connection and never written here.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Tile

Lifted = Annotated[tuple[Tile, ...], Field(max_length=14)]


class Lift(Record):
    """Lift these tiles, and mark so many as blind: a draft that commits nothing but serves a timeout."""

    kind: Literal["lift"] = "lift"
    step: StepName
    tiles: Lifted
    blind: int = Field(default=0, ge=0, le=3)


class Arrange(Record):
    """Put the rack into this order."""

    kind: Literal["arrange"] = "arrange"
    tiles: Lifted


class Pass(Record):
    """Commit these tiles, and so many blind ones of those that come in."""

    kind: Literal["pass"] = "pass"
    step: StepName
    tiles: Lifted
    blind: int = Field(default=0, ge=0, le=3)


class TakeBack(Record):
    """Take the committed answer back, where the settings let answers change until the step closes; at a clock for
    real tiles, be done no more while others still think."""

    kind: Literal["take back"] = "take back"
    step: StepName


class Vote(Record):
    """Go on with the second Charleston, or stop."""

    kind: Literal["vote"] = "vote"
    go_on: bool


class Offer(Record):
    """Say how many tiles to exchange in the courtesy pass."""

    kind: Literal["offer"] = "offer"
    count: int = Field(ge=0, le=3)


class Plan(Record):
    """Name the hand one would play (its id on the card, or empty) and up to three first discards."""

    kind: Literal["plan"] = "plan"
    hand: str = Field(max_length=60)
    discards: Annotated[tuple[Tile, ...], Field(max_length=3)]


SeatIntent = Lift | Arrange | Pass | TakeBack | Vote | Offer | Plan
"""What a seat of a running heat can ask of the rules."""


class Ready(Record):
    """Ready for the next heat, with this chair's own random contribution (16 bytes) to its wall."""

    kind: Literal["ready"] = "ready"
    contribution: bytes = Field(min_length=16, max_length=16)


class NotReady(Record):
    """Not ready after all."""

    kind: Literal["not ready"] = "not ready"


class Start(Record):
    """Host: start the heat now; bots fill the empty chairs and nobody is waited for."""

    kind: Literal["start"] = "start"


class Pause(Record):
    """Host: stop all clocks and cover the racks."""

    kind: Literal["pause"] = "pause"


class Resume(Record):
    """Host: let the clocks run on."""

    kind: Literal["resume"] = "resume"


GIVE_MORE_MS = 10_000
"""What one press of a key gives."""


class Extend(Record):
    """Host: give every seat that still decides so many more milliseconds."""

    kind: Literal["extend"] = "extend"
    by_ms: int = Field(ge=1_000, le=600_000)


class ChangeSettings(Record):
    """Host: play by these settings from the next heat on."""

    kind: Literal["change settings"] = "change settings"
    settings: Settings


class SeatBot(Record):
    """Host: let a bot play a chair's seat from now on; a person there loses the chair only if asked to leave."""

    kind: Literal["seat bot"] = "seat bot"
    chair: int = Field(ge=0, le=3)


class FreeChair(Record):
    """Host: send whoever holds the chair away; a bot plays on while a heat is running."""

    kind: Literal["free chair"] = "free chair"
    chair: int = Field(ge=0, le=3)


class TakeSeat(Record):
    """Take one's own seat back from the bot that stood in."""

    kind: Literal["take seat"] = "take seat"


class Leave(Record):
    """Give the chair up for good; a bot plays on while a heat is running."""

    kind: Literal["leave"] = "leave"


class ShowRack(Record):
    """In a club: let the teacher see this seat's rack, or no more."""

    kind: Literal["show rack"] = "show rack"
    on: bool


class NewSet(Record):
    """Host: after the last heat, begin a new set with the same people."""

    kind: Literal["new set"] = "new set"


class StepDone(Record):
    """At a clock for real tiles: done with this step. says_no: stop, or nobody gives, where that is the question."""

    kind: Literal["step done"] = "step done"
    step: StepName
    says_no: bool = False


class SitAt(Record):
    """At a clock for real tiles: one's own place at the real table, 1 to 4 in order of play."""

    kind: Literal["sit at"] = "sit at"
    place: int = Field(ge=1, le=4)


class GoWithout(Record):
    """Host, at a clock for real tiles: wait no longer for those whose line is down; they keep their seats."""

    kind: Literal["go without"] = "go without"


TableIntent = (
    Ready
    | NotReady
    | Start
    | Pause
    | Resume
    | Extend
    | ChangeSettings
    | SeatBot
    | FreeChair
    | TakeSeat
    | Leave
    | ShowRack
    | NewSet
)
"""What a chair can ask of the table around the heats."""
ClockIntent = StepDone | SitAt | GoWithout
"""What a chair can ask only of a clock for real tiles."""
Intent = Annotated[SeatIntent | TableIntent | ClockIntent, Field(discriminator="kind")]

"""Intents: the closed set of things that a client may ask of the table.

Every intent about tiles names its step, so that a late one never counts for the next step. An intent never names the
seat or chair that sends it: the connection tells that.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.seats import Way
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Tile
from shared.rules.wall import CONTRIBUTION_BYTES
from shared.rules.wall_round import HASH_BYTES, MOST_ATTEMPTS

Lifted = Annotated[tuple[Tile, ...], Field(max_length=14)]


class Lift(Record):
    """Lift these tiles and mark a number as blind: a draft. It commits nothing, but a timeout passes it."""

    kind: Literal["lift"] = "lift"
    step: StepName
    tiles: Lifted
    blind: int = Field(default=0, ge=0, le=3)


class Arrange(Record):
    """Arrange the rack in this order."""

    kind: Literal["arrange"] = "arrange"
    tiles: Lifted


class Pass(Record):
    """Commit these tiles, and forward a number of the incoming ones unseen."""

    kind: Literal["pass"] = "pass"
    step: StepName
    tiles: Lifted
    blind: int = Field(default=0, ge=0, le=3)


class TakeBack(Record):
    """Take the committed answer back, if the settings let answers change until the step closes; at a clock for real
    tiles, take back "done" while others still think."""

    kind: Literal["take back"] = "take back"
    step: StepName


class Vote(Record):
    """Go on with the second Charleston, or stop."""

    kind: Literal["vote"] = "vote"
    go_on: bool


class Offer(Record):
    """Say how many tiles to exchange in the courtesy pass, or with a neighbour: to is then right or left, and they
    swap if each names the other."""

    kind: Literal["offer"] = "offer"
    count: int = Field(ge=0, le=3)
    to: Way = "across"


class Plan(Record):
    """Name the hand to play (its id on the card, or empty) and up to three first discards.

    Where the card is not shared a hand is the card's content: the client sends none, and the table drops what comes.
    """

    kind: Literal["plan"] = "plan"
    hand: str = Field(max_length=60)
    discards: Annotated[tuple[Tile, ...], Field(max_length=3)]


SeatIntent = Lift | Arrange | Pass | TakeBack | Vote | Offer | Plan
"""Intents of a seat in a running heat; the rules answer them."""


class Ready(Record):
    """Ready for the next heat."""

    kind: Literal["ready"] = "ready"


class NotReady(Record):
    """Take "ready" back."""

    kind: Literal["not ready"] = "not ready"


class Start(Record):
    """Host: start the heat now without waiting for anybody; bots fill the empty chairs."""

    kind: Literal["start"] = "start"


class WallHash(Record):
    """Promise this chair's value for the wall of a heat by its hash (shared.rules.wall_round)."""

    kind: Literal["wall hash"] = "wall hash"
    heat: int = Field(ge=1, le=1_000_000)
    attempt: int = Field(ge=1, le=MOST_ATTEMPTS)
    hash: bytes = Field(min_length=HASH_BYTES, max_length=HASH_BYTES)


class WallValue(Record):
    """Open this chair's value for the wall, once all hashes have been seen."""

    kind: Literal["wall value"] = "wall value"
    heat: int = Field(ge=1, le=1_000_000)
    attempt: int = Field(ge=1, le=MOST_ATTEMPTS)
    value: bytes = Field(min_length=CONTRIBUTION_BYTES, max_length=CONTRIBUTION_BYTES)


class Pause(Record):
    """Host: stop all clocks and cover the racks."""

    kind: Literal["pause"] = "pause"


class Resume(Record):
    """Host: end the pause."""

    kind: Literal["resume"] = "resume"


GIVE_MORE_MS = 10_000
"""What one press of a key gives."""


class Extend(Record):
    """Host: give every undecided seat by_ms more milliseconds."""

    kind: Literal["extend"] = "extend"
    by_ms: int = Field(ge=1_000, le=600_000)


class ChangeSettings(Record):
    """Host, between heats: play by these settings from the next heat on."""

    kind: Literal["change settings"] = "change settings"
    settings: Settings


class SeatBot(Record):
    """Host: let a bot play a chair's seat from now on; a person who sits there keeps the chair."""

    kind: Literal["seat bot"] = "seat bot"
    chair: int = Field(ge=0, le=3)


class FreeChair(Record):
    """Host: send the person on this chair away for the evening; during a heat a bot plays on."""

    kind: Literal["free chair"] = "free chair"
    chair: int = Field(ge=0, le=3)


class MoveTo(Record):
    """Between heats: sit on another chair. One gets an empty chair or a bot's at once. For a person's chair this is a
    wish, and the two swap when that person wishes it too. Naming one's own chair takes a wish back."""

    kind: Literal["move to"] = "move to"
    chair: int = Field(ge=0, le=3)


MOST_BESIDE = 12
"""How many people may be beside a table."""
PlaceNumber = Annotated[int, Field(ge=4, lt=4 + MOST_BESIDE)]


class LetSee(Record):
    """Host: let the person at this place beside the table see the racks of those who agree, or stop it; either way
    everybody must agree again."""

    kind: Literal["let see"] = "let see"
    place: PlaceNumber
    on: bool


class SendOff(Record):
    """Host: send the person at this place beside the table away for the evening."""

    kind: Literal["send off"] = "send off"
    place: PlaceNumber


class NewCode(Record):
    """Host: change the code for newcomers."""

    kind: Literal["new code"] = "new code"


class LetIn(Record):
    """Host: give this chair, whose line is down, to the machine that asked for it by name and code, once."""

    kind: Literal["let in"] = "let in"
    chair: int = Field(ge=0, le=3)


class TakeSeat(Record):
    """Take one's own seat back from the bot."""

    kind: Literal["take seat"] = "take seat"


class Hurry(Record):
    """Let the bots of the running step answer at once."""

    kind: Literal["hurry"] = "hurry"


class Leave(Record):
    """Give the chair up for good; during a heat a bot plays on."""

    kind: Literal["leave"] = "leave"


class ShowRack(Record):
    """Let those see this seat's rack whom the host lets see racks, or stop it: a club's teacher, or people beside the
    table."""

    kind: Literal["show rack"] = "show rack"
    on: bool


class NewSet(Record):
    """Host: after the last heat, begin a new set with the same people."""

    kind: Literal["new set"] = "new set"


class StepDone(Record):
    """At a clock for real tiles: done with this step. says_no answers a question with stop, or nobody gives."""

    kind: Literal["step done"] = "step done"
    step: StepName
    says_no: bool = False


class SitAt(Record):
    """At a clock for real tiles: one's own place at the real table, 1 to 4 in order of play."""

    kind: Literal["sit at"] = "sit at"
    place: int = Field(ge=1, le=4)


class GoWithout(Record):
    """Host, at a clock for real tiles: stop waiting for disconnected people; they keep their seats."""

    kind: Literal["go without"] = "go without"


TableIntent = (
    Ready
    | NotReady
    | WallHash
    | WallValue
    | Start
    | Pause
    | Resume
    | Extend
    | ChangeSettings
    | SeatBot
    | FreeChair
    | MoveTo
    | NewCode
    | LetIn
    | LetSee
    | SendOff
    | TakeSeat
    | Hurry
    | Leave
    | ShowRack
    | NewSet
)
"""Intents about the table, not about the tiles of a heat."""
ClockIntent = StepDone | SitAt | GoWithout
"""Intents only for a clock for real tiles."""
Intent = Annotated[SeatIntent | TableIntent | ClockIntent, Field(discriminator="kind")]

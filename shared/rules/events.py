"""What happened in a heat: the closed set of events from which its state can be rebuilt.

Events hold every random outcome (the dealt racks, which tiles a blind pass forwarded), never a seed. They hold every
hidden tile, so they must never leave the server before the reveal. Times are whole milliseconds of the heat's own
clock, which starts at 0 with the deal.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.seats import PerSeat, Seat, Way
from shared.rules.steps import StepName
from shared.rules.tiles import Tile

Tiles = tuple[Tile, ...]
FourRacks = tuple[Tiles, Tiles, Tiles, Tiles]
OfRack = Annotated[Tiles, Field(max_length=14)]
SeatNumber = Annotated[int, Field(ge=0, le=3)]
Millis = Annotated[int, Field(ge=0)]
By = Literal["person", "bot", "timeout"]
"""Who answered a step: the person, a bot in the seat, or the clock."""


class Dealt(Record):
    """The tiles were dealt: the racks from East on, and the rest of the wall."""

    kind: Literal["dealt"] = "dealt"
    racks: FourRacks
    wall: Tiles


class Voided(Record):
    """East was dealt a complete hand: this deal is not played, another follows."""

    kind: Literal["voided"] = "voided"


class EastWon(Record):
    """East was dealt a complete hand, which wins the heat at this table: nothing is passed."""

    kind: Literal["east won"] = "east won"


class StepBegan(Record):
    """A step began: the clock of every seat that owes an answer starts."""

    kind: Literal["step began"] = "step began"
    step: StepName
    at_ms: Millis


class TilesLifted(Record):
    """A seat's draft: what it has lifted, not committed."""

    kind: Literal["tiles lifted"] = "tiles lifted"
    seat: SeatNumber
    tiles: OfRack
    blind: Annotated[int, Field(ge=0, le=3)]


class RackArranged(Record):
    """A seat put its rack into this order."""

    kind: Literal["rack arranged"] = "rack arranged"
    seat: SeatNumber
    tiles: OfRack


class Answered(Record):
    """What all answers share: the seat, when it answered, the time charged, and who answered."""

    seat: SeatNumber
    at_ms: Millis
    spent_ms: Millis
    by: By


class Passed(Answered):
    """A seat committed some of its own tiles and a number of blind ones."""

    kind: Literal["passed"] = "passed"
    tiles: OfRack
    blind: Annotated[int, Field(ge=0, le=3)]


class Voted(Answered):
    """A seat said go on or stop."""

    kind: Literal["voted"] = "voted"
    go_on: bool


class Offered(Answered):
    """A seat said how many tiles it would exchange, and with whom."""

    kind: Literal["offered"] = "offered"
    count: Annotated[int, Field(ge=0, le=3)]
    to: Way = "across"


class Planned(Answered):
    """A seat named its hand and first discards."""

    kind: Literal["planned"] = "planned"
    hand: str = Field(max_length=60)
    discards: Annotated[Tiles, Field(max_length=3)]


class TakenBack(Record):
    """A seat took its committed answer back; its clock runs on."""

    kind: Literal["taken back"] = "taken back"
    seat: SeatNumber
    at_ms: Millis


class Moved(Record):
    """The tiles moved. sent: each seat's packet, its own tiles first, then those it forwarded unseen;
    came: the tiles each seat received and kept."""

    kind: Literal["moved"] = "moved"
    step: StepName
    sent: FourRacks
    came: FourRacks
    at_ms: Millis


class Decided(Record):
    """All seats answered the go-on question."""

    kind: Literal["decided"] = "decided"
    go_on: bool
    at_ms: Millis


class Agreed(Record):
    """All seats said their courtesy numbers: how many tiles each gives."""

    kind: Literal["agreed"] = "agreed"
    counts: tuple[int, int, int, int]
    at_ms: Millis


class ClocksStopped(Record):
    """The host paused the heat, or the server restarted."""

    kind: Literal["clocks stopped"] = "clocks stopped"
    at_ms: Millis


class ClocksRan(Record):
    """The pause ended."""

    kind: Literal["clocks ran"] = "clocks ran"
    at_ms: Millis


class DeadlinesMoved(Record):
    """Every running deadline moved later: the machine stalled, or the host gave more time."""

    kind: Literal["deadlines moved"] = "deadlines moved"
    by_ms: Millis
    why: Literal["stall", "host"]


class HeatEnded(Record):
    """The last step closed."""

    kind: Literal["heat ended"] = "heat ended"
    at_ms: Millis


AnyEvent = (
    Dealt
    | Voided
    | EastWon
    | StepBegan
    | TilesLifted
    | RackArranged
    | Passed
    | Voted
    | Offered
    | Planned
    | TakenBack
    | Moved
    | Decided
    | Agreed
    | ClocksStopped
    | ClocksRan
    | DeadlinesMoved
    | HeatEnded
)
Event = Annotated[AnyEvent, Field(discriminator="kind")]


def four(values: PerSeat[Tiles]) -> FourRacks:
    """Return four racks as the plain tuple that events store."""
    return (values[Seat.EAST], values[Seat.SOUTH], values[Seat.WEST], values[Seat.NORTH])

"""What the desk of a club can ask: the closed set of intents of whoever runs an evening of several tables.

A table is named by its number on the desk, a person by the key under which the desk sees them; a name is never a
key. The number 0 means every table that is open.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.intents import GIVE_MORE_MS
from shared.rules.settings import Settings

TableNumber = Annotated[int, Field(ge=1, le=999)]
OneOrAll = Annotated[int, Field(ge=0, le=999)]
PersonKey = Annotated[str, Field(min_length=1, max_length=64)]
MOST_TABLES = 60
"""So many tables an evening may have open at once."""
COUNTDOWN_MS = 10_000
"""The usual time between the word and the start, in which everybody sits down."""


class DeskOrder(Record):
    """Anything that a desk can ask."""


class OpenTable(DeskOrder):
    """Open one more table; without a name it is called by its number."""

    kind: Literal["open table"] = "open table"
    name: str = Field("", max_length=200)


class RenameTable(DeskOrder):
    """Call a table otherwise."""

    kind: Literal["rename table"] = "rename table"
    table: TableNumber
    name: str = Field(max_length=200)


class CloseTable(DeskOrder):
    """Close a table for good: its people wait for a chair, a heat that runs there has no result."""

    kind: Literal["close table"] = "close table"
    table: TableNumber


class SeatPerson(DeskOrder):
    """Seat a person on a chair. Whoever sits there takes the place the person comes from; a bot makes room."""

    kind: Literal["seat person"] = "seat person"
    person: PersonKey
    table: TableNumber
    chair: int = Field(ge=0, le=3)


class Unseat(DeskOrder):
    """Let a person wait for a chair."""

    kind: Literal["unseat"] = "unseat"
    person: PersonKey


class SendHome(DeskOrder):
    """Send a person away for good; their results stay."""

    kind: Literal["send home"] = "send home"
    person: PersonKey


class SeatAtRandom(DeskOrder):
    """Draw lots for all chairs, tables filled evenly; only while no heat is running."""

    kind: Literal["seat at random"] = "seat at random"


class SeatBots(DeskOrder):
    """Put bots on the empty chairs."""

    kind: Literal["seat bots"] = "seat bots"
    table: OneOrAll = 0


class StartAll(DeskOrder):
    """Start the next heat after a countdown at every table that has people and none running; wait for nobody."""

    kind: Literal["start all"] = "start all"
    in_ms: int = Field(COUNTDOWN_MS, ge=0, le=600_000)


class CallOff(DeskOrder):
    """Stop the countdown."""

    kind: Literal["call off"] = "call off"


class HoldClocks(DeskOrder):
    """Stop the clocks and cover the racks."""

    kind: Literal["hold clocks"] = "hold clocks"
    table: OneOrAll = 0


class RunClocks(DeskOrder):
    """Let the clocks run on."""

    kind: Literal["run clocks"] = "run clocks"
    table: OneOrAll = 0


class GiveTime(DeskOrder):
    """Give every seat that still decides so many more milliseconds."""

    kind: Literal["give time"] = "give time"
    table: OneOrAll = 0
    by_ms: int = Field(GIVE_MORE_MS, ge=1_000, le=600_000)


class PlayBy(DeskOrder):
    """Play by these settings at every table, from each one's next heat on."""

    kind: Literal["play by"] = "play by"
    settings: Settings


class LetTeacherSee(DeskOrder):
    """Let a teacher see the racks of those who agree, or no more; either way everybody is asked anew."""

    kind: Literal["let teacher see"] = "let teacher see"
    on: bool


class EndEvening(DeskOrder):
    """End the evening when no heat is running: everything is told, nobody can come in any more."""

    kind: Literal["end evening"] = "end evening"


DeskIntent = Annotated[
    OpenTable
    | RenameTable
    | CloseTable
    | SeatPerson
    | Unseat
    | SendHome
    | SeatAtRandom
    | SeatBots
    | StartAll
    | CallOff
    | HoldClocks
    | RunClocks
    | GiveTime
    | PlayBy
    | LetTeacherSee
    | EndEvening,
    Field(discriminator="kind"),
]

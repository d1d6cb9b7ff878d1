"""Intents of the desk: the closed set of things that whoever runs an evening of several tables can ask for.

They name a table by its number on the desk and a person by the key in the desk's view, never by a name. The number 0
means every open table.
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
"""The default countdown before a start, so that everybody can sit down."""


class DeskOrder(Record):
    """The base of all intents of a desk."""


class OpenTable(DeskOrder):
    """Open one more table; without a name its number serves as one."""

    kind: Literal["open table"] = "open table"
    name: str = Field("", max_length=200)


class RenameTable(DeskOrder):
    """Give a table another name."""

    kind: Literal["rename table"] = "rename table"
    table: TableNumber
    name: str = Field(max_length=200)


class CloseTable(DeskOrder):
    """Close a table for good: its people go to wait for a chair, and a running heat has no result."""

    kind: Literal["close table"] = "close table"
    table: TableNumber


class SeatPerson(DeskOrder):
    """Seat a person on a chair. A person who sits there changes places with them; a bot leaves."""

    kind: Literal["seat person"] = "seat person"
    person: PersonKey
    table: TableNumber
    chair: int = Field(ge=0, le=3)


class Unseat(DeskOrder):
    """Take a person off their chair; they wait for another."""

    kind: Literal["unseat"] = "unseat"
    person: PersonKey


class SendHome(DeskOrder):
    """Send a person away for good; their results stay."""

    kind: Literal["send home"] = "send home"
    person: PersonKey


class LetBack(DeskOrder):
    """Let the other machine in that asks for a person's seat by their name, while their line is down."""

    kind: Literal["let back"] = "let back"
    person: PersonKey


class SeatAtRandom(DeskOrder):
    """Seat everybody at random, with the tables filled evenly; only while no heat is running."""

    kind: Literal["seat at random"] = "seat at random"


class SeatBots(DeskOrder):
    """Put bots on the empty chairs."""

    kind: Literal["seat bots"] = "seat bots"
    table: OneOrAll = 0


class StartAll(DeskOrder):
    """After a countdown, start a heat at every table that has people and no heat, without waiting for anybody."""

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
    """Start the clocks again."""

    kind: Literal["run clocks"] = "run clocks"
    table: OneOrAll = 0


class GiveTime(DeskOrder):
    """Give every undecided seat by_ms more milliseconds."""

    kind: Literal["give time"] = "give time"
    table: OneOrAll = 0
    by_ms: int = Field(GIVE_MORE_MS, ge=1_000, le=600_000)


class PlayBy(DeskOrder):
    """Use these settings at every table, from its next heat on."""

    kind: Literal["play by"] = "play by"
    settings: Settings


class LetTeacherSee(DeskOrder):
    """Let a teacher see the racks of those who agree, or stop it; either way everybody must agree again."""

    kind: Literal["let teacher see"] = "let teacher see"
    on: bool


class RankFrom(DeskOrder):
    """Give places in the standings to those who have played so many heats; 0: a set's heats less one."""

    kind: Literal["rank from"] = "rank from"
    heats: int = Field(ge=0, le=12)


class WaitFor(DeskOrder):
    """Let no table wait longer for one person: who is away so long is played for by a bot until they are back, and
    a heat begins without the last who is not ready. 0: wait for ever."""

    kind: Literal["wait for"] = "wait for"
    ms: int = Field(ge=0, le=600_000)


class EndEvening(DeskOrder):
    """End the evening, only while no heat is running: reveal everything and let nobody in any more."""

    kind: Literal["end evening"] = "end evening"


DeskIntent = Annotated[
    OpenTable
    | RenameTable
    | CloseTable
    | SeatPerson
    | Unseat
    | SendHome
    | LetBack
    | SeatAtRandom
    | SeatBots
    | StartAll
    | CallOff
    | HoldClocks
    | RunClocks
    | GiveTime
    | PlayBy
    | LetTeacherSee
    | RankFrom
    | WaitFor
    | EndEvening,
    Field(discriminator="kind"),
]

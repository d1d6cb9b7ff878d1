"""The view of a shared clock for real tiles, for everybody with a machine: a whole snapshot, never a patch.

It has no secrets, since the program knows no tile. Times are those of the moment the view was made.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.clock.group_clock import Four
from shared.clock.real_clock import Phase
from shared.records import Record
from shared.rules.settings import Settings
from shared.rules.steps import StepName

PlaceNumber = Annotated[int, Field(ge=1, le=4)]
Stand = Literal["free", "not ready", "ready", "thinking", "done", "not waited for", "next heat"]
"""The state of a place. free: nobody there has a machine; not ready, ready: between heats; thinking, done: in a step;
not waited for: disconnected, the others go on; next heat: came too late for the running one."""


class PlaceView(Record):
    """One place at the real table. left_ms is below zero once its step is late; says_no as in group_clock.Mark."""

    name: str
    stand: Stand
    connected: bool
    host: bool
    left_ms: int = 0
    budget_ms: int = 0
    says_no: bool = False


class GroupResult(Record):
    """A heat that ended: the length of its steps, the table's time, and each place's time, None if it missed a step."""

    number: int
    length_ms: int
    table_ms: int
    places_ms: Four[int | None]


class GroupView(Record):
    """The clock for one place (you); places are in order of play. heat is the running or the coming heat of the set.

    heat_number is the number that commands must carry; east is a place. step is None unless the phase is "step".
    """

    kind: Literal["group view"] = "group view"
    revision: int
    table: str
    you: PlaceNumber
    host: bool
    code: str
    settings: Settings
    phase: Phase
    paused: bool
    heat: int
    heat_number: int
    east: PlaceNumber
    step: StepName | None
    following: StepName | None
    places: Four[PlaceView]
    heat_ms: int
    heat_length_ms: int
    setup_ms: int
    results: tuple[GroupResult, ...]

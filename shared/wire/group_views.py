"""What everybody with a machine sees of a shared clock for real tiles: one whole snapshot, never a patch.

There is nothing to hide here: no tile is known. Times are those of the moment at which the view was made.
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
"""Where a place stands: nobody there has a machine; between heats; in a step; away while the others go on; come too
late for the running heat."""


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
    """A heat that ended: what its steps should take, what the table took, and each place, None if not all of it."""

    number: int
    length_ms: int
    table_ms: int
    places_ms: Four[int | None]


class GroupView(Record):
    """The clock for one place (you); places are in order of play. heat is the running or the coming heat of the set.

    heat_number is what commands carry; east is a place. Unless the phase is "step" there is no step.
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

"""What one seat may see, built field by field from an allow-list; nothing is made by deleting secrets.

A view is a whole snapshot, never a patch: rejoining a table is then the same path as playing at it. A view
must never hold another seat's tiles, the wall or a seed before the reveal, nor anything computed from them.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.charleston import State
from shared.events import By
from shared.pace import Clock
from shared.records import Record
from shared.seats import SEATS, Seat
from shared.settings import Settings
from shared.steps import STEPS, StepName
from shared.tiles import Tile

Tiles = tuple[Tile, ...]
ChairNumber = Annotated[int, Field(ge=0, le=3)]
SeatNumber = Annotated[int, Field(ge=0, le=3)]


class ChairView(Record):
    """One chair of the table: who sits there and whether the line to them is up."""

    name: str
    sitter: Literal["person", "bot", "nobody"]
    connected: bool
    ready: bool
    host: bool


class ClockView(Record):
    """This seat's clock when the view was made; milliseconds. A clock that does not run stands still."""

    left_ms: int
    budget_ms: int
    carried_ms: int
    running: bool


class RouteStep(Record):
    """One step of the heat as this seat lived it. given are its own tiles, blind how many it forwarded unseen."""

    step: StepName
    state: Literal["done", "now", "ahead"]
    length_ms: int
    spent_ms: int | None
    by: By | None
    given: Tiles
    blind: int
    came: Tiles


class SeatView(Record):
    """Another seat, or one's own, as everyone sees it. vote and offer are shown only after all have answered."""

    chair: ChairNumber
    owes: bool
    answered: bool
    vote: bool | None
    offer: int | None


class HeatView(Record):
    """A running heat, or one just ended, for one seat. seats are in order of play from East on."""

    number: int
    seat: SeatNumber
    step: StepName | None
    dealt: Tiles
    rack: Tiles
    lifted: Tiles
    lifted_blind: int
    answered: bool
    owes: bool
    fresh: Tiles
    give: int
    may_blind: bool
    stopped: bool
    paused: bool
    clock: ClockView
    route: tuple[RouteStep, ...]
    seats: tuple[SeatView, SeatView, SeatView, SeatView]


class SpentStep(Record):
    """What one seat spent on one step, and who answered it."""

    step: StepName
    spent_ms: int
    by: By


class SeatResult(Record):
    """A seat at the end of a heat; the racks are empty unless the host opens them."""

    chair: ChairNumber
    spent: tuple[SpentStep, ...]
    total_ms: int
    dealt: Tiles
    final: Tiles


class HeatResult(Record):
    """A heat that ended, seats in order of play from East on. secret is empty until the reveal."""

    number: int
    seats: tuple[SeatResult, SeatResult, SeatResult, SeatResult]
    opened: bool
    commitment: str
    secret: str


class View(Record):
    """All that one chair sees of its table at one revision.

    commitment is the hexadecimal SHA-256 that binds the server to the next wall (or to the running heat's);
    east is the chair that deals in the running or the coming heat; results are the heats of this set so far.
    """

    kind: Literal["view"] = "view"
    revision: int
    table: str
    phase: Literal["seating", "heat", "between", "over"]
    you: ChairNumber
    host: bool
    code: str
    settings: Settings
    chairs: tuple[ChairView, ChairView, ChairView, ChairView]
    heat_number: int
    east: ChairNumber
    commitment: str
    heat: HeatView | None
    results: tuple[HeatResult, ...]

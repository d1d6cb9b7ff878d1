"""What is seen of a club's evening: by everybody, by the desk, and by a player beside their own table.

Built from what is open to all: who sits where, steps, clocks, results. Tiles stand here in two places only: in a
teacher's view, of seats that agreed, and in what the same rack did elsewhere once no table plays that deal any more.
"""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from shared.measures.standings import Played, Standings, StandingsRow
from shared.records import Record
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Tile

Tiles = tuple[Tile, ...]
ClubRole = Literal["desk", "watcher", "teacher", "waiting"]


class ChairShown(Record):
    """A chair as everybody sees it. left_ms is the seat's clock when the view was made; person is the key of who
    sits there, for the desk alone; rack is for a teacher alone, where the host and the seat agreed (shows)."""

    name: str
    sitter: Literal["person", "bot", "nobody"]
    connected: bool
    ready: bool
    owes: bool
    answered: bool
    left_ms: int
    running: bool
    shows: bool
    person: str = ""
    rack: Tiles = ()


class TimeShown(Record):
    """What one chair took for a heat; bot says that a bot answered at least once."""

    name: str
    total_ms: int
    timeouts: int
    bot: bool


class HeatShown(Record):
    """A heat that ended, by chair."""

    number: int
    chairs: tuple[TimeShown, TimeShown, TimeShown, TimeShown]


class TableShown(Record):
    """One table. heat_number is the round it plays, or played last; code is for the desk alone."""

    number: int
    name: str
    phase: Literal["seating", "heat", "between", "over"]
    heat_number: int
    heats: int
    step: StepName | None
    paused: bool
    chairs: tuple[ChairShown, ChairShown, ChairShown, ChairShown]
    results: tuple[HeatShown, ...]
    code: str = ""


class WaitingShown(Record):
    """Somebody who waits for a chair; person is for the desk alone."""

    name: str
    connected: bool
    person: str = ""


class DeskPart(Record):
    """What only the desk sees; teacher_code is empty until a teacher is let in."""

    code: str
    desk_code: str
    teacher_code: str


class ClubView(Record):
    """The whole evening at one moment, for the desk, a watcher, a teacher, or somebody who waits for a chair.

    The coach is through with looked of the seats that it may look at by now.
    """

    kind: Literal["club view"] = "club view"
    revision: int
    name: str
    role: ClubRole
    over: bool
    starts_in_ms: int | None
    settings: Settings
    teacher: bool
    tables: tuple[TableShown, ...]
    waiting: tuple[WaitingShown, ...]
    looked: int = 0
    to_look_at: int = 0
    desk: DeskPart | None = None


class Evening(Record):
    """Every result of the evening so far, for the desk; sent whole whenever a heat has ended or the coach has found
    more."""

    kind: Literal["evening"] = "evening"
    played: tuple[Played, ...]


class Place(Record):
    """A place of a standing; value is a part of one, or for the loss points a pass."""

    place: int
    tied: bool
    name: str
    you: bool
    heats: int
    value: float = Field(allow_inf_nan=False)


class Gave(Record):
    """What one seat gave at one step, its own tiles, and how many unseen."""

    step: StepName
    given: Tiles
    blind: int
    spent_ms: int


class Elsewhere(Record):
    """What the same rack did at another table; points are None until a coach has looked."""

    table: str
    name: str
    total_ms: int
    gave: tuple[Gave, ...]
    points: float | None = Field(None, allow_inf_nan=False)


class ClubPart(Record):
    """A player's view of the club beside their own table.

    still_playing counts the tables that have not finished the deal which all play; until then racks stay closed.
    teacher says that a teacher may be let in, shows by chair whose rack one sees. Places and elsewhere are told
    between heats.
    """

    evening: str
    starts_in_ms: int | None
    still_playing: int
    teacher: bool
    shows: tuple[bool, bool, bool, bool]
    speed: tuple[Place, ...] = ()
    loss: tuple[Place, ...] = ()
    points: tuple[Place, ...] = ()
    elsewhere_heat: int = 0
    elsewhere: tuple[Elsewhere, ...] = ()


def places(lines: Sequence[StandingsRow], person: str, unit: int = 1) -> tuple[Place, ...]:
    """Return a standing as a player sees it, their own line marked; values are divided by unit."""
    return tuple(
        Place(
            place=line.place,
            tied=line.tied,
            name=line.name,
            you=bool(person) and line.person == person,
            heats=line.heats,
            value=round(float(line.value / unit), 6),
        )
        for line in lines
    )


def all_places(standings: Standings, person: str) -> dict[str, tuple[Place, ...]]:
    """Return the three standings by the names they have in ClubPart; loss in points, not in thousandths."""
    return {
        "speed": places(standings.speed, person),
        "loss": places(standings.loss, person, 1_000),
        "points": places(standings.points, person),
    }

"""Views of a club's evening: for watchers, teachers, the desk, and for players in addition to their own table's view.

They hold what everybody may know: who sits where, steps, clocks, results. Tiles may appear in two places only: in a
teacher's view, for seats that agreed, and in Elsewhere, once no table plays that deal any more.
"""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from shared.measures.standings import Played, Standings, StandingsRow
from shared.records import Record
from shared.rules.seats import Way
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Tile

Tiles = tuple[Tile, ...]
ClubRole = Literal["desk", "watcher", "teacher", "waiting"]


class ChairShown(Record):
    """A chair as everybody sees it. left_ms is the seat's time left when the view was made. Only the desk gets person,
    the key of whoever sits there, and asks: another machine asks for the chair by its person's name. Only a teacher, or
    who is beside a single table, gets rack, if the host and the seat agreed (shows). Only who is beside a single table
    is told what its players are: once all have answered how they voted, how many tiles they offered across, and how
    many to which side."""

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
    asks: bool = False
    rack: Tiles = ()
    vote: bool | None = None
    offer: int | None = None
    side: Way | None = None
    side_offer: int | None = None


class TimeShown(Record):
    """The time one chair took for a heat; bot is True if a bot answered at least once."""

    name: str
    total_ms: int
    timeouts: int
    bot: bool


class HeatShown(Record):
    """A heat that ended, by chair."""

    number: int
    chairs: tuple[TimeShown, TimeShown, TimeShown, TimeShown]


class TableShown(Record):
    """One table. heat_number is the round it plays or played last."""

    number: int
    name: str
    phase: Literal["seating", "heat", "between", "over"]
    heat_number: int
    heats: int
    step: StepName | None
    paused: bool
    chairs: tuple[ChairShown, ChairShown, ChairShown, ChairShown]
    results: tuple[HeatShown, ...]


class WaitingShown(Record):
    """Somebody who waits for a chair; only the desk gets person."""

    name: str
    connected: bool
    person: str = ""


class DeskPart(Record):
    """What only the desk sees; teacher_code is empty until the desk lets a teacher in."""

    code: str
    desk_code: str
    teacher_code: str


class ClubView(Record):
    """The whole evening at one moment, for the desk, a watcher, a teacher, or somebody who waits for a chair. With
    one_table there is no evening: it is a single table, as those beside it see it.

    The coach has reviewed looked of the to_look_at seats that it may review by now. A place in the standings needs
    least heats; a table waits wait_ms for one person who is away or not ready, for ever if that is 0.
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
    least: int = 1
    wait_ms: int = 0
    desk: DeskPart | None = None
    one_table: bool = False


class Evening(Record):
    """All results of the evening so far, for the desk; sent after every heat and every review."""

    kind: Literal["evening"] = "evening"
    played: tuple[Played, ...]


class Place(Record):
    """A place in the standings, 0 for somebody with too few heats for one; value is a share from 0 to 1, or for the
    loss points per pass."""

    place: int
    tied: bool
    name: str
    you: bool
    heats: int
    value: float = Field(allow_inf_nan=False)


class Ranking(Record):
    """The standings of the evening so far, for all but the desk who have no chair; sent as Evening is."""

    kind: Literal["ranking"] = "ranking"
    speed: tuple[Place, ...]
    loss: tuple[Place, ...]
    points: tuple[Place, ...]


class Gave(Record):
    """What one seat passed at one step: its own tiles, and how many blind."""

    step: StepName
    given: Tiles
    blind: int
    spent_ms: int


class Elsewhere(Record):
    """What another table did with the same rack; points are None until the coach has reviewed it."""

    table: str
    name: str
    total_ms: int
    gave: tuple[Gave, ...]
    points: float | None = Field(None, allow_inf_nan=False)


class ClubPart(Record):
    """A player's view of the club, in addition to their own table's view.

    number is the table's number on the desk, over says that the evening has ended. starts_in_ms counts down to the
    start of all tables, goes_on_in_ms to that of this one, which then waits no more for the last who is not ready.
    still_playing counts the tables that have not finished the common deal; racks stay closed until it is 0. teacher
    says whether a teacher may look, watching that one does and sees the viewer's rack. Places and elsewhere are set
    between heats, and with them of how many seats the coach has looked at how many (looked, to_look_at).
    """

    evening: str
    number: int = 0
    over: bool = False
    starts_in_ms: int | None
    goes_on_in_ms: int | None = None
    watching: bool = False
    still_playing: int
    teacher: bool
    speed: tuple[Place, ...] = ()
    loss: tuple[Place, ...] = ()
    points: tuple[Place, ...] = ()
    looked: int = 0
    to_look_at: int = 0
    elsewhere_heat: int = 0
    elsewhere: tuple[Elsewhere, ...] = ()


def places(lines: Sequence[StandingsRow], person: str, unit: int = 1) -> tuple[Place, ...]:
    """Return a standing for one player, with their own line marked and values divided by unit."""
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
    """Return the three standings by their field names in ClubPart; loss is in points, not in thousandths."""
    return {
        "speed": places(standings.speed, person),
        "loss": places(standings.loss, person, 1_000),
        "points": places(standings.points, person),
    }

"""What the screens need: where to begin, ways to open a table, and what a screen may ask of the app.

Only types: the screens know no app, open no sockets and do not know where files lie; tests hand in their own openers.
"""

from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from client.coach.drilling import Drilling
from client.coach.queue import Coaching
from client.connection.discovery import Nearby
from client.connection.opened import Opening, WayIn
from client.models.real_racks import ClockedHeat
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from shared.rules.decisions import Question
from shared.rules.drills import Laid
from shared.rules.intents import Intent
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import COPIES, JOKER
from shared.wire.desk_intents import DeskIntent


@dataclass(frozen=True, slots=True)
class Openers:
    """How tables are opened: solo(settings, name, card), host(settings, name, port, card),
    join(address, name, code, card).

    card is the text of the card to play by, the practice card if empty; for join it is that of one's own copy.
    Each returns an async context manager; entering it may raise OSError or ValueError whose text is shown.
    look_around(show) shows the tables found on the local network, whenever they change, until it is cancelled.
    drill(laid, name, card) opens a table for one at which laid heats are played, one after the other.
    desk(settings, port, card) opens an evening of two tables, and the line to its desk.
    waiting() says where a set of one's own stands that was left unfinished, nothing if there is none; go_on() opens it.
    left() says which table of one's own waits for its host, and where it stands; go_back() opens it, and host_anew is
    like host, but drops it.
    unkept is like solo, but nothing of the table is kept for later.
    take_home(text, name, again) opens a set to take home by its line or file, with again as another try; it raises
    ValueError like entering what it returns.
    together(settings, name, port) opens a clock for real tiles that others join with machines of their own.
    """

    solo: Callable[[Settings, str, str], Opening]
    host: Callable[[Settings, str, int, str], Opening]
    join: Callable[[str, str, str, str, bool], Opening]
    look_around: Callable[[Callable[[Nearby], None]], Coroutine[None, None, None]] | None = None
    drill: Callable[[tuple[Laid, ...], str, str], Opening] | None = None
    desk: Callable[[Settings, int, str], Opening] | None = None
    together: Callable[[Settings, str, int], Opening] | None = None
    waiting: Callable[[], str] = lambda: ""
    go_on: Callable[[], Opening] | None = None
    left: Callable[[], str] = lambda: ""
    go_back: Callable[[], Opening] | None = None
    host_anew: Callable[[Settings, str, int, str], Opening] | None = None
    unkept: Callable[[Settings, str, str], Opening] | None = None
    take_home: Callable[[str, str, bool], Opening] | None = None


@dataclass(frozen=True, slots=True)
class AtHome:
    """Begin at the home screen."""


@dataclass(frozen=True, slots=True)
class AtHost:
    """Begin at the host's set-up; card is the name or file of the card in hand, the one chosen last if empty."""

    settings: Settings = field(default_factory=Settings)
    card: str = ""


@dataclass(frozen=True, slots=True)
class AtJoin:
    """Begin at the join form, or go straight in when address, name and code are all there.

    card is the name or file of one's own copy of the card, the one chosen last if empty; watches: without a chair.
    """

    address: str = ""
    code: str = ""
    card: str = ""
    watches: bool = False


@dataclass(frozen=True, slots=True)
class AtVisit:
    """Begin at the join form of one table, beneath which there is nothing: no other screen can be reached.

    With a name and a code one goes straight in.
    """

    address: str
    name: str = ""
    code: str = ""


@dataclass(frozen=True, slots=True)
class AtSolo:
    """Open a table with three bots at once, by the card with this text."""

    settings: Settings = field(default_factory=Settings)
    card: str = ""


@dataclass(frozen=True, slots=True)
class AtGuided:
    """Play the guided first heat."""


@dataclass(frozen=True, slots=True)
class AtWaiting:
    """Go on with the set of one's own that was left unfinished."""


@dataclass(frozen=True, slots=True)
class AtDesk:
    """Open an evening of several tables at once, in this process or by a line to its host; on_wall: for all to read."""

    opening: Callable[[], Opening]
    on_wall: bool = False


@dataclass(frozen=True, slots=True)
class AtClock:
    """Begin at the clock for real tiles, for one machine or together with others; leaving it leads home."""

    settings: Settings = field(default_factory=Settings)
    bell: bool = False
    together: bool = False


@dataclass(frozen=True, slots=True)
class AtDrill:
    """Begin with a drill that is laid already, by the card with this text."""

    laid: tuple[Laid, ...]
    card: str = ""


@dataclass(frozen=True, slots=True)
class AtDecisions:
    """Begin with a round of decisions, which made returns; or it returns one sentence why there is none."""

    made: Callable[[Coaching, Journal], Awaitable[Drilling | str]]


@dataclass(frozen=True, slots=True)
class AtWriter:
    """Begin with writing a card: one's own by its name or file, or the one that was written last."""

    card: str | None = None


@dataclass(frozen=True, slots=True)
class AtRacks:
    """Begin with typing the tiles of heats with real tiles; see screens.real_racks."""

    heats: Sequence[ClockedHeat]
    keeps: bool = True
    may_stay: Callable[[], bool] = lambda: True


@dataclass(frozen=True, slots=True)
class AtRealSet:
    """Begin with the review of heats with real tiles that are over."""

    heats: Sequence[ClockedHeat]
    keeps: bool = True


@dataclass(frozen=True, slots=True)
class AtAsk:
    """Begin with questions about a typed rack, by a card's name or file, the one chosen last if empty; rack is what is
    typed already, question what is asked first, jokers how many the set has."""

    card: str = ""
    rack: str = ""
    question: Question = "pass"
    jokers: int = COPIES[JOKER]


Start = (
    AtHome
    | AtHost
    | AtJoin
    | AtVisit
    | AtSolo
    | AtGuided
    | AtWaiting
    | AtDesk
    | AtClock
    | AtDrill
    | AtDecisions
    | AtWriter
    | AtAsk
    | AtRacks
    | AtRealSet
)


@dataclass(frozen=True, slots=True)
class Choice:
    """A decision of one's own: of which heat, at which step, and how many points it lost, if that is known."""

    heat: SeatHeat
    step: StepName
    lost: float | None = None


class Shell(Protocol):
    """The app, as far as a screen needs it.

    player and port are the name and the port to open tables with; storage, journal and coaching keep and look at heats;
    way_in says how others come in to what this machine has opened; card is the name of the card that was chosen last;
    stamp is the wall time as RFC 3339 text; joined are the address and the code that were joined with last.
    """

    player: str
    joined: tuple[str, str]
    card: str
    port: int
    look: Look
    now_ms: Callable[[], int]
    random_bytes: Callable[[int], bytes]
    stamp: Callable[[], str]
    openers: Openers
    storage: Storage
    journal: Journal
    coaching: Coaching
    way_in: WayIn

    @property
    def is_at_table(self) -> bool:
        """Whether a table is open."""

    def go(self, start: Start) -> None:
        """Begin something else: a table alone, a drill, a clock."""

    def open_table(self, opening: Opening) -> None:
        """Open a table and listen to it; a table that was open before is left alone."""

    def decide_again(self, choices: Sequence[Choice]) -> None:
        """Let the player make decisions of their own heats again, one after the other, each exactly as it stood.

        It needs no server and works from every screen, also while a table is open: a screen of its own comes on top,
        with the rack, the clock and the rules of then, and what had been passed by then. After each answer it shows
        what the coach says of it, computed beside the screen, and what was answered in the heat. Its last enter, or q,
        leads back to the screen beneath. If a heat begins at an open table meanwhile, the table comes on top instead.

        A pass, the vote, the offer and the tiles of the courtesy can be decided again; of anything else, and of a heat
        that cannot be reviewed, the screen says in a sentence why not.
        """

    def decide(self, drilling: Drilling) -> None:
        """Play a round of decisions, on a screen of its own that leads back to the one beneath."""

    def ask(self, intent: Intent | DeskIntent) -> None:
        """Send an intent to the table, the club or the shared clock."""

    def leave(self) -> None:
        """Leave the table; where that means something for a heat or for others, ask first."""

    def keep(self, keeping: Coroutine[None, None, None]) -> None:
        """Let something be written while the screen goes on; the program does not end before that is done."""

    def change_look(self, look: Look) -> None:
        """Use a look from now on and keep it."""

    def choose_card(self, name: str) -> None:
        """Choose a card from now on and keep the choice."""

    def show_looks(self) -> None:
        """Show the choices of look."""

    def show_help(self) -> None:
        """Show the help of the screen on top."""

    @property
    def waits(self) -> str:
        """What waits at the table while something else is read, in a few words; nothing if empty."""

    def show_table(self) -> None:
        """Go to what waits at the table."""

    def change_settings(self) -> None:
        """Let the host change the settings of the open table; say why not to others, and while a heat runs."""

    def show_over(self, key: str) -> None:
        """Show a page over the table, if there is one: all of its wall, or who is beside it."""

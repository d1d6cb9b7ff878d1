"""What the screens need from outside, handed in by the entry point: ways to open a table, and a place to keep things.

Only types and plain functions: the screens neither open sockets nor know where files lie, and tests hand in
their own openers.
"""

from collections.abc import Callable, Coroutine
from dataclasses import dataclass, field

from client.connection.discovery import Nearby
from client.connection.opened import Opening
from shared.rules.drills import Laid
from shared.rules.settings import Settings


@dataclass(frozen=True, slots=True)
class Openers:
    """How tables are opened: solo(settings, name), host(settings, name, port), join(address, name, code).

    Each returns an async context manager; entering it may raise OSError or ValueError whose text is shown.
    look_around(show) shows the tables found on the local network, whenever they change, until it is cancelled.
    drill(laid, name, card) opens a table for one at which laid heats are played, one after the other.
    desk(settings, port) opens an evening of two tables, and the line to its desk.
    together(settings, name, port) opens a clock for real tiles that others join with machines of their own.
    """

    solo: Callable[[Settings, str], Opening]
    host: Callable[[Settings, str, int], Opening]
    join: Callable[[str, str, str], Opening]
    look_around: Callable[[Callable[[Nearby], None]], Coroutine[None, None, None]] | None = None
    drill: Callable[[tuple[Laid, ...], str, str], Opening] | None = None
    desk: Callable[[Settings, int], Opening] | None = None
    together: Callable[[Settings, str, int], Opening] | None = None


@dataclass(frozen=True, slots=True)
class AtHome:
    """Begin at the home screen."""


@dataclass(frozen=True, slots=True)
class AtHost:
    """Begin at the host's set-up."""

    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True, slots=True)
class AtJoin:
    """Begin at the join form, or go straight in when address, name and code are all there."""

    address: str = ""
    code: str = ""


@dataclass(frozen=True, slots=True)
class AtVisit:
    """Begin at the join form of one table, beneath which there is nothing: no other screen can be reached."""

    address: str


@dataclass(frozen=True, slots=True)
class AtSolo:
    """Open a table with three bots at once."""

    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True, slots=True)
class AtDesk:
    """Open an evening of several tables at once, in this process or by a line to its host."""

    opening: Callable[[], Opening]


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


Start = AtHome | AtHost | AtJoin | AtVisit | AtSolo | AtDesk | AtClock | AtDrill

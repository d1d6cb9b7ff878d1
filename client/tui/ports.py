"""What the screens need from outside, handed in by the entry point: ways to open a table, and a place to keep things.

Only types and plain functions: the screens neither open sockets nor know where files lie, and tests hand in
their own doors.
"""

from collections.abc import Callable, Coroutine, Mapping, Sequence
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field
from typing import Protocol

from client.connection.discovery import Nearby
from client.connection.link import Heard
from client.theme import Look
from shared.measures.standings import Played
from shared.rules.drills import Laid
from shared.rules.intents import Intent
from shared.rules.settings import Settings
from shared.wire.desk_intents import DeskIntent
from shared.wire.messages import HeatFile, OwnHeat


class Line(Protocol):
    """The line to a table as the screens use it; client.connection.link has the real one."""

    @property
    def rtt_ms(self) -> int:
        """The last measured round trip in milliseconds."""
        ...

    def ask(self, intent: Intent | DeskIntent, heat: int) -> int:
        """Send an intent for a heat and return its command id; it is sent again until it is answered."""
        ...

    async def run(self, hear: Callable[[Heard], None]) -> None:
        """Carry messages until the line ends for good."""
        ...

    def close(self) -> None:
        """End the line."""
        ...


@dataclass(frozen=True, slots=True)
class Opened:
    """An open way to a table; for a host also what others need to come in.

    addresses are those that others most likely reach; all_addresses every one of the machine, with the name of its
    network. announce(addresses, say) tells the local network that there is a table at these addresses and no others;
    say is given one sentence if it cannot. who_reads is a sentence on who can read what is sent, for a host.
    """

    line: Line
    addresses: tuple[str, ...] = ()
    all_addresses: Mapping[str, str] = field(default_factory=dict)
    announce: Callable[[Sequence[str], Callable[[str], None]], None] = lambda addresses, say: None
    who_reads: str = ""


Opening = AbstractAsyncContextManager[Opened]


@dataclass(frozen=True, slots=True)
class Doors:
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
class Shelf:
    """What is kept between runs; the defaults keep nothing.

    load_presets returns the presets and a sentence for each file that cannot be used; save_preset raises
    ValueError with a sentence; keep_heat returns a sentence if it could not be kept; keep_evening writes an evening's
    results and returns a sentence about where they are, or why not.
    """

    load_presets: Callable[[], tuple[Mapping[str, Settings], tuple[str, ...]]] = lambda: ({}, ())
    save_preset: Callable[[str, Settings], None] = lambda name, settings: None
    keep_heat: Callable[[HeatFile | OwnHeat], str] = lambda told: ""
    keep_evening: Callable[[tuple[Played, ...], str], str] = lambda played, name: ""
    load_look: Callable[[], Look] = Look
    save_look: Callable[[Look], None] = lambda look: None


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

"""An open way to a table: the line to it, and for a host what others need to come in."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field
from typing import Protocol

from client.connection.link import Heard
from shared.rules.intents import Intent
from shared.wire.desk_intents import DeskIntent


class Line(Protocol):
    """The line to a table as its users see it; client.connection.link has the real one."""

    @property
    def rtt_ms(self) -> int:
        """The last measured round trip in milliseconds."""

    def ask(self, intent: Intent | DeskIntent, heat: int) -> int:
        """Send an intent for a heat and return its command id; it is sent again until it is answered."""

    async def run(self, hear: Callable[[Heard], None]) -> None:
        """Carry messages until the line ends for good."""

    def close(self) -> None:
        """End the line."""


@dataclass(frozen=True, slots=True)
class Opened:
    """An open way to a table; for a host also what others need to come in.

    addresses are those that others most likely reach; all_addresses every one of the machine, with the name of its
    network. announce(addresses, say) tells the local network that there is a table at these addresses and no others;
    say is given one sentence if it cannot. who_reads is a sentence on who can read what is sent, for a host. card is
    the text of one's own copy of the table's card, if one was named. alone says that this
    machine keeps the table and nobody else can come; take_home is then the line of the set that is played, if it is one
    to take home. at and code are how guests come in, for a wall's screen.
    """

    line: Line
    addresses: tuple[str, ...] = ()
    all_addresses: Mapping[str, str] = field(default_factory=dict)
    announce: Callable[[Sequence[str], Callable[[str], None]], None] = lambda addresses, say: None
    who_reads: str = ""
    card: str = ""
    alone: bool = False
    take_home: str = ""
    at: str = ""
    code: str = ""


Opening = AbstractAsyncContextManager[Opened]


class WayIn:
    """How others come in to what this machine has opened: addresses are shown to them.

    beacon is a sentence if the local network cannot be told; changed is called when there is one.
    """

    def __init__(self, opened: Opened | None = None, changed: Callable[[], None] = lambda: None) -> None:
        self._opened, self._changed = opened, changed
        self.addresses: tuple[str, ...] = ()
        self.beacon = ""
        if opened is not None:
            self.show(opened.addresses or ((opened.at,) if opened.at else ()))

    @property
    def all_addresses(self) -> Mapping[str, str]:
        """Every address of the machine, with the name of its network."""
        return self._opened.all_addresses if self._opened else {}

    @property
    def who_reads(self) -> str:
        """A sentence on who can read what is sent, for a host."""
        return self._opened.who_reads if self._opened else ""

    @property
    def code(self) -> str:
        """The code by which guests come in, where this client was given it for a wall's screen."""
        return self._opened.code if self._opened else ""

    def show(self, addresses: tuple[str, ...]) -> None:
        """Show these addresses to guests, and announce the table at no others."""
        self.addresses, self.beacon = addresses, ""
        if self._opened is not None:
            self._opened.announce(addresses, self._beacon_says)

    def _beacon_says(self, text: str) -> None:
        self.beacon = text
        self._changed()

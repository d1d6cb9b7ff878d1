"""What a connection leads to, as one value: a table, an evening's desk or a shared clock; at first nothing yet.

Pure: no socket, no screen and no clock. The app holds one session and asks it what was heard, what leaving means and
what goes on later; client.models.sessions makes the right kind from a view.
"""

from dataclasses import dataclass, field
from typing import ClassVar, Literal

from client.models.commands import Commands
from client.models.wall import WallWatch
from shared.cards.owned import copy_lost, not_yours
from shared.rules.drills import Laid
from shared.rules.intents import Intent, Leave
from shared.wire.desk_intents import DeskIntent
from shared.wire.messages import HeatFile, OwnHeat, Refused

Action = Literal[
    "leave",
    "take home",
    "look",
    "addresses",
    "review",
    "export",
    "settings",
    "bell",
    "together",
    "start",
    "again",
    "ask",
    "racks",
    "whose",
    "go on",
    "wall",
    "fill",
]
"""What a key can ask of the program itself."""
Meant = tuple[Intent | DeskIntent | Action, ...]
"""What a key means: intents to send, actions of the program, or nothing further."""
_EARLY = 24
"""A set has twelve heats at most, each told as one's own and whole."""


@dataclass(slots=True)
class Session:
    """A connection before its first view, and what all kinds have in common.

    Attributes:
        note: a sentence about what just happened.
        line: a sentence about a line that is down, else empty.
        card_text: the text of the card that the table plays by, as the table told it or from a copy of one's own.
        card_title, card_digest: which card that is, where there is one.
        card_shared: whether everybody at the table is told its text; else a plan's hand is not sent.
        drills: the drills that are laid at this table.
        keeps: whether this machine keeps the table for others.
        alone: whether it keeps it for this player only.
        take_home: the line of the set to take home that is played here, if it is one.
        guided: whether it is the guided first heat: nothing is kept for later, and no clock is shown.
        received_ms, rtt_ms: when the last view came, and the round trip then.
        lost_ms: when the line broke, if it is down.
        wall: what this client sees of the walls, and its part in making them.
        aside: a guest of an evening goes back and forth between a table and the list of those who wait; this is the
            session of the other place.
        early: heats that were told before the first view: who comes back is told them first.
    """

    WHAT: ClassVar[str] = "table"

    note: str = ""
    line: str = ""
    card_text: str = ""
    card_title: str = ""
    card_digest: str = ""
    card_shared: bool = True
    drills: tuple[Laid, ...] = ()
    keeps: bool = False
    alone: bool = False
    take_home: str = ""
    guided: bool = False
    received_ms: int = 0
    rtt_ms: int = 0
    lost_ms: int = 0
    commands: Commands = field(default_factory=Commands)
    wall: WallWatch = field(default_factory=lambda: WallWatch(bytes))
    aside: "Session | None" = None
    early: tuple[OwnHeat | HeatFile, ...] = ()

    # ---- what is heard

    def connected(self, card: str = "", title: str = "", digest: str = "") -> None:
        """The line is up, for the first time or again; card is the text of the table's card, empty if it is not told.

        A copy that was found before stays.
        """
        self.line = ""
        is_known = bool(digest) and digest == self.card_digest
        self.card_title, self.card_digest, self.card_shared = title, digest, bool(card) or not digest
        self.has_card(card or (self.card_text if is_known else ""))

    def same_card_as(self, other: "Session") -> None:
        """The line is the same as another session's, and so is the card."""
        self.connected(other.card_text, other.card_title, other.card_digest)
        self.card_shared = other.card_shared

    def has_card(self, text: str) -> None:
        """Take in the text of the table's card."""
        self.card_text = text

    def lost(self, text: str, now_ms: int) -> None:
        """The line broke, or could not be mended; text says so in words. From the break on nothing is known."""
        self.lost_ms = self.lost_ms if self.line else now_ms
        self.line = text

    def known_ms(self, now_ms: int) -> int:
        """Return the moment that clocks show: now, or when the line broke, for without one they stand still."""
        return self.lost_ms if self.line else now_ms

    def sent(self, command_id: int, intent: Intent | DeskIntent) -> None:
        """A command went on its way under this id."""
        self.commands = self.commands.sent(command_id, intent)

    def done(self, command_id: int) -> None:
        """A command was done."""
        self.wall.done(self.commands.unanswered.get(command_id))
        self.commands = self.commands.done(command_id)

    def refused(self, refused: Refused) -> None:
        """A command was refused; show why, unless it was a draft or came from another place."""
        if refused.id in self.commands.unanswered:
            self.note = refused.text
        self.commands = self.commands.refused(refused.id)

    def ended(self, told: OwnHeat | HeatFile) -> None:
        """A heat ended: as this seat lived it, or whole."""
        if self.aside:
            self.aside.ended(told)
        else:
            self.early = (*self.early, told)[-_EARLY:]

    # ---- what is known

    @property
    def lacks_card(self) -> bool:
        """Whether the table plays by a card that its owner does not share and of which no copy is at hand."""
        return bool(self.card_digest) and not self.card_text

    @property
    def about_card(self) -> str:
        """One sentence if the card is not at hand, else nothing."""
        if not self.lacks_card:
            return ""
        return (copy_lost if self.keeps else not_yours)(self.card_title)

    @property
    def has_begun(self) -> bool:
        """Whether a view was heard, which made this one of the three kinds."""
        return type(self) is not Session

    @property
    def heat_number(self) -> int:
        """The number that commands carry."""
        return 0

    @property
    def in_heat(self) -> bool:
        """Whether a heat is running in which this client takes part."""
        return False

    @property
    def has_others(self) -> bool:
        """Whether other people are here."""
        return False

    @property
    def is_over(self) -> bool:
        """Whether nothing more will come: an evening has ended."""
        return False

    @property
    def goes_on_later(self) -> bool:
        """Whether this machine keeps an unfinished set: its host can leave and go on with it later."""
        return False

    def laid(self, number: int) -> Laid | None:
        """Return the drill that a heat of the running set is; None if the table is not for drills."""
        return self.aside.laid(number) if self.aside else None

    def first_of_set(self, number: int) -> int:
        """Return the number of the first heat of a heat's set."""
        return self.aside.first_of_set(number) if self.aside else number

    # ---- leaving

    def leaving(self) -> tuple[Intent, ...]:
        """Return what to send before the line is closed: the place is given up unless it is needed later."""
        return () if self.goes_on_later else (Leave(),)

    def leave_warning(self) -> str:
        """Return what leaving now does to a running heat or to others; empty if nothing."""
        if self.keeps and (self.in_heat or self.has_others):
            later = ", paused until you go on with it" if self.goes_on_later else ""
            return f"This machine hosts the {self.WHAT}: if you leave, it closes for everybody{later}."
        return f"A heat is running. If you leave, {self._what_leaving_does()}" if self.in_heat else ""

    def _what_leaving_does(self) -> str:
        return "a bot plays on in your seat."

"""What a table returns to its shell: what to store, then what to send to whom, and what bots should think about."""

from collections.abc import Callable
from dataclasses import dataclass, field

from shared.rules.events import AnyEvent
from shared.rules.heat import SavedHeat
from shared.rules.intents import SeatIntent
from shared.rules.steps import StepName
from shared.wire.messages import Close, Done, HeatFile, OwnTimes, Refused


@dataclass(frozen=True, slots=True)
class Built:
    """A message as its frame, which is built once and sent often."""

    frame: bytes


ToChair = Done | Refused | HeatFile | OwnTimes | Built
"""What one chair alone gets, besides its view."""


@dataclass(frozen=True, slots=True)
class Thought:
    """A bot's decision to be computed off the event loop: run it and hand the result to Table.thought."""

    chair: int
    heat: int
    step: StepName
    run: Callable[[], SeatIntent]


@dataclass(slots=True)
class Output:
    """What one input caused: store events (of heat), finished and, if changed, the record; then send the rest.

    changed are the chairs whose view has changed: nobody else learns what a seat does for itself alone. moved are
    people who have changed chairs, from and to: their lines go with them.
    """

    heat: int = 0
    events: list[AnyEvent] = field(default_factory=list)
    finished: SavedHeat | None = None
    changed: tuple[int, ...] = ()
    moved: tuple[tuple[int, int], ...] = ()
    messages: list[tuple[int, ToChair]] = field(default_factory=list)
    closing: list[tuple[int, Close, str]] = field(default_factory=list)
    thoughts: list[Thought] = field(default_factory=list)

    def follow(self, moved: tuple[tuple[int, int], ...]) -> None:
        """Go along with people who have changed chairs since: what is theirs reaches nobody else."""
        ways = dict(moved)
        self.messages = [(ways.get(chair, chair), message) for chair, message in self.messages]


@dataclass(frozen=True, slots=True)
class Joined:
    """A client was admitted; the shell must close an older connection of the same chair."""

    chair: int
    token: bytes
    last_id: int
    output: Output


@dataclass(frozen=True, slots=True)
class Rejected:
    """A client was not admitted."""

    close: Close
    text: str
    output: Output = field(default_factory=Output)

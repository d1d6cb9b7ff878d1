"""What a table hands to its shell: what to store, then whom to tell what, and what to think about meanwhile."""

from collections.abc import Callable
from dataclasses import dataclass, field

from shared.rules.events import AnyEvent
from shared.rules.heat import SavedHeat
from shared.rules.intents import SeatIntent
from shared.rules.steps import StepName
from shared.wire.messages import Close, Done, HeatFile, OwnHeat, OwnTimes, Refused

ToChair = Done | Refused | HeatFile | OwnHeat | OwnTimes
"""What one chair alone is told, besides its view."""


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

    changed are the chairs whose view is another now: what a seat does for itself alone is told to nobody else.
    """

    heat: int = 0
    events: list[AnyEvent] = field(default_factory=list)
    finished: SavedHeat | None = None
    changed: tuple[int, ...] = ()
    messages: list[tuple[int, ToChair]] = field(default_factory=list)
    closing: list[tuple[int, Close, str]] = field(default_factory=list)
    thoughts: list[Thought] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Joined:
    """A client was taken in; an older connection of the same chair is to be closed by the shell."""

    chair: int
    token: bytes
    last_id: int
    output: Output


@dataclass(frozen=True, slots=True)
class Rejected:
    """A client was not taken in."""

    close: Close
    text: str

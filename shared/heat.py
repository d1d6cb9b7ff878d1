"""A saved heat: everything needed to replay it to the same end and to check that nobody cheated.

The file is one MessagePack map with a format name and a version. It holds every tile of the heat and the
secret of its wall, so it is made only after the reveal.
"""

from collections.abc import Callable
from typing import Literal

from shared.charleston import Events, decide, open_heat, pause, resume, tick
from shared.codec import Codec
from shared.events import (
    AnyEvent,
    ClocksRan,
    ClocksStopped,
    DeadlinesMoved,
    Event,
    Offered,
    Passed,
    Planned,
    RackArranged,
    TakenBack,
    TilesLifted,
    Voted,
)
from shared.intents import Arrange, Lift, Offer, Pass, Plan, SeatIntent, TakeBack, Vote
from shared.pace import GRACE_MS
from shared.records import Record
from shared.refusals import Refusal
from shared.seats import Seat
from shared.settings import Settings
from shared.state import State, evolve, replay
from shared.steps import StepName
from shared.tiles import Rack
from shared.wall import Stream, commitment, wall_key

Complete = Callable[[str, Rack], bool]
"""Says whether a rack is a finished hand of the card whose text is given."""


class SavedHeat(Record):
    """A whole heat. names, sitters and contributions are in chair order; east is the chair that dealt."""

    format: Literal["racktempo heat"] = "racktempo heat"
    version: Literal[1] = 1
    table: str
    number: int
    played_at: str
    settings: Settings
    names: tuple[str, str, str, str]
    sitters: tuple[str, str, str, str]
    east: int
    card: str
    commitment: str
    secret: bytes
    contributions: tuple[bytes, bytes, bytes, bytes]
    events: tuple[Event, ...]


HEAT: Codec[SavedHeat] = Codec(SavedHeat, 4 * 1024 * 1024)


def chair_of(seat: Seat, east: int) -> int:
    """Return which chair a seat is when the given chair is East."""
    return (seat + east) % 4


def seat_of(chair: int, east: int) -> Seat:
    """Return which seat a chair is when the given chair is East."""
    return Seat((chair - east) % 4)


def dice_of(key: bytes) -> Callable[[StepName], Stream]:
    """Return the heat's own random stream for each step; it chooses the tiles of blind passes."""
    return lambda step: Stream(key, f"blind {step}")


def final_state(heat: SavedHeat) -> State:
    """Return the state in which the heat ended."""
    return replay(heat.settings, heat.events)


def faults(heat: SavedHeat, complete: Complete) -> tuple[str, ...]:
    """Return what does not fit in a saved heat, one sentence each; nothing when all is well.

    Checked are the commitment, the wall that follows from the secret and the contributions, and every event:
    each must be exactly what the rules make of the state before it.
    """
    found: list[str] = []
    if commitment(heat.secret) != heat.commitment:
        found.append("The secret does not fit the commitment that was published before the deal.")
    key = wall_key(heat.secret, heat.contributions)
    opening = open_heat(heat.settings, key, lambda rack: complete(heat.card, rack))
    if heat.events[: len(opening)] != opening:
        found.append("The dealt tiles are not those of the wall that the secret and the contributions make.")
        return tuple(found)
    state = replay(heat.settings, opening)
    done = len(opening)
    while done < len(heat.events):
        due = _due(state, heat.events[done:], key)
        if isinstance(due, Refusal):
            found.append(f"Event {done + 1} ({heat.events[done].kind}) was not allowed: {due.text}")
            return tuple(found)
        if heat.events[done : done + len(due)] != due:
            found.append(f"Event {done + 1} ({heat.events[done].kind}) and what follows are not what the rules make.")
            return tuple(found)
        for event in due:
            state = evolve(state, event)
        done += len(due)
    if not state.over:
        found.append("The heat does not reach its end.")
    return tuple(found)


def _due(state: State, rest: Events, key: bytes) -> Events | Refusal:
    """Return what the rules make of the cause of the first of the remaining events."""
    event, dice = rest[0], dice_of(key)
    match event:
        case Passed(by="timeout") | Voted(by="timeout") | Offered(by="timeout") | Planned(by="timeout"):
            return tick(state, _tick_time_ms(rest), dice) or Refusal("not now", "no clock had run out.")
        case Passed() | Voted() | Offered() | Planned():
            return decide(state, Seat(event.seat), _intent(state, event), event.at_ms, event.by, dice)
        case TakenBack():
            intent = TakeBack(step=state.step or "plan")
            return decide(state, Seat(event.seat), intent, event.at_ms, "person", dice)
        case TilesLifted():
            lift = Lift(step=state.step or "plan", tiles=event.tiles, blind=event.blind)
            return decide(state, Seat(event.seat), lift, 0, "person", dice)
        case RackArranged():
            return decide(state, Seat(event.seat), Arrange(tiles=event.tiles), 0, "person", dice)
        case ClocksStopped():
            return pause(state, event.at_ms)
        case ClocksRan():
            return resume(state, event.at_ms)
        case DeadlinesMoved():
            return (event,)
        case _:
            return Refusal("not now", "nothing before it brings it about.")


def _intent(state: State, event: Passed | Voted | Offered | Planned) -> SeatIntent:
    match event:
        case Passed():
            return Pass(step=state.step or "plan", tiles=event.tiles, blind=event.blind)
        case Voted():
            return Vote(go_on=event.go_on)
        case Offered():
            return Offer(count=event.count)
        case Planned():
            return Plan(hand=event.hand, discards=event.discards)


def _tick_time_ms(rest: Events) -> int:
    """Return when the clock answered: just after the last deadline of the run, or when the step was closed."""
    run_ms = 0
    for event in rest:
        if not _is_timeout(event):
            closing_ms: int | None = getattr(event, "at_ms", None)
            closes = event.kind in ("moved", "decided", "agreed", "heat ended") and closing_ms is not None
            return closing_ms if closes and closing_ms is not None else run_ms + GRACE_MS + 1
        run_ms = max(run_ms, getattr(event, "at_ms", 0))
    return run_ms + GRACE_MS + 1


def _is_timeout(event: AnyEvent) -> bool:
    return isinstance(event, Passed | Voted | Offered | Planned) and event.by == "timeout"

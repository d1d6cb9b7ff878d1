"""A saved heat: everything needed to replay it to the same end and to check that nobody cheated.

The file is one MessagePack map with a format name and a version. It holds every tile of the heat and the
secret of its wall, so it must never be made before the reveal. A drill's heat has an empty commitment.
"""

import hashlib
from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import Field

from shared import versions
from shared.codec import FileCodec, replace_last_text
from shared.records import Record
from shared.rules.charleston import Events, decide, open_heat, pause, resume, tick
from shared.rules.events import (
    Agreed,
    AnyEvent,
    ClocksRan,
    ClocksStopped,
    DeadlinesMoved,
    Decided,
    Event,
    HeatEnded,
    Moved,
    Offered,
    Passed,
    Planned,
    RackArranged,
    StepBegan,
    TakenBack,
    TilesLifted,
    Voted,
)
from shared.rules.intents import Arrange, Lift, Offer, Pass, Plan, SeatIntent, TakeBack, Vote
from shared.rules.pace import GRACE_MS
from shared.rules.players import Player, Players
from shared.rules.refusals import Refusal
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.state import State, evolve, replay
from shared.rules.steps import StepName
from shared.rules.tiles import Rack
from shared.rules.wall import CONTRIBUTION_BYTES, Stream, commitment, wall_key
from shared.rules.wall_round import MOST_ATTEMPTS, Attempt, WallKind, round_faults

Complete = Callable[[str, Rack], bool]
"""Says whether a rack is a finished hand of the card whose text is given."""


Contribution = Annotated[bytes, Field(max_length=CONTRIBUTION_BYTES)]


class SavedHeat(Record):
    """A whole heat. names, sitters and contributions are in chair order, as they were at the deal; so are players, who
    played each seat (not told in older heats); east is the chair that dealt.

    card is the card's text (TOML), empty if its owner does not share it; then title and digest say which card it was.
    No deal of such a heat was void for a complete hand: nobody else could check it.

    wall says how the wall was made, attempts and table_id belong to its round (shared.rules.wall_round).

    digest (hexadecimal SHA-256 of the file's bytes with an empty digest) finds damage, not fraud: anybody can write a
    new one. It is the last field, so that we can blank it in the bytes. Against cheating we check the commitment,
    which the players saw before the deal, and every event by the rules.
    """

    format: Literal["racktempo heat"] = "racktempo heat"
    version: int = Field(versions.HEAT_FILE, ge=1, le=versions.HEAT_FILE)
    table: str
    number: int = Field(ge=1)
    played_at: str
    settings: Settings
    names: tuple[str, str, str, str]
    sitters: tuple[str, str, str, str]
    players: tuple[Players, Players, Players, Players] = ((), (), (), ())
    east: int = Field(ge=0, le=3)
    card: str
    card_title: str = ""
    card_digest: str = ""
    commitment: str
    secret: bytes
    contributions: tuple[Contribution, Contribution, Contribution, Contribution]
    events: tuple[Event, ...]
    wall: WallKind = ""
    table_id: str = ""
    attempts: tuple[Attempt, ...] = Field((), max_length=MOST_ATTEMPTS)
    digest: str = ""

    def played(self, chair: int) -> Players:
        """Return who played a chair's seat: where the heat does not tell, who sat there at the deal."""
        return self.players[chair] or (Player(name=self.names[chair], person=0),)


HEAT: FileCodec[SavedHeat] = FileCodec(SavedHeat, 1_000_000, "racktempo heat", versions.HEAT_FILE)
"""Every saved heat fits one frame: the rules limit how often people may act in a step."""


def sealed(heat: SavedHeat) -> SavedHeat:
    """Return the heat with its digest filled in."""
    bare = HEAT.pack(heat.model_copy(update={"digest": ""}))
    return heat.model_copy(update={"digest": _digest(bare)})


def _digest(bare: bytes) -> str:
    return hashlib.sha256(b"racktempo heat\0" + bare).hexdigest()


def condensed(events: Events) -> Events:
    """Return fewer events that replay to the same end: drafts that were replaced unused are dropped, and consecutive
    stalls are merged.

    A draft matters only when a seat answers, times out or takes back, or when its tiles move.
    """
    kept: list[AnyEvent] = []
    replaced: set[tuple[int, str]] = set()
    for event in reversed(events):
        match event:
            case TilesLifted() | RackArranged():
                if (event.seat, event.kind) in replaced:
                    continue
                replaced.add((event.seat, event.kind))
            case StepBegan():
                replaced.clear()
            case Passed() | Voted() | Offered() | Planned() | TakenBack():
                replaced = {draft for draft in replaced if draft[0] != event.seat}
            case DeadlinesMoved(why="stall") if kept and isinstance(later := kept[-1], DeadlinesMoved):
                if later.why == "stall":
                    kept[-1] = later.model_copy(update={"by_ms": event.by_ms + later.by_ms})
                    continue
        kept.append(event)
    return tuple(reversed(kept))


def dice_of(key: bytes) -> Callable[[StepName], Stream]:
    """Return the heat's random stream for each step; it chooses the tiles of blind passes."""
    return lambda step: Stream(key, f"blind {step}")


def final_state(heat: SavedHeat) -> State:
    """Return the state in which the heat ended."""
    return replay(heat.settings, heat.events)


def faults(data: bytes, complete: Complete) -> tuple[str, ...]:
    """Return what is wrong in the bytes of a saved heat, one sentence each; empty if nothing is.

    Checks the digest, the commitment, the wall made from the secret and the contributions, and every event: each must
    be exactly what the rules make of the state before it. The digest is that of the bytes as they were written: an
    older heat that we packed anew would also hold the settings that came after it.

    Raises:
        BadFrame: the bytes hold no heat.
    """
    heat = HEAT.unpack(data)
    found: list[str] = []
    if _digest(replace_last_text(data, heat.digest, "")) != heat.digest:
        found.append("The file is not as it was written: its digest does not fit.")
    if not heat.commitment:
        found.append("This is a drill: its tiles were laid for practice, and no wall was promised before it.")
        return tuple(found)
    if commitment(heat.secret) != heat.commitment:
        found.append("The secret does not fit the commitment that was published before the deal.")
    if heat.wall == "round":
        found += round_faults(heat.table_id, heat.number, heat.attempts, heat.commitment, heat.contributions)
    elif heat.wall and (any(heat.contributions) or heat.attempts):
        found.append("A wall that was not made in a round holds somebody's value.")
    key = wall_key(heat.secret, heat.contributions)
    opening = open_heat(heat.settings, key, lambda rack: complete(heat.card, rack))
    if heat.events[: len(opening)] != opening:
        found.append("The dealt tiles are not those of the wall that the secret and the contributions make.")
        return tuple(found)
    state = replay(heat.settings, opening)
    done, reached_ms = len(opening), 0
    while done < len(heat.events):
        due = _due(state, heat.events[done:], reached_ms, key)
        if isinstance(due, Refusal):
            found.append(f"Event {done + 1} ({heat.events[done].kind}) was not allowed: {due.text}")
            return tuple(found)
        if heat.events[done : done + len(due)] != due:
            found.append(f"Event {done + 1} ({heat.events[done].kind}) and what follows are not what the rules make.")
            return tuple(found)
        for event in due:
            state = evolve(state, event)
            reached_ms = max(reached_ms, _time_ms(event))
        done += len(due)
    if not state.over:
        found.append("The heat does not reach its end.")
    return tuple(found)


def _due(state: State, rest: Events, reached_ms: int, key: bytes) -> Events | Refusal:
    """Apply the cause of the first remaining event to the rules again, and return the events or the refusal."""
    event, dice = rest[0], dice_of(key)
    if state.over:
        return Refusal("ended", "The heat had ended.")
    # A timeout is stamped with its deadline, which may be earlier than answers read in the grace after it.
    if not _is_timeout(event) and _time_ms(event, reached_ms) < reached_ms:
        return Refusal("not now", "It lies before what went before it.")
    match event:
        case Passed(by="timeout") | Voted(by="timeout") | Offered(by="timeout") | Planned(by="timeout"):
            return tick(state, _tick_time_ms(rest), dice) or Refusal("not now", "No clock had run out.")
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
            return Refusal("not now", "Nothing before it brings it about.")


def _intent(state: State, event: Passed | Voted | Offered | Planned) -> SeatIntent:
    match event:
        case Passed():
            return Pass(step=state.step or "plan", tiles=event.tiles, blind=event.blind)
        case Voted():
            return Vote(go_on=event.go_on)
        case Offered():
            return Offer(count=event.count, to=event.to)
        case Planned():
            return Plan(hand=event.hand, discards=event.discards)


def _tick_time_ms(rest: Events) -> int:
    """Return when tick ran: when the step closed, or just after the last deadline of these timeouts."""
    run_ms = 0
    for event in rest:
        if isinstance(event, Moved | Decided | Agreed | HeatEnded):
            return event.at_ms
        if not _is_timeout(event):
            break
        run_ms = max(run_ms, _time_ms(event))
    return run_ms + GRACE_MS + 1


def _is_timeout(event: AnyEvent) -> bool:
    return isinstance(event, Passed | Voted | Offered | Planned) and event.by == "timeout"


def _time_ms(event: AnyEvent, default: int = 0) -> int:
    at_ms: int = getattr(event, "at_ms", default)
    return at_ms

"""A heat's state at one moment, and what each event changes in it: all changes of state live in this file.

evolve accepts every event and checks none: only the rules (charleston.py) make events, and only valid ones. A State
holds every hidden tile and must never leave the server before the reveal; a seat gets a view instead.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from shared.rules.events import (
    Agreed,
    AnyEvent,
    ClocksRan,
    ClocksStopped,
    DeadlinesMoved,
    Dealt,
    Decided,
    EastWon,
    HeatEnded,
    Moved,
    Offered,
    Passed,
    Planned,
    RackArranged,
    StepBegan,
    TakenBack,
    Tiles,
    TilesLifted,
    Voided,
    Voted,
)
from shared.rules.pace import Clock
from shared.rules.seats import SEATS, Direction, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Rack, Tile, remove

Answer = Passed | Voted | Offered | Planned


@dataclass(frozen=True, slots=True)
class Draft:
    """What a seat has lifted and not committed."""

    tiles: Tiles = ()
    blind: int = 0


@dataclass(frozen=True, slots=True)
class DoneStep:
    """A closed step: each seat's answer (None if it was not asked), its budget, the tiles it sent and received, and the
    seat that got what it sent (itself where it sent nothing)."""

    step: StepName
    answers: PerSeat[Answer | None]
    budgets_ms: PerSeat[int]
    sent: PerSeat[Rack]
    came: PerSeat[Rack]
    to: PerSeat[Seat]


_NOTHING: PerSeat[Rack] = PerSeat.all(())
_NO_ANSWERS: PerSeat[Answer | None] = PerSeat.all(None)


@dataclass(frozen=True, slots=True)
class State:
    """A heat at one moment. Holds every hidden tile, so it must never leave the server.

    owes marks the seats that have not answered the running step; agreed is how many tiles each seat gives in the
    exchange at hand, and partners with whom; face_down are tiles that came in and belong to no rack yet, since nobody
    may look at them before everybody has said go on or stop; won says that East was dealt a complete hand; carried_ms
    is the time each seat left unused in its last step. Counted in the running step: drafted (lifts and arranges of each
    seat), taken_back (answers of each seat), held (pauses and extensions by the host).
    """

    settings: Settings
    racks: PerSeat[Rack] = _NOTHING
    dealt: PerSeat[Rack] = _NOTHING
    wall: Rack = ()
    aside: Rack = ()
    step: StepName | None = None
    owes: PerSeat[bool] = PerSeat.all(False)
    answers: PerSeat[Answer | None] = _NO_ANSWERS
    drafts: PerSeat[Draft] = PerSeat.all(Draft())
    drafted: PerSeat[int] = PerSeat.all(0)
    taken_back: PerSeat[int] = PerSeat.all(0)
    held: int = 0
    fresh: PerSeat[Rack] = _NOTHING
    face_down: PerSeat[Rack] = _NOTHING
    stopped: bool = False
    agreed: PerSeat[int] = PerSeat.all(0)
    partners: PerSeat[Seat] = PerSeat(SEATS)
    clocks: PerSeat[Clock] = PerSeat.all(Clock())
    carried_ms: PerSeat[int] = PerSeat.all(0)
    paused: bool = False
    over: bool = False
    won: bool = False
    voids: int = 0
    done: tuple[DoneStep, ...] = ()


def replay(settings: Settings, events: Iterable[AnyEvent]) -> State:
    """Rebuild the state of a heat from its events."""
    state = State(settings)
    for event in events:
        state = evolve(state, event)
    return state


def evolve(state: State, event: AnyEvent) -> State:
    """Return the state after an event."""
    match event:
        case Dealt():
            racks = PerSeat[Rack](event.racks)
            return replace(state, racks=racks, dealt=racks, wall=event.wall)
        case Voided():
            return replace(state, voids=state.voids + 1)
        case EastWon():
            return replace(state, won=True)
        case StepBegan():
            return _begun(state, event)
        case TilesLifted():
            drafts = state.drafts.with_(Seat(event.seat), Draft(event.tiles, event.blind))
            return replace(state, drafts=drafts, drafted=_one_more(state.drafted, event.seat))
        case RackArranged():
            racks = state.racks.with_(Seat(event.seat), event.tiles)
            return replace(state, racks=racks, drafted=_one_more(state.drafted, event.seat))
        case Passed() | Voted() | Offered() | Planned():
            return _answered(state, event)
        case TakenBack():
            seat = Seat(event.seat)
            clocks = state.clocks.with_(seat, state.clocks[seat].started(event.at_ms))
            answers, owes = state.answers.with_(seat, None), state.owes.with_(seat, True)
            taken_back = _one_more(state.taken_back, event.seat)
            return replace(state, answers=answers, owes=owes, clocks=clocks, taken_back=taken_back)
        case Moved():
            return _moved(state, event)
        case Decided():
            racks = PerSeat.of(lambda seat: state.racks[seat] + state.face_down[seat])
            fresh = state.face_down if any(state.face_down) else state.fresh
            turned = replace(_closed(state), racks=racks, fresh=fresh, face_down=_NOTHING)
            return replace(turned, stopped=not event.go_on)
        case Agreed():
            partners = PerSeat.of(lambda seat: partner(state.answers[seat], seat) if event.counts[seat] else seat)
            return replace(_closed(state), agreed=PerSeat(event.counts), partners=partners)
        case ClocksStopped():
            clocks = PerSeat.of(lambda seat: state.clocks[seat].stopped(event.at_ms))
            return replace(state, paused=True, clocks=clocks, held=state.held + 1)
        case ClocksRan():
            running = PerSeat.of(
                lambda seat: state.clocks[seat].started(event.at_ms) if state.owes[seat] else state.clocks[seat]
            )
            return replace(state, paused=False, clocks=running)
        case DeadlinesMoved():
            held = state.held + (event.why == "host")
            return replace(state, clocks=PerSeat.of(lambda seat: _later(state, seat, event)), held=held)
        case HeatEnded():
            ended = _closed(state) if state.step == "plan" else state
            return replace(ended, step=None, over=True)


def _begun(state: State, event: StepBegan) -> State:
    length_ms = state.settings.length_ms(event.step)
    is_give = STEPS[event.step].ask == "give"
    owes = PerSeat.of(lambda seat: not is_give or state.agreed[seat] > 0)
    outside = STEPS[event.step].ask == "plan"

    def clock(seat: Seat) -> Clock:
        carried_ms = 0 if outside else state.carried_ms[seat]
        fresh = Clock(length_ms + carried_ms, carried_ms)
        return fresh.started(event.at_ms) if owes[seat] else Clock()

    return replace(
        state,
        step=event.step,
        owes=owes,
        answers=_NO_ANSWERS,
        drafts=PerSeat.all(Draft()),
        clocks=PerSeat.of(clock),
    )


def _answered(state: State, answer: Answer) -> State:
    seat = Seat(answer.seat)
    clock = replace(state.clocks[seat], used_ms=answer.spent_ms, since_ms=None)
    drafts = state.drafts
    if isinstance(answer, Passed):
        drafts = drafts.with_(seat, Draft(answer.tiles, answer.blind))
    return replace(
        state,
        owes=state.owes.with_(seat, False),
        answers=state.answers.with_(seat, answer),
        drafts=drafts,
        clocks=state.clocks.with_(seat, clock),
    )


def _closed(state: State, sent: PerSeat[Rack] = _NOTHING, came: PerSeat[Rack] = _NOTHING) -> State:
    assert state.step is not None
    asked = state.answers

    def carried_ms(seat: Seat) -> int:
        clock = state.clocks[seat]
        return clock.budget_ms - clock.used_ms if asked[seat] else state.carried_ms[seat]

    budgets_ms = PerSeat.of(lambda seat: state.clocks[seat].budget_ms)
    carried = PerSeat.of(carried_ms) if state.settings.carry_over else state.carried_ms
    return replace(
        state,
        done=(*state.done, DoneStep(state.step, asked, budgets_ms, sent, came, _receivers(state))),
        carried_ms=carried,
        drafts=PerSeat.all(Draft()),
        drafted=PerSeat.all(0),
        taken_back=PerSeat.all(0),
        held=0,
    )


def _receivers(state: State) -> PerSeat[Seat]:
    assert state.step is not None
    step = STEPS[state.step]
    if step.ask == "give":
        return state.partners
    direction = step.direction if step.ask == "pass" else None
    return PerSeat.of(lambda seat: seat.to(direction) if direction else seat)


def _moved(state: State, event: Moved) -> State:
    sent, came = PerSeat[Rack](event.sent), PerSeat[Rack](event.came)

    seen, hidden = (_NOTHING, came) if state.settings.hides(event.step) else (came, _NOTHING)

    def rack(seat: Seat) -> Rack:
        # Where four seats forward three each, nothing moves: own_tiles is then empty, and so is what came.
        return (remove(state.racks[seat], own_tiles(state.answers[seat])) or ()) + seen[seat]

    wall, aside = state.wall, state.aside
    if state.settings.incoming == "wall":
        forwarded = [tile for seat in SEATS for tile in sent[seat][len(own_tiles(state.answers[seat])) :]]
        wall = _without(wall, (*forwarded, *(tile for seat in SEATS for tile in came[seat])))
        aside = (*aside, *(tile for seat in SEATS for tile in sent[seat]))
    racks, closed = PerSeat.of(rack), _closed(state, sent, came)
    return replace(closed, racks=racks, fresh=seen, face_down=hidden, wall=wall, aside=aside)


def _one_more(counts: PerSeat[int], seat: int) -> PerSeat[int]:
    return counts.with_(Seat(seat), counts[seat] + 1)


def _without(wall: Rack, drawn: Iterable[Tile]) -> Rack:
    left = list(wall)
    for tile in drawn:
        left.remove(tile)
    return tuple(left)


def _later(state: State, seat: Seat, event: DeadlinesMoved) -> Clock:
    clock = state.clocks[seat]
    if event.why == "stall":
        return clock.forgiven(event.by_ms)
    return clock.extended(event.by_ms) if state.owes[seat] else clock


def partner(answer: Answer | None, seat: Seat) -> Seat:
    """Return the seat with which an answer offers to exchange tiles; the seat itself if it offers nothing."""
    return seat.to(Direction[answer.to.upper()]) if isinstance(answer, Offered) and answer.count else seat


def agreed(answers: PerSeat[Answer | None], seat: Seat) -> int:
    """Return the smaller of two offers that name each other, else none."""
    other = partner(answers[seat], seat)
    counts = [answer.count for one in (seat, other) if isinstance(answer := answers[one], Offered)]
    return min(counts) if partner(answers[other], other) == seat else 0


def own_tiles(answer: Answer | None) -> Tiles:
    """Return the tiles that an answer gives from the seat's own rack."""
    return answer.tiles if isinstance(answer, Passed) else ()

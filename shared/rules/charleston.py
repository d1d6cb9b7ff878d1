"""The rules of one heat: which intents are allowed, which events follow, and how a step closes.

    decide(state, seat, intent, now_ms, by, dice) -> events or a Refusal
    tick(state, now_ms, dice)                     -> the timeout answers of seats whose time is up

A heat is a list of events; state.py folds them into a State. The functions here read the state and return the
next events. The last answer of a step also closes it: tiles move and the next step begins. Nothing here may read
a clock, draw a random number or know a socket; `dice` maps a step to the heat's own random stream, which only
chooses the tiles of blind passes. A refusal changes nothing and gives the player a reason in one sentence.
"""

from collections import Counter
from collections.abc import Callable

from shared.rules.events import (
    Agreed,
    AnyEvent,
    By,
    ClocksRan,
    ClocksStopped,
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
    four,
)
from shared.rules.exchange import exchange
from shared.rules.intents import Arrange, Lift, Offer, Pass, Plan, SeatIntent, TakeBack, Vote
from shared.rules.pace import GRACE_MS, expired
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.state import Answer, State, agreed, evolve, own_tiles
from shared.rules.steps import SECOND, STEP_NAMES, STEPS, StepName
from shared.rules.tiles import JOKER, Rack, by_suit, name, remove
from shared.rules.wall import Stream, build_wall, deal

Dice = Callable[[StepName], Stream]
Events = tuple[AnyEvent, ...]
DRAFTS = 1_000
"""How often a seat may lift or arrange in one step: more than anybody needs, and it limits the size of a heat."""
TAKEN_BACK = 20
"""How often a seat may take its answer back in one step."""
HELD = 100
"""How often a host may pause or give more time in one step."""


def open_heat(settings: Settings, key: bytes, complete: Callable[[Rack], bool]) -> Events:
    """Deal a heat and begin its first step at 0 ms.

    complete says whether a 14-tile rack is a finished hand of the card in use. If East's is, the deal is void and
    we deal again, or East has won, as the table's settings say: no Charleston is played (both are common practice).
    """
    events: list[AnyEvent] = []
    for attempt in range(1_000):
        racks, wall = deal(build_wall(key, settings.jokers, attempt))
        events.append(Dealt(racks=four(racks), wall=wall))
        if not complete(racks[Seat.EAST]):
            break
        if settings.east_complete == "wins":
            return (*events, EastWon(), HeatEnded(at_ms=0))
        events.append(Voided())
    return (*events, StepBegan(step="first right", at_ms=0))


# ---- intents and deadlines


def decide(state: State, seat: Seat, intent: SeatIntent, now_ms: int, by: By, dice: Dice) -> Events | Refusal:
    """Return the events that follow from a seat's intent read at now_ms, or the refusal."""
    if state.over and isinstance(intent, Arrange):
        return Refusal("ended", "This heat has ended.")
    if state.paused:
        return Refusal("paused", "The table is paused; wait until the host goes on.")
    if isinstance(intent, Arrange | Lift) and state.drafted[seat] >= DRAFTS:
        return Refusal("too often", f"You have lifted or moved tiles {DRAFTS} times in this step; now only commit.")
    match intent:
        case Arrange():
            if Counter(intent.tiles) != Counter(state.racks[seat]):
                return Refusal("other tiles", "This is not the rack as it stands now; nothing was rearranged.")
            return (RackArranged(seat=seat, tiles=intent.tiles),)
        case Lift():
            refusal = _closed_to(state, seat, intent.step, now_ms) or _bad_draft(state, seat, intent)
            return refusal or (TilesLifted(seat=seat, tiles=intent.tiles, blind=intent.blind),)
        case TakeBack():
            return _take_back(state, seat, intent, now_ms)
        case _:
            return _answer(state, seat, intent, now_ms, by, dice)


def tick(state: State, now_ms: int, dice: Dice) -> Events:
    """Answer for every seat whose time and grace are up, and close the step if nobody else owes an answer."""
    late: list[tuple[int, Seat]] = []
    for seat in SEATS:
        deadline_ms = state.clocks[seat].deadline_ms()
        if state.owes[seat] and deadline_ms is not None and expired(state.clocks[seat], now_ms):
            late.append((deadline_ms, seat))
    # In the order of their deadlines, so that one late tick gives the same events as several punctual ones.
    answers = tuple(_timeout_answer(state, seat, deadline_ms) for deadline_ms, seat in sorted(late))
    return _with_closing(state, answers, now_ms, dice) if answers else ()


def next_deadline_ms(state: State) -> int | None:
    """Return when to call tick next, or None while no clock runs."""
    deadlines = [state.clocks[seat].deadline_ms() for seat in SEATS if state.owes[seat]]
    running = [deadline for deadline in deadlines if deadline is not None]
    return min(running) + GRACE_MS + 1 if running else None


def pause(state: State, now_ms: int) -> Events | Refusal:
    """Stop all clocks."""
    if state.over or state.paused:
        return Refusal("not now", "There is nothing to pause.")
    return (ClocksStopped(at_ms=now_ms),)


def resume(state: State, now_ms: int) -> Events | Refusal:
    """Start the clocks again."""
    if state.over or not state.paused:
        return Refusal("not now", "The table is not paused.")
    return (ClocksRan(at_ms=now_ms),)


def give_count(state: State, seat: Seat) -> int:
    """Return how many tiles a seat gives in the running step: three, the agreed courtesy, or none."""
    if state.step is None:
        return 0
    ask = STEPS[state.step].ask
    return 3 if ask == "pass" else state.agreed[seat] if ask == "give" else 0


def most_blind(state: State) -> int:
    """Return how many tiles may be passed on unseen at the running step."""
    return state.settings.most_blind(state.step) if state.step else 0


def timeout_tiles(rack: Rack, draft: Tiles, count: int) -> Tiles:
    """Return what a timeout passes: the lifted tiles, topped up with the rightmost ones that are not jokers."""
    lifted = draft[:count]
    rest = remove(rack, lifted) or ()
    free = [tile for tile in reversed(rest) if tile != JOKER]
    return (*lifted, *free[: count - len(lifted)])


def _answer(
    state: State, seat: Seat, intent: Pass | Vote | Offer | Plan, now_ms: int, by: By, dice: Dice
) -> Events | Refusal:
    spent_ms = state.clocks[seat].spent(now_ms)
    answer: Answer
    match intent:
        case Pass():
            step = intent.step
            answer = Passed(seat=seat, at_ms=now_ms, spent_ms=spent_ms, by=by, tiles=intent.tiles, blind=intent.blind)
        case Vote():
            step = "go on"
            answer = Voted(seat=seat, at_ms=now_ms, spent_ms=spent_ms, by=by, go_on=intent.go_on)
        case Offer():
            step = "courtesy offer" if intent.to == "across" else "side offer"
            answer = Offered(seat=seat, at_ms=now_ms, spent_ms=spent_ms, by=by, count=intent.count, to=intent.to)
        case Plan():
            step = "plan"
            answer = Planned(
                seat=seat,
                at_ms=now_ms,
                spent_ms=spent_ms,
                by=by,
                hand=intent.hand,
                discards=intent.discards,
            )
    refusal = _closed_to(state, seat, step, now_ms) or _bad_answer(state, seat, intent)
    return refusal or _with_closing(state, (answer,), now_ms, dice)


def _closed_to(state: State, seat: Seat, step: StepName, now_ms: int) -> Refusal | None:
    """Return why a seat cannot answer a step now, or None if it can."""
    answer = state.answers[seat] if step == state.step else _last_answer(state, seat, step)
    if answer is not None and answer.by == "timeout":
        return _late(now_ms - answer.at_ms)
    if step != state.step:
        running = f"the table is at {state.step}" if state.step else "no step is running"
        return Refusal("out of turn", f"This was meant for {step}, but {running}.")
    if answer is not None:
        return Refusal("already answered", f"You have already answered {step}.")
    if not state.owes[seat]:
        return Refusal("out of turn", f"Nothing is asked of you at {step}.")
    clock = state.clocks[seat]
    if expired(clock, now_ms):
        return _late(now_ms - (clock.deadline_ms() or 0))
    return None


def _last_answer(state: State, seat: Seat, step: StepName) -> Answer | None:
    return next((done.answers[seat] for done in state.done if done.step == step), None)


def _late(by_ms: int) -> Refusal:
    return Refusal("late", f"Too late by {by_ms} ms: the clock had already answered for you.", by_ms)


def _bad_answer(state: State, seat: Seat, intent: SeatIntent) -> Refusal | None:
    match intent:
        case Pass():
            if STEPS[intent.step].ask not in ("pass", "give"):
                return Refusal("out of turn", f"No tiles are passed at {intent.step}.")
            refusal = _bad_tiles(state, seat, intent.tiles) or _bad_blind(state, intent.blind)
            wanted = give_count(state, seat) - intent.blind
            return refusal or _bad_count(len(intent.tiles), wanted)
        case Plan():
            if remove(state.racks[seat], intent.discards) is None:
                return Refusal("no such discard", "A named discard is not in your rack.")
    return None


def _bad_draft(state: State, seat: Seat, intent: Lift) -> Refusal | None:
    most = give_count(state, seat)
    if len(intent.tiles) + intent.blind > most:
        return Refusal("too many", f"At most {most} tiles can be lifted here.")
    return _bad_tiles(state, seat, intent.tiles) or _bad_blind(state, intent.blind)


def _bad_count(given: int, wanted: int) -> Refusal | None:
    if given == wanted:
        return None
    return Refusal(
        "too few" if given < wanted else "too many",
        f"Exactly {wanted} of your own tiles go here; you chose {given}.",
    )


def _bad_blind(state: State, blind: int) -> Refusal | None:
    most = most_blind(state)
    if blind and not most:
        return Refusal("no blind here", "No tile can be passed on unseen at this step.")
    if blind > most:
        tiles = "one tile" if most == 1 else "two tiles"
        return Refusal("too many", f"At this table at most {tiles} may be passed on unseen.")
    return None


def _bad_tiles(state: State, seat: Seat, tiles: Tiles) -> Refusal | None:
    rack = Counter(state.racks[seat])
    for tile, count in Counter(tiles).items():
        if tile == JOKER:
            return Refusal("joker", "A joker is never passed.")
        if not rack[tile]:
            return Refusal("not held", f"There is no {name(tile)} in your rack.")
        if count > rack[tile]:
            return Refusal("too few copies", f"You hold {rack[tile]} of {name(tile)}, not {count}.")
    return None


def _take_back(state: State, seat: Seat, intent: TakeBack, now_ms: int) -> Events | Refusal:
    answer = state.answers[seat] if intent.step == state.step else None
    if answer is None:
        return Refusal("nothing to take back", "You have committed nothing in this step that is still open.")
    if answer.by == "timeout":
        return _late(now_ms - answer.at_ms)
    if state.settings.final_at == "commit":
        return Refusal("final", "At this table a committed answer is final.")
    if state.taken_back[seat] >= TAKEN_BACK:
        return Refusal("too often", f"You have taken back {TAKEN_BACK} answers in this step; this one stands.")
    if not state.clocks[seat].left(now_ms):
        return Refusal("final", "Your time for this step is used up, so what you committed stands.")
    return (TakenBack(seat=seat, at_ms=now_ms),)


def _timeout_answer(state: State, seat: Seat, at_ms: int) -> Answer:
    assert state.step is not None
    spent_ms = state.clocks[seat].budget_ms
    match STEPS[state.step].ask:
        case "vote":
            go_on = state.settings.silence == "go on"
            return Voted(seat=seat, at_ms=at_ms, spent_ms=spent_ms, by="timeout", go_on=go_on)
        case "offer":
            return Offered(seat=seat, at_ms=at_ms, spent_ms=spent_ms, by="timeout", count=0)
        case "plan":
            return Planned(seat=seat, at_ms=at_ms, spent_ms=spent_ms, by="timeout", hand="", discards=())
        case _:
            tiles = timeout_tiles(state.racks[seat], state.drafts[seat].tiles, give_count(state, seat))
            return Passed(seat=seat, at_ms=at_ms, spent_ms=spent_ms, by="timeout", tiles=tiles, blind=0)


# ---- closing a step


def _with_closing(state: State, events: Events, now_ms: int, dice: Dice) -> Events:
    """Return the events; if nobody owes an answer after them, add those that close the step."""
    for event in events:
        state = evolve(state, event)
    if any(state.owes):
        return events
    outcome = _outcome(state, now_ms, dice)
    for event in outcome:
        state = evolve(state, event)
    assert state.step is not None
    steps = route(state)
    following = steps[steps.index(state.step) + 1 :]
    end: AnyEvent = StepBegan(step=following[0], at_ms=now_ms) if following else HeatEnded(at_ms=now_ms)
    return (*events, *outcome, end)


def _outcome(state: State, now_ms: int, dice: Dice) -> Events:
    assert state.step is not None
    answers = state.answers
    match STEPS[state.step].ask:
        case "vote":
            go_on = all(answer.go_on for answer in answers if isinstance(answer, Voted))
            return (Decided(go_on=go_on, at_ms=now_ms),)
        case "offer":
            counts = PerSeat.of(lambda seat: agreed(answers, seat))
            return (Agreed(counts=(counts[0], counts[1], counts[2], counts[3]), at_ms=now_ms),)
        case "plan":
            return ()
        case _:
            sent, came = _movement(state, dice)
            return (Moved(step=state.step, sent=four(sent), came=four(came), at_ms=now_ms),)


def _movement(state: State, dice: Dice) -> tuple[PerSeat[Rack], PerSeat[Rack]]:
    assert state.step is not None
    step = STEPS[state.step]
    own = PerSeat.of(lambda seat: own_tiles(state.answers[seat]))
    blind = PerSeat.of(lambda seat: _blind(state.answers[seat]))
    if state.settings.incoming == "racks":
        if step.ask == "give":
            return own, PerSeat.of(lambda seat: by_suit(own[state.partners[seat]]))
        assert step.direction is not None
        return exchange(own, blind, step.direction, dice(state.step))
    free = iter([tile for tile in state.wall if tile != JOKER])
    forwarded = PerSeat.of(lambda seat: tuple(next(free) for _ in range(blind[seat])))
    came = PerSeat.of(lambda seat: tuple(next(free) for _ in own[seat]))
    return PerSeat.of(lambda seat: own[seat] + forwarded[seat]), came


def _blind(answer: Answer | None) -> int:
    return answer.blind if isinstance(answer, Passed) else 0


def route(state: State) -> tuple[StepName, ...]:
    """Return this heat's steps: past, running and to come, as far as the answers so far decide them."""
    return tuple(step for step in STEP_NAMES if state.settings.plays(step) and not _left_out(state, step))


def _left_out(state: State, step: StepName) -> bool:
    """Say whether a stop, or offers that came to nothing, leave out a step."""
    if STEPS[step].ask == "give":
        offer = STEP_NAMES[STEP_NAMES.index(step) - 1]
        offers = [done.answers for done in state.done if done.step == offer]
        return any(not any(agreed(answers, seat) for seat in SEATS) for answers in offers)
    return state.stopped and step in SECOND

"""Decisions that nobody has met before: bots play a heat up to a step, and one seat's decision is taken out of it.

The same key always gives the same decision. Must never hand on more than the one seat knows: the racks of the others
and the wall end here.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from zlib import crc32

import numpy as np

from shared.cards.play import complete
from shared.coach.coach import Coach, coach_of
from shared.coach.decisions import hand_names, position_of
from shared.coach.lived import position_in
from shared.coach.policies import choose
from shared.coach.targets import likeliest_first
from shared.coach.tempting import tempting
from shared.rules.charleston import decide, give_count, open_heat
from shared.rules.decisions import Ask, Decision, Drill
from shared.rules.drills import TEMPTING, Tempting
from shared.rules.heat import dice_of
from shared.rules.intents import Offer, Pass, SeatIntent, Vote
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, Direction, Seat
from shared.rules.settings import Settings
from shared.rules.state import State, evolve, own_tiles, replay
from shared.rules.steps import PASSES, STEPS, StepName
from shared.rules.tiles import Rack
from shared.rules.wall import Stream

GLANCE_MS = 5_000
"""The time for naming a family."""
MOST_SECTIONS = 9
"""Sections to choose from: as many as there are digits to press."""
_MOST_HANDS = 6
"""Hands to choose from."""
_DISCARD_SHARE = 10
"""Percent of a level for the first discard or the hand; our own choice, as the shares of the steps are."""
_TEMPTED_AT: dict[Tempting, StepName] = {"rival": "second across", "dragons": "second across", "flowers": "last right"}
"""When what tempts has come in."""
_GLANCES: tuple[StepName, ...] = ("first right", "first left", "last right")
_TRIES = 100
_HELD = 13


def fresh_decision(coach: Coach, drill: Drill, settings: Settings, card: str, key: bytes) -> Decision:
    """Return a fresh decision of a drill, by the card with this text, which is the coach's.

    Raises:
        ValueError: this drill deals none, or none was found.
    """
    stream = Stream(key, f"decision {drill}")
    settings = settings.model_copy(update={"plan": False, "courtesy": True, "seed": None})
    deal = partial(_deal, coach, card)
    seat = SEATS[stream.below(len(SEATS))]
    match drill:
        case "first":
            return _decision(deal(settings, key, "first right"), seat, "pass", card)
        case "tempting":
            return _tempted(coach, settings, card, key, stream.shuffled(tuple(TEMPTING)))
        case "go on":
            offered = settings.model_copy(update={"second": "offered"})
            played = deal(offered, key, "go on")
            if stream.below(2):  # who is ahead may want to stop, so one of two is the seat with the likeliest hand
                seat = max(SEATS, key=lambda each: _best(coach, _decision(played, each, "vote", card)))
            return _decision(played, seat, "vote", card)
        case "courtesy" if stream.below(2):
            return _decision(deal(settings, key, "courtesy offer"), seat, "offer", card)
        case "courtesy":
            for number in range(_TRIES):
                played = deal(settings, key + bytes([number]), "courtesy give")
                giving = [each for each in SEATS if played.step and played.owes[each]]
                if giving:
                    return _decision(played, giving[stream.below(len(giving))], "give", card)
        case "discard":
            played = deal(settings, key, None)
            length_ms = settings.level_ms * _DISCARD_SHARE // 100
            return replace(_decision(played, Seat.EAST, "discard", card), length_ms=length_ms)
        case "hand":
            played = deal(settings, key, None)
            found = as_hand(coach, _decision(played, seat, "hand", card), stream)
            return replace(found, length_ms=settings.level_ms * _DISCARD_SHARE // 100)
        case "family":
            step = _GLANCES[stream.below(len(_GLANCES))]
            return as_family(coach, _decision(deal(settings, key, step), seat, "pass", card))
    raise ValueError("No such rack was found; try again.")


def decisions_of_rack(rack: Rack, settings: Settings, card: str) -> tuple[Decision, ...]:
    """Return what can be asked about a rack of real tiles: its family, the first pass, with 14 the first discard.

    Raises:
        ValueError: a rack has 13 or 14 tiles.
    """
    coach = coach_of(card)
    if len(rack) not in (_HELD, _HELD + 1) or not isinstance(coach, Coach):
        raise ValueError(f"A rack has 13 or 14 tiles; these are {len(rack)}.")
    seat = Seat.EAST if len(rack) > _HELD else Seat.SOUTH
    first = Decision(
        "pass", "first right", rack, settings, card, settings.length_ms("first right"), seat, seed=_seed(rack)
    )
    length_ms = settings.level_ms * _DISCARD_SHARE // 100
    last = replace(first, ask="discard", step=None, made=len(PASSES), length_ms=length_ms)
    return as_family(coach, first), first, *((last,) if seat == Seat.EAST else ())


def as_family(coach: Coach, decision: Decision) -> Decision:
    """Return a decision with its family asked instead: which section of the card its likeliest hand belongs to.

    Of more sections than there are keys, those of the likeliest hands.
    """
    likeliest = likeliest_first(coach.engine.hands(position_of(decision)))
    near = list(dict.fromkeys(coach.card.hands[reading.hand].section for reading in likeliest))[:MOST_SECTIONS]
    sections = tuple(section.name for section in coach.card.sections if section.name in near)
    return replace(decision, ask="family", length_ms=GLANCE_MS, choices=sections)


def as_hand(coach: Coach, decision: Decision, stream: Stream) -> Decision:
    """Return a decision with its hand asked instead: one of those that are likeliest, in no order."""
    likeliest = likeliest_first(coach.engine.hands(position_of(decision)))[:_MOST_HANDS]
    names = hand_names(coach.card)
    return replace(decision, ask="hand", choices=stream.shuffled(tuple(names[reading.hand] for reading in likeliest)))


def _tempted(coach: Coach, settings: Settings, card: str, key: bytes, kinds: Sequence[Tempting]) -> Decision:
    """Return a decision of a tempting deal, of the first of these kinds of which the card has one."""
    for kind in kinds:
        try:
            laid = tempting(coach, kind, settings, key)
        except ValueError:  # on a small card no hand may rival another
            continue
        played = _play(coach, replay(laid.settings, laid.events), key, _TEMPTED_AT[kind])
        return replace(_decision(played, laid.seat, "pass", card), what=laid.what)
    raise ValueError("This card has no such deal.")


def _best(coach: Coach, decision: Decision) -> float:
    return max(reading.win for reading in coach.engine.hands(position_of(decision)))


def _deal(coach: Coach, card: str, settings: Settings, key: bytes, until: StepName | None) -> State:
    events = open_heat(settings, key, lambda rack: complete(card, rack))
    return _play(coach, replay(settings, events), key, until)


def _play(coach: Coach, state: State, key: bytes, until: StepName | None) -> State:
    """Let bots play until a step begins, or to the end of the heat."""
    dice = dice_of(key)
    chance = np.random.Generator(np.random.PCG64(int.from_bytes(key[:16])))
    while state.step is not None and state.step != until and not state.over:
        for seat in SEATS:
            if not state.owes[seat]:
                continue
            events = decide(state, seat, _answer(coach, state, seat, chance), 0, "bot", dice)
            assert not isinstance(events, Refusal)
            for event in events:
                state = evolve(state, event)
    return state


def _answer(coach: Coach, state: State, seat: Seat, chance: np.random.Generator) -> SeatIntent:
    """Return what a bot does that sees at a glance; it always goes on."""
    step = state.step
    assert step is not None
    passed, made = _passed(state, seat)
    position = position_in(state.settings, step, state.racks[seat], passed, made, give_count(state, seat))
    if position is None:
        return Vote(go_on=True)
    choice = choose(coach.engine, position, "coach, at a glance", chance)
    if STEPS[step].ask == "offer":
        return Offer(count=len(choice.tiles), to=(STEPS[step].direction or Direction.RIGHT).word)
    return Pass(step=step, tiles=choice.tiles, blind=choice.blind)


def _passed(state: State, seat: Seat) -> tuple[Rack, int]:
    """Return the own tiles that a seat has passed, and how many passes it made."""
    passed = tuple(tile for done in state.done for tile in own_tiles(done.answers[seat]))
    return passed, sum(done.step in PASSES for done in state.done)


def _decision(state: State, seat: Seat, ask: Ask, card: str) -> Decision:
    passed, made = _passed(state, seat)
    return Decision(
        ask,
        state.step,
        state.racks[seat],
        state.settings,
        card,
        state.settings.length_ms(state.step) if state.step else 0,
        seat,
        passed,
        state.done[-1].came[seat] if state.done and not any(state.face_down) else (),
        made,
        state.agreed[seat] if ask == "give" else 3,
        len(state.face_down[seat]),
        _seed(state.dealt[seat]),
    )


def _seed(rack: Rack) -> int:
    return crc32(" ".join(rack).encode())

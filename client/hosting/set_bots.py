"""Whether the bots of a heat answered as they do on this machine: they follow from the set's seed and what they saw.

Bots that answered otherwise were played by another version, or changed by hand.
"""

from dataclasses import replace

from server.records import HeatHead
from server.table import bots
from server.table.coaches import thinker
from server.table.running import RunningHeat
from shared.rules.events import Offered, Passed, Planned, StepBegan, Voted
from shared.rules.heat import SavedHeat
from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.seats import SEATS, Seat, chair_of
from shared.rules.state import evolve, replay
from shared.rules.steps import StepName
from shared.rules.tiles import Rack, by_suit
from shared.rules.wall import Stream, wall_key
from shared.wire.views import HeatView

_MOST = 20_000
_ANSWERS: dict[tuple[object, ...], SeatIntent] = {}
"""What bots answer, by all that it follows from: people who play one set meet the same bots again and again."""


def bots_fault(heat: SavedHeat, card: str) -> str:
    """Return a sentence if a bot of a heat did not answer as it does here; card is the text of the heat's card."""
    head = HeatHead(
        number=heat.number,
        east=heat.east,
        settings=heat.settings,
        secret=heat.secret,
        contributions=heat.contributions,
        names=heat.names,
        sitters=heat.sitters,
        played_at=heat.played_at,
    )
    opening = next(at for at, event in enumerate(heat.events) if isinstance(event, StepBegan))
    state = replay(heat.settings, heat.events[:opening])
    running = RunningHeat(head, wall_key(heat.secret, heat.contributions), state, (), 0)
    views: dict[int, HeatView] = {}
    for event in heat.events[opening:]:
        if isinstance(event, Passed | Voted | Offered | Planned) and event.by == "bot":
            answer = _answer(heat, card, views[event.seat])
            if not _is_same(event, answer):
                seat = Seat(event.seat).word
                return f"its bot in {seat} answers otherwise at {running.state.step} than it does here."
        running = replace(running, state=evolve(running.state, event))
        if isinstance(event, StepBegan):
            views = {seat: running.bots_view(chair_of(seat, heat.east), event.at_ms) for seat in SEATS}
    return ""


def _answer(heat: SavedHeat, card: str, view: HeatView) -> SeatIntent:
    assert view.step is not None
    step: StepName = view.step
    given: tuple[Rack, ...] = tuple(done.given for done in view.route)
    asked = heat.commitment, heat.settings.model_dump_json(), card, step, view.seat, view.rack, given, view.give
    if asked not in _ANSWERS:
        if len(_ANSWERS) >= _MOST:
            _ANSWERS.clear()
        stream = Stream(heat.secret, f"bot {heat.number} {step} {Seat(view.seat)}")
        bots.delay_ms(heat.settings, step, stream)  # its delay is drawn first
        _ANSWERS[asked] = thinker(heat.settings, card)(view, stream)
    return _ANSWERS[asked]


def _is_same(event: Passed | Voted | Offered | Planned, answer: SeatIntent) -> bool:
    match event, answer:
        case Passed(), Pass():
            return by_suit(event.tiles) == by_suit(answer.tiles) and event.blind == answer.blind
        case Voted(), Vote():
            return event.go_on == answer.go_on
        case Offered(), Offer():
            return event.count == answer.count
        case Planned(), Plan():
            return event.discards == answer.discards
    return False

"""What the bots of a heat answer on this machine: it follows from the set's seed and what they saw.

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
from shared.rules.result_line import Bot
from shared.rules.seats import Seat, chair_of
from shared.rules.settings import Settings
from shared.rules.state import State, evolve
from shared.rules.steps import StepName
from shared.rules.tiles import Rack, by_suit
from shared.rules.wall import Stream

_MOST = 20_000
_ANSWERS: dict[tuple[object, ...], SeatIntent] = {}
"""What bots answer, by all that it follows from: people who play one set meet the same bots again and again."""


def bots_of(settings: Settings, secret: bytes, number: int, east: int, card: str) -> Bot:
    """Return what the bots of a heat answer, by the heat's state when the step began; card is the card's text."""
    none = ("", "", "", "")
    head = HeatHead(
        number=number,
        east=east,
        settings=settings,
        secret=secret,
        contributions=(b"", b"", b"", b""),
        names=none,
        sitters=none,
        played_at="",
    )
    running = RunningHeat(head, b"", State(settings), (), 0)
    said = settings.model_dump_json()

    def answer(state: State, seat: Seat) -> SeatIntent:
        view = replace(running, state=state).bots_view(chair_of(seat, east), 0)
        assert view.step is not None
        step: StepName = view.step
        given: tuple[Rack, ...] = tuple(done.given for done in view.route)
        asked = secret, said, card, step, view.seat, view.rack, given, view.give
        if asked not in _ANSWERS:
            if len(_ANSWERS) >= _MOST:
                _ANSWERS.clear()
            stream = Stream(secret, f"bot {number} {step} {seat}")
            bots.delay_ms(settings, step, stream)  # its delay is drawn first
            _ANSWERS[asked] = thinker(settings, card)(view, stream)
        return _ANSWERS[asked]

    return answer


def bots_fault(heat: SavedHeat, card: str) -> str:
    """Return a sentence if a bot of a heat did not answer as it does here; card is the text of the heat's card."""
    answer = bots_of(heat.settings, heat.secret, heat.number, heat.east, card)
    state = asked = State(heat.settings)
    for event in heat.events:
        if isinstance(event, Passed | Voted | Offered | Planned) and event.by == "bot":
            seat = Seat(event.seat)
            if not _is_same(event, answer(asked, seat)):
                return f"its bot in {seat.word} answers otherwise at {state.step} than it does here."
        state = evolve(state, event)
        if isinstance(event, StepBegan):
            asked = state
    return ""


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

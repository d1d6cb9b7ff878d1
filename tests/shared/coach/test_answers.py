"""What coached bots answer: legal at every step of any heat, and from nothing but their seat's view."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.coach.answers import answer
from shared.coach.passes import Position
from shared.coach.policies import STRENGTHS, Strength
from shared.coach.votes import votes
from shared.rules import charleston
from shared.rules.intents import Offer, Pass, Plan, Vote
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.state import State
from shared.rules.steps import STEPS
from shared.rules.tiles import KINDS
from shared.rules.typed_tiles import typed
from shared.wire.views import HeatView, heat_view
from tests.heats import Heat, veiled
from tests.shared.coach.lives import coach, random_answer, random_settings

COACHED: tuple[Strength, ...] = STRENGTHS[-3:]


def view(state: State, seat: Seat) -> HeatView:
    return heat_view(state, seat, 1, PerSeat((0, 1, 2, 3)), 0, charleston.route(state))


@settings(max_examples=25)
@given(st.integers(0, 10**6), st.sampled_from(COACHED), st.sampled_from(SEATS))
def test_every_answer_is_legal_and_the_same_whatever_the_seat_cannot_see(
    seed: int, strength: Strength, seat: Seat
) -> None:
    dice = random.Random(seed)
    heat = Heat(random_settings(dice), contributions=(dice.randbytes(16), b"", b"", b""))
    while not heat.state.over:
        for other in SEATS:
            if not heat.state.owes[other]:
                continue
            if other != seat:
                heat.do(other, random_answer(heat.state, other, dice))
                continue
            found = answer(coach(), view(heat.state, seat), heat.settings, strength, seed)
            hidden = veiled(heat.state, seat)
            assert answer(coach(), view(hidden, seat), heat.settings, strength, seed) == found
            heat.do(seat, found)


@pytest.mark.parametrize("ask", ["pass", "vote", "offer", "give", "plan"])
def test_each_question_gets_its_kind_of_answer(ask: str) -> None:
    step = next(name for name in STEPS if STEPS[name].ask == ask)
    heat = Heat(
        random_settings(random.Random(1)).model_copy(update={"second": "offered", "courtesy": True, "plan": True})
    )
    heat.go_to(step)
    found = answer(coach(), view(heat.state, Seat.EAST), heat.settings, "coach, at a glance", 1)
    kinds = {"pass": Pass, "vote": Vote, "offer": Offer, "give": Pass, "plan": Plan}
    assert isinstance(found, kinds[ask])
    assert not isinstance(heat.ask(Seat.EAST, found), Refusal)


def test_a_plan_names_the_hand_that_is_there_and_no_tile_of_it() -> None:
    hand = coach().card.hands[0]
    patterns = coach().engine.patterns
    wanted = (patterns.pairs[0] + patterns.groups[0]).tolist()
    heat = Heat(random_settings(random.Random(1)).model_copy(update={"plan": True})).go_to("plan")
    full = [kind for kind, count in zip(KINDS, wanted, strict=True) for _ in range(count)]
    seen = view(heat.state, Seat.EAST).model_copy(update={"rack": tuple(full)})
    found = answer(coach(), seen, heat.settings, "coach, thinking ahead", 1)
    assert isinstance(found, Plan)
    assert found == Plan(hand=hand.id, discards=())


def test_nobody_goes_on_from_a_finished_hand_and_everybody_does_from_a_poor_one() -> None:
    patterns = coach().engine.patterns
    wanted = (patterns.pairs[0] + patterns.groups[0]).tolist()
    full = tuple(kind for kind, count in zip(KINDS, wanted, strict=True) for _ in range(count))
    poor = typed("1b 4b 8b 1c 4c 9c 2d 5d 9d N E W S")
    assert votes(coach().engine, Position(full, (), 3, ()), 1).clearly_stop
    assert votes(coach().engine, Position(poor, (), 3, ()), 1).gap.points > 0
    heat = Heat(random_settings(random.Random(1)).model_copy(update={"second": "offered"})).go_to("go on")
    for rack, goes_on in ((full, False), (poor, True)):
        seen = view(heat.state, Seat.EAST).model_copy(update={"rack": rack})
        assert answer(coach(), seen, heat.settings, "coach, at a glance", 1) == Vote(go_on=goes_on)

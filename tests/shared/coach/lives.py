"""Heats in which every seat answers at random by the rules, for the coach to look at (invented data)."""

import random
from pathlib import Path

from shared.coach.coach import Coach, coach_of
from shared.rules.charleston import give_count, most_blind
from shared.rules.heat import SavedHeat
from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import SEATS, Seat
from shared.rules.settings import Settings
from shared.rules.state import State
from shared.rules.steps import STEPS
from tests.heats import Heat, passable

CARDS = Path(__file__).parents[1] / "cards" / "fixtures"
TEXT = (CARDS / "first_evening_1.toml").read_text(encoding="utf-8")
"""The first evening's card as it was when the heats of these tests were chosen; so nothing here moves with the card."""
TINY = """
[card]
title = "Two hands"
year = 2026
note = "For tests that look at very many heats."
[[section]]
name = "Both"
about = "One hand with room for jokers, and one without."
[[section.hand]]
id = "groups"
groups = "F^4 n.p^3 n+1.p^4 n+2.p^3"
concealed = false
value = 30
[[section.hand]]
id = "pairs"
groups = "N^2 E^2 W^2 S^2 R^2 G^2 O^2"
concealed = true
value = 50
"""


def coach(text: str = TEXT) -> Coach:
    """Return the coach of a card: of the small one, which is quick, or of another."""
    found = coach_of(text)
    assert isinstance(found, Coach)
    return found


def random_settings(dice: random.Random) -> Settings:
    """Return settings of every kind that changes what a seat can know or do."""
    return Settings(
        second=dice.choice(("offered", "offered", "always", "never")),
        blind=dice.random() < 0.7,
        courtesy=dice.random() < 0.8,
        plan=dice.random() < 0.5,
        jokers=dice.choice((8, 8, 0)),
        incoming=dice.choice(("racks", "racks", "wall")),
    )


def random_answer(state: State, seat: Seat, dice: random.Random) -> SeatIntent:
    """Return any legal answer."""
    assert state.step is not None
    match STEPS[state.step].ask:
        case "vote":
            return Vote(go_on=dice.random() < 0.9)
        case "offer":
            count = dice.randint(0, 3)
            way = "across" if STEPS[state.step].direction else dice.choice(("right", "left"))
            return Offer.model_validate({"count": count, "to": way})
        case "plan":
            named = dice.choice(["", "no such hand", *(hand.id for hand in coach().card.hands)])
            return Plan(hand=named, discards=tuple(dice.sample(state.racks[seat], dice.randint(0, 3))))
        case _:
            give = give_count(state, seat)
            most = min(give, most_blind(state))
            blind = dice.randint(0, most) if most and dice.random() < 0.3 else 0
            tiles = dice.sample(passable(state.racks[seat]), give - blind)
            return Pass(step=state.step, tiles=tuple(tiles), blind=blind)


def random_heat(seed: int, settings: Settings | None = None) -> tuple[SavedHeat, State]:
    """Return a heat played at random to its end, some of it by the clock, and its last state."""
    dice = random.Random(seed)
    heat = Heat(settings or random_settings(dice), contributions=(dice.randbytes(16), b"", b"", b""))
    while not heat.state.over:
        if dice.random() < 0.05:
            heat.wait_out()
            continue
        for seat in SEATS:
            heat.wait(dice.randint(0, 900))
            if heat.state.owes[seat]:
                heat.do(seat, random_answer(heat.state, seat, dice))
    return heat.saved().model_copy(update={"card": TEXT}), heat.state


def random_life(seed: int, settings: Settings | None = None) -> SeatHeat:
    """Return such a heat as one of its seats lived it."""
    heat, state = random_heat(seed, settings)
    return seat_heat(heat, state, SEATS[seed % 4])

"""The coach under house variants: what it takes a seat to know is what the seat's view shows, live and afterwards."""

import random
from dataclasses import replace
from typing import Any

import pytest

from client.models.hint import step_closed
from shared.coach.coach import coach_of
from shared.coach.decisions import decision_of, position_of
from shared.coach.lived import LivedHeat, lived
from shared.coach.passes import Position
from shared.coach.ranking import Effort
from shared.coach.review import review, seed_of
from shared.coach.seen import position_now, position_seen
from shared.rules.charleston import route
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import SEATS, PerSeat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.wire.views import HeatView, heat_view
from tests.heats import Heat
from tests.shared.coach.lives import TEXT, random_answer, random_life

CHAIRS = PerSeat((0, 1, 2, 3))
QUICK = Effort(((8, 8),))
MANY: dict[str, Any] = {
    "jokers": 10,
    "silence": "stop",
    "stop_unseen": True,
    "blind_most": 2,
    "side_courtesy": True,
    "second": "offered",
}


def knew(heat: HeatView, settings: Settings) -> Position:
    """Return the position that a hint or a look ahead has at a step."""
    return position_seen(heat, settings) or position_now(heat, settings)


@pytest.mark.parametrize("seed", range(6))
def test_what_a_seat_knew_live_is_what_its_review_says_that_it_knew(seed: int) -> None:
    """Positions from the views before each step, from the view after it, and from the seat's own file are the same."""
    settings, dice = Settings(**MANY), random.Random(seed)
    heat, live, after = Heat(settings, contributions=(dice.randbytes(16), b"", b"", b"")), {}, {}
    seat = SEATS[seed % 4]
    while heat.state.step is not None:
        step: StepName = heat.state.step
        view = heat_view(heat.state, seat, 1, CHAIRS, 0, route(heat.state))
        live[step] = knew(view, settings)
        if closed := step_closed(view, settings):
            after[closed.step] = knew(closed.heat, settings)
        for other in SEATS:
            if heat.state.owes[other]:
                heat.do(other, random_answer(heat.state, other, dice))
    saved = heat.saved().model_copy(update={"card": TEXT})
    own = seat_heat(saved, heat.state, seat)
    found = lived(own)
    assert isinstance(found, LivedHeat)
    for each in found.steps:
        at = live[each.step.step]
        assert (sorted(at.rack), at.face_down) == (sorted(each.rack), each.face_down)
        assert at.face_down == (len(found.steps[2].step.came) if each.step.step == "go on" else 0)
        if each.position is not None:
            assert each.position == at
            assert each.position.jokers == 10
        if each.step.step in after and STEPS[each.step.step].ask != "plan":
            # after a stop no passes are to come any more; a vote is judged without that number
            assert replace(after[each.step.step], later=at.later) == at
        if not isinstance(asked := decision_of(own, each.step.step, TEXT), str):
            assert (sorted(asked.rack), asked.face_down) == (sorted(each.rack), each.face_down)
            assert position_of(asked).face_down == each.face_down
            assert asked.step != "go on" or not asked.came or not asked.face_down


@pytest.mark.parametrize("seed", [0, 1, 5])
def test_a_heat_under_many_variants_is_reviewed_to_its_end(seed: int) -> None:
    life = random_life(seed, Settings(**MANY))
    found, coach = lived(life), coach_of(TEXT)
    assert isinstance(found, LivedHeat)
    *_, last = review(coach, found, seed_of(life), QUICK)  # type: ignore[arg-type]
    assert last.ledger
    assert last.done == 1.0
    judged = {step.lived.step.step: step.verdict for step in last.steps}
    assert all(judged.values())
    vote = judged["go on"]
    assert vote
    assert vote.judged.best.tiles == ()
    blind = [step.lived.position.gives for step in last.steps if step.lived.position and step.lived.position.blind]
    assert blind == [(3, 2, 1)] * len(blind)
    assert blind


def test_a_heat_that_east_won_has_nothing_to_review() -> None:
    played = Heat(Settings(east_complete="wins"))
    life = seat_heat(played.saved(), played.state, SEATS[0]).model_copy(update={"steps": ()})
    life = life.model_copy(update={"final": life.dealt})
    assert life.east_won
    found = lived(life)
    assert isinstance(found, LivedHeat)
    assert found.steps == ()
    *_, last = review(coach_of(TEXT), found, seed_of(life), QUICK)  # type: ignore[arg-type]
    assert last.done == 1.0

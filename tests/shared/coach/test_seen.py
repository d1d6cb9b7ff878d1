"""The coach knows what its seat's view shows, and nothing else."""

from dataclasses import replace
from functools import reduce

import pytest

from shared.coach.lived import LivedHeat, lived
from shared.coach.passes import Position, position_at
from shared.coach.ranking import Effort
from shared.coach.seen import position_seen
from shared.rules.charleston import decide, open_heat
from shared.rules.intents import Pass
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.state import State, evolve, replay
from shared.rules.steps import PASSES, StepName
from shared.rules.tiles import JOKER, Rack
from shared.rules.wall import Stream
from shared.wire.views import heat_view
from tests.shared.coach.lives import random_life
from tests.shared.coach.synthetic import ENGINE

SETTINGS = Settings()
ROUTE: tuple[StepName, ...] = (
    "first right",
    "first across",
    "first left",
    "go on",
    "second left",
    "second across",
    "last right",
    "courtesy offer",
)


def dice(step: StepName) -> Stream:
    """The table's own randomness; only blind passes ask for any."""
    return Stream(b"k" * 32, step)


def opened() -> State:
    return replay(SETTINGS, open_heat(SETTINGS, b"a key of thirty-two bytes, fixed", lambda rack: False))


def see(state: State, seat: Seat) -> Position:
    position = position_seen(heat_view(state, seat, 1, PerSeat((0, 1, 2, 3)), 0, ROUTE), SETTINGS)
    assert position is not None
    return position


def shuffled_elsewhere(state: State, seat: Seat) -> State:
    """Give the three other seats and the wall the same hidden tiles in another order."""
    hidden = [tile for other in SEATS if other != seat for tile in state.racks[other]] + list(state.wall)
    moved = Stream(b"another key of thirty-two bytes!", "shuffle").shuffled(hidden)
    racks, start = {}, 0
    for other in SEATS:
        size = len(state.racks[other])
        racks[other] = state.racks[seat] if other == seat else tuple(moved[start : start + size])
        start += 0 if other == seat else size
    return replace(state, racks=PerSeat.of(lambda other: racks[other]), wall=tuple(moved[start:]))


def test_moving_tiles_that_a_seat_has_not_seen_changes_no_ranking() -> None:
    state = opened()
    for seat in SEATS:
        other = shuffled_elsewhere(state, seat)
        assert other.racks != state.racks
        rankings = [ENGINE.rank(see(deal, seat), 7, Effort(((10, 8),), gifts=True)) for deal in (state, other)]
        assert rankings[0].passes == rankings[1].passes


def test_a_view_gives_the_position_that_the_step_gives() -> None:
    state = opened()
    assert see(state, Seat.EAST) == position_at("first right", state.racks[Seat.EAST], ())


def test_what_was_passed_is_known_and_one_pass_fewer_is_to_come() -> None:
    state = opened()
    given: dict[Seat, Rack] = {}
    for seat in SEATS:
        given[seat] = tuple(tile for tile in state.racks[seat] if tile != JOKER)[:3]
        events = decide(state, seat, Pass(step="first right", tiles=given[seat]), 10, "person", dice)
        assert not isinstance(events, Refusal)
        state = reduce(evolve, events, state)
    for seat in SEATS:
        position = see(state, seat)
        assert sorted(position.passed) == sorted(given[seat])
        assert (position.later, position.gives, position.blind) == (4, (3,), False)
        assert (position.made, position.number) == (1, 1)
        assert len(position.rack) == (14 if seat == Seat.EAST else 13)


def test_where_there_is_no_second_charleston_the_first_pass_is_still_the_first() -> None:
    short = Settings(second="never")
    state = replay(short, open_heat(short, b"a key of thirty-two bytes, fixed", lambda rack: False))
    route: tuple[StepName, ...] = ("first right", "first across", "first left", "courtesy offer")
    position = position_seen(heat_view(state, Seat.EAST, 1, PerSeat((0, 1, 2, 3)), 0, route), short)
    assert position is not None
    assert (position.later, position.number) == (2, 0)


@pytest.mark.parametrize("seed", range(12))
def test_a_heat_looked_at_again_counts_the_passes_that_were_made(seed: int) -> None:
    found = lived(random_life(seed))
    assert isinstance(found, LivedHeat)
    for step in found.steps:
        if step.position:
            made = PASSES.index(step.step.step) if step.step.step in PASSES else step.position.made
            assert (step.position.made, step.position.number) == (made, min(made or 0, 5))
    stopped = not any(step.step.step == "second left" for step in found.steps)
    courtesy = [step.position.made for step in found.steps if step.position and step.position.courtesy]
    assert courtesy == [3 if stopped else 6] * len(courtesy)

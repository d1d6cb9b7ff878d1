"""Seats in order of play and directions as sums."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rules.seats import SEATS, Direction, PerSeat, Seat

A_SEAT, A_DIRECTION = st.sampled_from(SEATS), st.sampled_from(Direction)


def test_the_seats_are_the_four_winds_in_order_of_play_and_the_dealer_is_east() -> None:
    assert [seat.word for seat in SEATS] == ["east", "south", "west", "north"]


def test_the_right_neighbour_plays_next() -> None:
    assert [seat.to(Direction.RIGHT) for seat in SEATS] == [*SEATS[1:], SEATS[0]]


@given(A_SEAT, A_DIRECTION)
def test_what_a_seat_passes_comes_from_it(seat: Seat, direction: Direction) -> None:
    assert seat.to(direction).feeder(direction) == seat
    assert seat.to(direction) != seat


@given(A_SEAT)
def test_right_and_left_are_opposite_and_twice_across_is_home(seat: Seat) -> None:
    assert seat.to(Direction.RIGHT).to(Direction.LEFT) == seat
    assert seat.to(Direction.ACROSS).to(Direction.ACROSS) == seat
    assert seat.to(Direction.RIGHT).to(Direction.RIGHT) == seat.to(Direction.ACROSS)


@given(st.tuples(*[st.integers()] * 4), A_SEAT, st.integers())
def test_a_value_of_one_seat_can_be_changed_and_the_others_stay(
    values: tuple[int, ...], seat: Seat, value: int
) -> None:
    before = PerSeat(values)
    after = before.with_(seat, value)
    assert after[seat] == value
    assert [after[other] for other in SEATS if other != seat] == [before[other] for other in SEATS if other != seat]
    assert before == values
    assert list(after.pairs()) == list(zip(SEATS, after, strict=True))


@pytest.mark.parametrize("count", [0, 1, 3, 5])
def test_there_is_exactly_one_value_a_seat(count: int) -> None:
    with pytest.raises(ValueError, match="four"):
        PerSeat(range(count))

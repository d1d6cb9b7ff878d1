"""Tiles passed on unseen: where each packet comes from, also when all four are blind; own tiles move first."""

from collections import Counter
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shared.rules.exchange import exchange
from shared.rules.seats import SEATS, Direction, PerSeat, Seat
from shared.rules.tiles import JOKER, Rack, by_suit, full_set
from shared.rules.wall import Stream
from tests.chi_square import even

RING = (Direction.LEFT, Direction.RIGHT)
FREE = [tile for tile in full_set() if tile != JOKER]
BLINDS = st.tuples(*[st.integers(0, 3)] * 4)
OWN: tuple[Rack, ...] = (("1b", "2b", "3b"), ("4b", "5b", "6b"), ("7b", "8b", "9b"), ("1c", "2c", "3c"))
"""Twelve different tiles, so that every tile tells whose it was."""


def moved(blind: tuple[int, ...], stream: Stream, direction: Direction = Direction.LEFT) -> Any:
    """Exchange the different tiles."""
    own = PerSeat.of(lambda seat: OWN[seat][: 3 - blind[seat]])
    return exchange(own, PerSeat(blind), direction, stream)


@given(BLINDS, st.permutations(FREE), st.sampled_from(RING), st.binary(max_size=4))
def test_each_gives_exactly_three_and_gets_exactly_three(
    blind: tuple[int, ...], tiles: list[Any], direction: Direction, key: bytes
) -> None:
    own = PerSeat.of(lambda seat: tuple(tiles[3 * seat : 3 * seat + 3 - blind[seat]]))
    sent, came = exchange(own, PerSeat(blind), direction, Stream(key, "exchange"))
    for seat in SEATS:
        packet = 0 if blind == (3, 3, 3, 3) else 3
        received = Counter(sent[seat.feeder(direction)])
        assert len(sent[seat]) == packet
        assert sent[seat][: len(own[seat])] == own[seat], "a packet begins with the seat's own tiles"
        assert received == Counter(came[seat]) + Counter(sent[seat][len(own[seat]) :])
        assert came[seat] == by_suit(came[seat]), "the order in which tiles came tells nothing"
    given_away = Counter(tile for tiles in own for tile in tiles)
    assert given_away == Counter(tile for tiles in came for tile in tiles)


@pytest.mark.parametrize("direction", list(Direction))
def test_without_blind_tiles_each_packet_goes_to_its_neighbour_as_it_is(direction: Direction) -> None:
    sent, came = moved((0, 0, 0, 0), Stream(b"", ""), direction)
    assert sent == OWN
    for seat in SEATS:
        assert came[seat.to(direction)] == OWN[seat]


@given(st.sampled_from(RING), st.binary(max_size=4))
def test_if_all_four_pass_three_blind_no_tile_moves(direction: Direction, key: bytes) -> None:
    sent, came = moved((3, 3, 3, 3), Stream(key, ""), direction)
    assert sent == came == ((), (), (), ())


@given(BLINDS, st.binary(max_size=4))
def test_the_same_stream_forwards_the_same_tiles(blind: tuple[int, ...], key: bytes) -> None:
    assert moved(blind, Stream(key, "")) == moved(blind, Stream(key, ""))


@given(st.sampled_from(SEATS), st.integers(1, 3), st.binary(max_size=4))
def test_three_blind_seats_settle_one_after_the_other_from_the_one_that_sees(
    seeing: Seat, depth: int, key: bytes
) -> None:
    """Three seats that forward all three in a row: the packet travels past them as it is."""
    blind = PerSeat.all(3).with_(seeing, 0)
    sent, came = moved(blind, Stream(key, ""))
    seat = seeing
    for _ in range(depth):
        seat = seat.to(Direction.LEFT)
        assert set(sent[seat]) == set(OWN[seeing])
        assert came[seat] == ()
    assert came[seeing] == OWN[seeing]


# ---- all four blind: own tiles move first


@given(st.binary(max_size=8))
def test_in_a_ring_of_one_each_only_the_feeders_own_tiles_are_forwarded(key: bytes) -> None:
    sent, _ = moved((1, 1, 1, 1), Stream(key, ""))
    for seat in SEATS:
        assert sent[seat][2] in OWN[seat.feeder(Direction.LEFT)][:2]


def test_in_a_ring_of_two_each_the_feeders_own_tile_goes_on_first_and_then_the_one_from_before_it() -> None:
    sent, came = moved((2, 2, 2, 2), Stream(b"any", ""))
    for seat in SEATS:
        feeder = seat.feeder(Direction.LEFT)
        before = feeder.feeder(Direction.LEFT)
        assert sent[seat] == (OWN[seat][0], OWN[feeder][0], OWN[before][0])
        assert came[seat] == (OWN[before.feeder(Direction.LEFT)][0],)


def test_a_single_own_tile_in_a_ring_travels_round_and_comes_home() -> None:
    sent, came = moved((3, 3, 3, 2), Stream(b"any", ""))
    assert came == ((), (), (), ("1c",))
    assert set(sum(sent, ())) == {"1c"}


@given(BLINDS.filter(all), st.binary(max_size=8))
def test_in_a_ring_a_tile_is_forwarded_no_further_than_it_must_be(blind: tuple[int, ...], key: bytes) -> None:
    """A seat that forwards no more than its feeder's own tiles forwards only those."""
    sent, _ = moved(blind, Stream(key, ""))
    for seat in SEATS:
        feeder = seat.feeder(Direction.LEFT)
        own = set(OWN[feeder][: 3 - blind[feeder]])
        if blind[seat] <= len(own):
            assert set(sent[seat][3 - blind[seat] :]) <= own


# ---- the choice is even


def streams(count: int) -> list[Stream]:
    return [Stream(b"even choice", str(number)) for number in range(count)]


@pytest.mark.parametrize("blind", [1, 2])
def test_which_tiles_a_lone_blind_seat_forwards_is_even(blind: int) -> None:
    sent = [moved((blind, 0, 0, 0), stream)[0][Seat.EAST] for stream in streams(3_000)]
    counts = Counter(frozenset(packet[3 - blind :]) for packet in sent)
    choices = [frozenset(choice) for choice in combinations(OWN[Seat.SOUTH], blind)]
    assert set(counts) == set(choices)
    assert even([counts[choice] for choice in choices]) < float(stats.chi2.isf(0.001, 2))


def test_two_opposite_blind_seats_choose_evenly_and_independently() -> None:
    results = [moved((1, 0, 1, 0), stream)[0] for stream in streams(4_500)]
    counts = Counter((sent[Seat.EAST][2], sent[Seat.WEST][2]) for sent in results)
    pairs = list(product(OWN[Seat.SOUTH], OWN[Seat.NORTH]))
    assert set(counts) == set(pairs)
    assert even([counts[pair] for pair in pairs]) < float(stats.chi2.isf(0.001, 8))


def test_a_chain_of_blind_seats_chooses_evenly_among_all_that_came_own_or_forwarded() -> None:
    """North sees and passes left to West, West to South, South to East; each of the three forwards one of three."""
    results = [moved((1, 1, 1, 0), stream)[0] for stream in streams(8_100)]
    places = Counter(
        tuple(sent[seat.feeder(Direction.LEFT)].index(sent[seat][2]) for seat in (Seat.WEST, Seat.SOUTH, Seat.EAST))
        for sent in results
    )
    assert set(places) == set(product(range(3), repeat=3))
    assert even(list(places.values())) < float(stats.chi2.isf(0.001, 26))


def test_in_a_ring_of_one_each_the_choice_between_the_two_own_tiles_is_even_at_every_seat() -> None:
    results = [moved((1, 1, 1, 1), stream)[0] for stream in streams(4_800)]
    counts = Counter(tuple(sent[seat][2] for seat in SEATS) for sent in results)
    assert len(counts) == 16
    assert even(list(counts.values())) < float(stats.chi2.isf(0.001, 15))

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from client.models.rack import HeldRack
from shared.rules.tiles import KINDS, Rack, by_rank, by_suit
from shared.rules.typed_tiles import typed

racks = st.lists(st.sampled_from(KINDS), min_size=14, max_size=14).map(tuple)


@given(racks, st.lists(st.integers(0, 13), max_size=3, unique=True), st.sampled_from(["suit", "rank"]))
def test_sorting_keeps_the_same_tiles_and_the_same_lifted_kinds(tiles: Rack, places: list[int], sort: str) -> None:
    held = HeldRack(tiles, tuple(places))
    sorted_rack = held.sorted_by("suit" if sort == "suit" else "rank")
    assert sorted_rack.tiles == (by_suit(tiles) if sort == "suit" else by_rank(tiles))
    assert sorted_rack.lifted_tiles() == held.lifted_tiles()


@given(racks, racks, st.lists(st.integers(0, 13), max_size=3, unique=True))
def test_a_rack_fitted_to_the_table_holds_exactly_what_the_table_says(
    before: Rack, after: Rack, places: list[int]
) -> None:
    fitted = HeldRack(before, tuple(places)).fitted(after)
    assert Counter(fitted.tiles) == Counter(after)
    assert all(0 <= place < len(fitted.tiles) for place in fitted.lifted)


@given(racks, st.integers(0, 13), st.integers(-3, 3))
def test_shifting_a_tile_moves_it_and_leaves_the_order_of_the_others(tiles: Rack, place: int, by: int) -> None:
    shifted = HeldRack(tiles, cursor=place).shifted(by)
    rest = list(tiles)
    tile = rest.pop(place)
    others = list(shifted.tiles)
    assert others.pop(shifted.cursor) == tile
    assert others == rest
    assert shifted.sort == "own"


def test_in_ones_own_order_new_tiles_come_to_the_right_end() -> None:
    held = HeldRack(typed("9d 1b 5c"), sort="own")
    assert held.fitted(typed("1b 5c 9d 2b")).tiles == typed("9d 1b 5c 2b")


def test_of_equal_tiles_the_lifted_one_goes() -> None:
    held = HeldRack(typed("5b 9c 5b"), lifted=(0,), sort="own")
    assert held.fitted(typed("5b 9c")).tiles == typed("9c 5b")


def test_lifting_twice_drops_again() -> None:
    held = HeldRack(KINDS[:13])
    assert held.toggled(4).lifted == (4,)
    assert held.toggled(4).toggled(4).lifted == ()


def test_a_joker_may_not_be_lifted() -> None:
    held = HeldRack(typed("J 1b"))
    assert not held.may_lift(0)
    assert held.may_lift(1)
    assert not held.may_lift(2)

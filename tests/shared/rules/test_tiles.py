"""Tiles: codes, names, orders, and taking tiles out of a rack."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rules.tiles import (
    COPIES,
    INDEX,
    JOKER,
    KINDS,
    Rack,
    Tile,
    TileError,
    UnknownTile,
    by_rank,
    by_suit,
    format_tiles,
    full_set,
    name,
    parse_tile,
    rank,
    remove,
    suit,
    word,
)
from shared.rules.typed_tiles import typed

RACKS = st.permutations(full_set()).flatmap(lambda wall: st.integers(0, 20).map(lambda count: tuple(wall[:count])))


@given(RACKS)
def test_codes_written_and_read_again_are_the_same_rack(rack: Rack) -> None:
    assert typed(format_tiles(rack)) == rack
    assert typed(format_tiles(rack).upper().replace(" ", ", ")) == rack
    assert typed(format_tiles(rack).lower()) == rack


@given(st.text(max_size=4))
def test_what_is_no_code_is_refused_with_the_codes_there_are(text: str) -> None:
    try:
        found: str | UnknownTile = parse_tile(text)
    except UnknownTile as fault:
        found = fault
    says = f"{text!r} is not a tile: write 1b-9b, 1c-9c, 1d-9d, N E W S, R G O, F or J."
    assert found in KINDS or str(found) == says


@pytest.mark.parametrize("text", ["", "0b", "10b", "b1", "1", "5x", "5b5b", "Z", "１b"])
def test_near_misses_are_no_tiles(text: str) -> None:
    with pytest.raises(UnknownTile):
        parse_tile(text)


@pytest.mark.parametrize("tile", KINDS)
def test_no_rack_holds_more_copies_than_the_set(tile: Tile) -> None:
    assert len(typed(format_tiles([tile] * COPIES[tile]))) == COPIES[tile]
    with pytest.raises(TileError, match=f"{COPIES[tile] + 1} of {name(tile)}.* {COPIES[tile]}"):
        typed(format_tiles([tile] * (COPIES[tile] + 1)))


def test_every_kind_has_a_name_of_its_own() -> None:
    assert len({name(tile) for tile in KINDS}) == 36
    assert [name(tile) for tile in ("1b", "9c", "5d", "N", "R", "O", "F", "J")] == [
        "1 bam", "9 crak", "5 dot", "north", "red", "soap", "flower", "joker",
    ]  # fmt: skip
    assert {word(tile) for tile in KINDS if suit(tile)} == {"bam", "crak", "dot"}


@given(RACKS)
def test_sorting_keeps_the_tiles_and_puts_equals_together(rack: Rack) -> None:
    for order in (by_suit, by_rank):
        ordered = order(rack)
        assert Counter(ordered) == Counter(rack)
        assert order(ordered[::-1]) == ordered
        places = [INDEX[tile] for index, tile in enumerate(ordered) if not index or ordered[index - 1] != tile]
        assert len(places) == len(set(rack)), "equal tiles lie side by side"
    assert [INDEX[tile] for tile in by_suit(rack)] == sorted(INDEX[tile] for tile in rack)
    ranks = [rank(tile) or 10 for tile in by_rank(rack)]
    assert ranks == sorted(ranks)


@given(RACKS, st.data())
def test_taken_tiles_leave_the_rest_in_its_order(rack: Rack, data: st.DataObject) -> None:
    taken = data.draw(st.permutations(rack).flatmap(lambda order: st.integers(0, len(rack)).map(lambda n: order[:n])))
    rest = remove(rack, taken)
    assert rest is not None
    assert Counter(rest) + Counter(taken) == Counter(rack)
    places = iter(rack)
    assert all(tile in places for tile in rest), "a part of the rack in the same order"


def test_of_equal_tiles_the_rightmost_goes() -> None:
    assert remove(("1b", "N", "1b", "S"), ("1b",)) == ("1b", "N", "S")


@given(RACKS, st.sampled_from(KINDS))
def test_what_a_rack_does_not_hold_cannot_be_taken(rack: Rack, tile: Tile) -> None:
    assert remove(rack, (tile,) * (rack.count(tile) + 1)) is None


def test_a_plain_drill_has_the_same_set_without_jokers() -> None:
    assert len(full_set(0)) == 144
    assert JOKER not in full_set(0)
    assert Counter(full_set()) - Counter(full_set(0)) == {JOKER: 8}

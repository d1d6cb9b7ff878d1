"""Tiles as people type them: many ways to write one rack, and a place and a mend for all that cannot be read."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.rules.tiles import COPIES, KINDS, Rack, TileError, UnknownTile, full_set, name, parse_tile, suit
from shared.rules.typed_tiles import MOST_TYPED, compact, read_tiles, typed

RACK: Rack = ("1b", "1b", "2b", "3b", "5c", "6c", "7c", "9d", "N", "E", "F", "F", "J")
racks = st.permutations(full_set()).flatmap(lambda tiles: st.integers(0, 14).map(lambda size: tuple(tiles[:size])))


@pytest.mark.parametrize(
    "text",
    [
        "1123b 567c 9d NE FF J",
        "1b 1b 2b 3b 5c 6c 7c 9d N E F F J",
        "1b1b2b3b5c6c7c9dNEFFJ",
        "1123B 567C 9D ne ff j",
        "1123 bam, 567 crak, 9 dot, north east flower flower joker",
        "1123bams 567Craks 9Dots NORTH, East wind; flowers F Joker",
    ],
)
def test_one_rack_can_be_typed_in_many_ways(text: str) -> None:
    read = read_tiles(text)
    assert read.faults == ()
    assert read.tiles == RACK
    assert read.count_of(14) == "13 of 14"


@settings(deadline=None)
@given(racks, st.randoms(use_true_random=False))
def test_any_rack_comes_back_from_any_mixture_of_the_ways(rack: Rack, dice: object) -> None:
    def way(tile: str) -> str:
        ways = [tile, tile.lower(), tile.upper(), name(tile), name(tile).upper()]  # type: ignore[arg-type]
        if tile == "O":
            ways += ["0", "white", "White dragon"]
        return str(dice.choice(ways)) + str(dice.choice([" ", ", ", "  "]))  # type: ignore[attr-defined]

    text = "".join(way(tile) for tile in rack)
    assert read_tiles(text).tiles == rack, text
    assert read_tiles(text).faults == ()
    assert typed(compact(rack)) == rack


@given(st.text(max_size=8))
def test_what_is_a_code_is_read_as_that_tile(text: str) -> None:
    try:
        tile = parse_tile(text)
    except UnknownTile:
        return
    assert read_tiles(text).tiles == (tile,)


@settings(max_examples=400, deadline=None)
@given(
    st.text(max_size=40)
    | st.text(st.sampled_from("0123456789bcdBCDNEWSRGOFJnewsrgofj ,amkot\t\x1b²é"), max_size=40)
    | st.lists(
        st.sampled_from(["bam", "5", "10b", "2026b", "soap", "dragon", "winds", "FF", "0", "a", "q"]), max_size=9
    ).map(" ".join),
    st.none() | st.just(2026),
    st.none() | racks,
)
def test_any_text_is_read_without_harm_and_every_refusal_has_a_place_and_a_mend(
    text: str, year: int | None, places: Rack | None
) -> None:
    read = read_tiles(text, year, places)
    assert all(tile in KINDS for tile in read.tiles)
    assert sum(count for _, count in read.groups) == len(read.tiles)
    assert [tile for tile, count in read.groups for _ in range(count)] == list(read.tiles)
    assert [fault.column for fault in read.faults] == sorted(fault.column for fault in read.faults)
    for fault in read.faults:
        assert 1 <= fault.column <= len(text)
        assert fault.text.isascii()
        assert fault.text.isprintable()
        assert re.search(r"\b(Write|Take|Ranks go|The rack has)\b", fault.text), fault.text
    if not read.faults:
        assert all(read.tiles.count(tile) <= COPIES[tile] for tile in read.tiles)
    if text.strip(" ,;\t\n\r\x0b\x0c\x1c\x1d\x1e\x1f\x85\xa0") and text.isascii():
        assert read.tiles or read.faults


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1b 10b", "At 4: 10b has no such rank. Ranks go from 1 to 9; write 0 alone for a soap."),
        ("2026b", "At 1: 2026b has no such rank. Ranks go from 1 to 9; write 0 alone for a soap."),
        ("0b", "At 1: 0b has a suit, but a soap has none. Write 0 alone."),
        ("12 NE", "At 1: 12 has no suit. Write 12b, 12c or 12d."),
        ("1b 2F", "At 4: 2 has no suit. Write 2b, 2c or 2d; 2 of F are FF."),
        ("1b bam", "At 4: bam has no rank. Write it before the suit, as in 5bam."),
        ("1b2b3", "At 5: 3 has no suit. Write 3b, 3c or 3d."),
        ("1x", "At 1: 1x is no tile: x is no suit. Write 1b, 1c or 1d."),
        ("2Xyz", "At 1: 2xyz is no tile: xyz is no suit. Write 2b, 2c or 2d."),
        ("3e", "At 1: 3 has no suit. Write 3b, 3c or 3d; 3 of E are EEE."),
        ("NEX", "At 1: nex is no tile. Write 1b-9b, 1c-9c, 1d-9d, N E W S, R G O, F or J."),
        ("1b-2b", "At 3: - is no tile."),
        ("dragon", "At 1: dragon alone is no tile. Write which one before it: red, green or white."),
        ("N dragon", "At 3: dragon alone is no tile."),
        ("1111b NE 1b", "At 10: There are 5 of 1 bam, but the set holds 4. Take one away."),
        ("\x1b[2J", "At 1: '\\x1b' is no tile."),
    ],
)
def test_the_first_refusal_says_where_what_and_how_to_mend_it(text: str, told: str) -> None:
    faults = read_tiles(text).faults
    assert str(faults[0]).startswith(told)
    with pytest.raises(TileError, match=r"^At \d"):
        typed(text)


def test_what_is_wrong_does_not_hide_what_is_right() -> None:
    read = read_tiles("1b 10b 2c qq 33d")
    assert read.tiles == ("1b", "2c", "3d", "3d")
    assert [fault.column for fault in read.faults] == [4, 11]


def test_a_zero_is_a_soap_alone_or_within_the_year_of_the_card() -> None:
    assert typed("0") == ("O",)
    assert typed("00 1b") == ("O", "O", "1b")
    assert typed("2026b", year=2026) == ("2b", "O", "2b", "6b")
    assert typed("2026 dots", year=2026) == ("2d", "O", "2d", "6d")
    assert read_tiles("2025b", year=2026).faults


def test_w_is_west_and_white_is_a_word() -> None:
    assert typed("W white w") == ("W", "O", "W")


def test_small_letters_are_places_only_where_there_is_a_rack() -> None:
    rack: Rack = ("1b", "5c", "N", "F")
    assert typed("a d", places=rack) == ("1b", "F")
    assert typed("N F 5c soap", places=rack) == ("N", "F", "5c", "O")
    assert typed("n f") == ("N", "F")
    told = [str(fault) for fault in read_tiles("n x ne", places=rack).faults]
    assert told == [
        "At 1: There is no tile at n. The rack has 4 places; for the tile write N.",
        "At 3: There is no tile at x. The rack has 4 places.",
        "At 5: ne could be tiles or places. Write NE for tiles, n e for places.",
    ]


def test_equal_tiles_side_by_side_are_a_group_as_hands_are_written() -> None:
    assert read_tiles("FFFF 111b 2222b 333b").groups == (("F", 4), ("1b", 3), ("2b", 4), ("3b", 3))
    assert read_tiles("1123b").groups == (("1b", 2), ("2b", 1), ("3b", 1))
    assert read_tiles("1b 1b 1b 2b").groups == (("1b", 3), ("2b", 1))
    assert read_tiles("55b 555b", check_copies=False).groups == (("5b", 2), ("5b", 3))
    year = read_tiles("FF 2026b 22c", year=2026)
    assert year.groups == (("F", 2), ("2b", 1), ("O", 1), ("2b", 1), ("6b", 1), ("2c", 2))
    assert year.years == (1,)


def test_a_line_beyond_measure_is_refused_at_once() -> None:
    assert [fault.column for fault in read_tiles("1b" * MOST_TYPED).faults] == [MOST_TYPED + 1]


@given(racks)
def test_racks_are_written_as_short_as_people_write_them(rack: Rack) -> None:
    ordered = tuple(sorted(rack, key=KINDS.index))
    words = compact(ordered).split()
    assert len(words) <= 3 + 1 + 3 + 1 + 1
    assert sum(word[-1] in "bcd" for word in words) == len({suit(tile) for tile in rack if suit(tile)})

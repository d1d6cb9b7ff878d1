"""The tiles' identity against the Unicode Standard, block Mahjong Tiles (U+1F000-1F02F), through unicodedata."""

import unicodedata
from collections import Counter

from shared.rules.tiles import COPIES, KINDS, Tile

WINDS: dict[str, Tile] = {"EAST": "E", "SOUTH": "S", "WEST": "W", "NORTH": "N"}
DRAGONS: dict[str, Tile] = {"RED": "R", "GREEN": "G", "WHITE": "O"}
RANKS = ("ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE")
SUITS = {"CHARACTERS": "c", "BAMBOOS": "b", "CIRCLES": "d"}
FLOWERS = ("PLUM", "ORCHID", "BAMBOO", "CHRYSANTHEMUM", "SPRING", "SUMMER", "AUTUMN", "WINTER")
ASSIGNED = [unicodedata.name(chr(point)) for point in range(0x1F000, 0x1F030) if unicodedata.name(chr(point), "")]
PREFIX = "MAHJONG TILE "


def kind(name: str) -> Tile | None:
    """Return the kind that a Unicode name stands for in this set, or None for the tile's back."""
    words = name.removeprefix(PREFIX).split()
    match words:
        case [wind, "WIND"]:
            return WINDS[wind]
        case [dragon, "DRAGON"]:
            return DRAGONS[dragon]
        case [rank, "OF", suit]:
            return KINDS[KINDS.index(f"{RANKS.index(rank) + 1}{SUITS[suit]}")]  # type: ignore[arg-type]
        case ["JOKER"]:
            return "J"
        case [flower] if flower in FLOWERS:
            return "F"
        case ["BACK"]:
            return None
        case _:
            raise AssertionError(f"{name} is none of the names this test knows")


def test_the_block_holds_forty_four_names_and_all_are_tiles() -> None:
    assert len(ASSIGNED) == 44
    assert all(name.startswith(PREFIX) for name in ASSIGNED)


def test_the_names_stand_for_exactly_the_thirty_six_kinds_and_the_back() -> None:
    kinds = Counter(kind(name) for name in ASSIGNED)
    assert kinds.pop(None) == 1
    assert set(kinds) == set(KINDS)
    assert kinds.pop("F") == 8, "eight flowers and seasons are one kind here, so eight copies of it"
    assert COPIES["F"] == 8
    assert set(kinds.values()) == {1}


def test_the_flower_bamboo_is_no_bam() -> None:
    assert unicodedata.name("\U0001f024") == "MAHJONG TILE BAMBOO"
    assert kind("MAHJONG TILE BAMBOO") == "F"
    assert unicodedata.name("\U0001f010") == "MAHJONG TILE ONE OF BAMBOOS"
    assert kind("MAHJONG TILE ONE OF BAMBOOS") == "1b"


def test_each_family_lies_where_the_standard_puts_it() -> None:
    def kinds(first: int, last: int) -> list[Tile | None]:
        return [kind(unicodedata.name(chr(point))) for point in range(first, last + 1)]

    assert kinds(0x1F000, 0x1F003) == ["E", "S", "W", "N"]
    assert kinds(0x1F004, 0x1F006) == ["R", "G", "O"]
    assert kinds(0x1F007, 0x1F00F) == [f"{rank}c" for rank in range(1, 10)]
    assert kinds(0x1F010, 0x1F018) == [f"{rank}b" for rank in range(1, 10)]
    assert kinds(0x1F019, 0x1F021) == [f"{rank}d" for rank in range(1, 10)]
    assert kinds(0x1F022, 0x1F029) == ["F"] * 8
    assert kinds(0x1F02A, 0x1F02A) == ["J"]

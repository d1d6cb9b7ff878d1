"""The set of tiles against published counts.

Source: the encyclopedia article "American mahjong" (Wikipedia) and rule guides: 152 tiles; suits 108, winds 16,
dragons 12, flowers 8, jokers 8; four walls, nineteen stacks of two tiles long. Which dragon goes with which
suit and the dealer's fourteenth tile are common practice in the trade.
"""

from collections import Counter

from shared.rules.tiles import COPIES, DRAGON_OF_SUIT, KINDS, full_set, suit
from shared.rules.wall import build_wall, deal


def test_the_set_has_the_published_counts() -> None:
    counts = Counter(full_set())
    assert sum(counts.values()) == 152 == 108 + 16 + 12 + 8 + 8
    assert sum(count for tile, count in counts.items() if suit(tile)) == 108
    assert sum(counts[tile] for tile in ("N", "E", "W", "S")) == 16
    assert sum(counts[tile] for tile in ("R", "G", "O")) == 12
    assert counts["F"] == 8
    assert counts["J"] == 8
    assert counts == Counter(COPIES)
    assert len(KINDS) == 36 == len(set(KINDS))


def test_each_suit_has_nine_ranks_four_of_each() -> None:
    for letter in "bcd":
        assert Counter(tile for tile in full_set() if suit(tile) == letter) == {
            f"{rank}{letter}": 4 for rank in range(1, 10)
        }


def test_the_set_fills_four_walls_of_nineteen_stacks_of_two() -> None:
    assert len(build_wall(b"key", 8)) == 4 * 19 * 2


def test_fifty_three_tiles_are_dealt_and_ninety_nine_are_left() -> None:
    racks, left = deal(build_wall(b"key", 8))
    assert [len(rack) for rack in racks] == [14, 13, 13, 13]
    assert sum(map(len, racks)) == 53
    assert len(left) == 99


def test_green_goes_with_bams_red_with_craks_and_white_with_dots() -> None:
    assert DRAGON_OF_SUIT == {"b": "G", "c": "R", "d": "O"}

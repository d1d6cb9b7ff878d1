"""A hand in tiles: complete without a rack, held and missing tiles against one."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, Hand, Variant, first_evening_card, practice_card
from shared.cards.expand import expand_hand
from shared.cards.picture import PLAIN, as_variant, nearest, picture_text, pictures, spoken
from shared.coach.distance import Patterns, away_one, counts_of
from shared.rules.tiles import JOKER, Rack, full_set
from shared.rules.typed_tiles import typed
from tests.shared.cards.random_hands import YEAR, hands

some_hands = st.integers(0, 2**32).map(lambda seed: next(hands(seed)))
racks = st.permutations(full_set()).map(lambda tiles: tuple(tiles[:14]))
RACK = typed("1b 1b 2b 3b F F 5c 6c N")


@settings(max_examples=60, deadline=None)
@given(some_hands, racks, st.integers(0, 14))
def test_held_tiles_jokers_and_missing_ones_add_up_to_fourteen_and_are_as_far_away_as_the_coach_says(
    hand: Hand, tiles: Rack, size: int
) -> None:
    rack = tiles[:size]
    told = nearest(hand, rack, YEAR)
    kinds = Counter(cell.kind for cell in told.picture.cells)
    assert sum(kinds.values()) == 14
    assert set(kinds) <= {"held", "joker", "missing", "gap"}
    assert kinds["missing"] + kinds["gap"] == told.away
    held = Counter(cell.tile for cell in told.picture.cells if cell.kind == "held")
    assert held <= Counter(rack)
    assert kinds["joker"] <= rack.count(JOKER)
    variants = Patterns.of_variants([Variant(0, *counts) for counts in expand_hand(hand, YEAR)])
    assert told.away == int(away_one(variants, counts_of(rack)).min())


@settings(max_examples=60, deadline=None)
@given(some_hands, racks)
def test_jokers_stand_in_groups_of_three_and_more_and_nowhere_else(hand: Hand, rack: Rack) -> None:
    told = nearest(hand, (*rack[:8], *[JOKER] * 6), YEAR)
    for block in told.picture.blocks:
        if any(cell.kind == "joker" for cell in block.cells):
            assert len(block.cells) >= 3
            assert hand.jokers


@pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=lambda card: card.title)
def test_each_variant_of_a_shipped_hand_can_be_drawn_as_the_coach_names_it(card: Card) -> None:
    for hand in card.hands:
        for wanted in expand_hand(hand, card.year)[::7]:
            told = as_variant(hand, wanted, RACK, card.year)
            assert Counter(cell.tile for cell in told.picture.cells) == {
                tile: pair + group for tile, pair, group in zip(full_set_kinds(), *wanted, strict=True) if pair + group
            }


def full_set_kinds() -> Rack:
    return tuple(dict.fromkeys(full_set()))


@pytest.mark.parametrize(
    ("groups", "drawn", "against", "to_go"),
    [
        (
            "F^4 n.p^3 n+1.p^4 n+2.p^3",
            "FFFF  111b  2222b  333b",
            "FF··  11·b  2···b  3··b",
            "8 to go: two F, 1b, three 2b, two 3b",
        ),
        ("N^4 n.p^5 n+2.p^5", "NNNN  11111b  33333b", "N···  11···b  3····b", "10 to go: three N, three 1b, four 3b"),
        (
            "F^6 Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 X^4",
            "FFFFFF  2026b  NNNN",
            "FF····  2··6c  N···",
            "9 to go: four F, 0, 2c, three N",
        ),
        (
            "F^2 5.p^4 6.p^4 7.p^4",
            "FF  5555b  6666b  7777b",
            "FF  5···c  6···c  ····c",
            "10 to go: three 5c, three 6c, four 7c",
        ),
        ("F^2 4.c^4 5.c^4 6.c^4", "FF  4444c  5555c  6666c", None, None),
    ],
)
def test_a_hand_stands_in_its_own_order_with_the_suit_behind_each_group(
    groups: str, drawn: str, against: str | None, to_go: str | None
) -> None:
    hand = Hand("h", "s", groups)
    assert picture_text(hand, YEAR) == drawn
    rack = RACK if "Y1" not in groups else typed("2c 6c F F N 1b")
    if against is not None:
        told = nearest(hand, rack, YEAR)
        assert told.picture.text() == against
        assert told.text() == to_go


def test_a_gap_is_a_rank_that_is_missing_between_two_that_are_held() -> None:
    hand = Hand("h", "s", "F^2 1.b^4 2.b^4 3.b^4")
    told = nearest(hand, typed("1b 3b 3b"), YEAR)
    assert told.picture.text() == "··  1···b  °°°°b  33··b"
    assert told.picture.text(PLAIN) == "..  1...b  oooob  33..b"
    assert nearest(hand, typed("1b 1b 3c"), YEAR).picture.text() == "··  11··b  ····b  ····b"


def test_a_joker_stands_in_the_group_that_lacks_the_fewest() -> None:
    hand = Hand("h", "s", "F^2 1.b^4 2.b^4 3.b^4")
    told = nearest(hand, typed("1b 1b 2b 2b 2b J J"), YEAR)
    assert told.picture.text() == "··  11J·b  222Jb  ····b"
    assert told.text() == "7 to go: two F, 1b, four 3b"
    assert nearest(hand, typed("F F 1b 1b 1b 1b 2b 2b 2b 2b 3b 3b J J"), YEAR).text() == "complete"


def test_rows_are_drawn_one_by_one_and_the_nearer_one_is_taken_against_a_rack() -> None:
    hand = Hand("h", "s", "F^8 N^6 or F^8 S^6")
    assert picture_text(hand, YEAR) == "FFFFFFFF  NNNNNN or FFFFFFFF  SSSSSS"
    told = nearest(hand, typed("S S F"), YEAR)
    assert (told.row, told.away) == (1, 11)


def test_equal_digits_of_the_year_stand_apart_so_that_they_do_not_look_like_a_group() -> None:
    hand = Hand("h", "s", "F^10 Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1")
    assert picture_text(hand, 2222) == "FFFFFFFFFF  2b  2b  2b  2b"
    assert picture_text(hand, 2022) == "FFFFFFFFFF  2022b"


def test_a_hand_is_said_for_the_ear_tile_by_tile() -> None:
    def said(groups: str) -> str:
        return spoken(pictures(Hand("h", "s", groups), YEAR)[0])

    assert said("F^4 n.p^3 n+1.p^4 n+2.p^3") == "four flowers, three 1 bam, four 2 bam, three 3 bam"
    assert said("F^1 Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 N^4 O^5") == "one flower, 2 zero 2 6 bam, four norths, five soaps"
    assert said("R^3 D(p)^4 1.p^1 2.p^6") == "three red dragons, four green dragons, 1 bam, six 2 bam"

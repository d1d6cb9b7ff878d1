"""All that is shown of a card, through its one door: no notation, no id, and it fits where it is shown."""

import re
from itertools import islice
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, first_evening_card, practice_card
from shared.cards.card import Hand, Section
from shared.cards.expand import expand_hand
from shared.cards.tell import nearest_of, tell
from shared.rules.tiles import KINDS
from shared.rules.typed_tiles import typed
from tests.bench.guessing import INVENTED, load
from tests.shared.cards.random_hands import hands
from tests.shared.cards.test_hand_names import card_of

CARDS = [practice_card(), first_evening_card(), load(INVENTED)]
NOTATION = re.compile(r"\^|[nm][+-]?\d?\.[pqrxybcd]|\b\d\.[pqrxybcd]|D\(|Y\d")


@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_no_notation_and_no_id_is_shown(card: Card) -> None:
    for told in tell(card):
        shown = "\n".join([told.name, told.tiles, told.words, told.ear, *told.lines(36)])
        assert not NOTATION.search(shown), shown
        assert told.hand.id not in shown


@pytest.mark.parametrize("card", CARDS[:2], ids=lambda card: card.title)
def test_a_shipped_hand_takes_at_most_two_lines_of_tiles_and_three_of_words_beside_the_table(card: Card) -> None:
    for told in tell(card):
        tiles = [line for line in told.lines(36) if re.fullmatch(r"[0-9A-Z bcd]+", line)]
        assert len(tiles) <= 2, told.tiles
        assert len(told.lines(36)) - len(tiles) <= 3, told.words


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32), st.integers(12, 90), st.integers(1, 6))
def test_lines_keep_to_their_width_and_nothing_is_cut_without_a_mark(seed: int, width: int, most: int) -> None:
    card = card_of(list(islice(hands(seed), 3)))
    for told in tell(card):
        every, cut = told.lines(width), told.lines(width, most)
        assert all(len(line) <= max(width, 16) for line in every)
        assert " ".join(" ".join(every).split()) == " ".join(f"{told.tiles} {told.words}".split())
        assert len(cut) <= most
        assert cut == every or cut[-1].endswith("…")


def test_a_hand_with_two_rows_is_one_hand_with_both_told() -> None:
    hand = Hand("h", "s", "F^8 N^6 or F^8 S^6", True, 20, values=(20, 30), note="A wind from either end.")
    (told,) = tell(Card("Pier", 2026, "", (Section("s", "", (hand,)),)))
    assert told.tiles == "FFFFFFFF  NNNNNN or FFFFFFFF  SSSSSS"
    assert told.words == "exactly these tiles"
    assert told.ear == (
        "eight flowers, six norths; exactly these tiles; or eight flowers, six souths; exactly these tiles; "
        "counts 20 or 30; concealed; A wind from either end."
    )
    assert told.ways == 2


def test_a_hand_is_drawn_against_a_rack_by_itself_or_as_somebody_has_chosen() -> None:
    told = tell(first_evening_card())[0]
    rack = typed("3c 3c 4c 4c 5c F F")
    near = told.nearest(rack)
    assert near.picture.text() == "FF··  33·c  44··c  5··c"
    wanted = expand_hand(told.hand, 2026)[0]
    assert told.as_variant(wanted, rack).picture.text() == "FF··  ···b  ····b  ···b"
    assert told.as_variant(wanted, rack).away == 12


@given(st.integers(0, 2**32))
@settings(max_examples=10, deadline=None)
def test_the_nearest_hand_of_a_card_lacks_no_more_than_any_other(seed: int) -> None:
    card, dice = practice_card(), Random(seed)
    rack = tuple(dice.sample([tile for tile in KINDS for _ in range(4)], 14))
    found, drawn = nearest_of(card, rack)
    away = {told.name: told.nearest(rack).away for told in tell(card)}
    assert drawn.away == away[found.name] == min(away.values())
    assert found.name == next(name for name, missing in away.items() if missing == drawn.away)

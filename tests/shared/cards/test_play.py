"""The card of a table: its text, and when a dealt rack is a finished hand of it."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, practice_card
from shared.cards.play import MAX_TEXT_BYTES, SHIPPED, card_of, complete, shipped_text, variants_of
from shared.rules.tiles import COPIES, JOKER, KINDS, Rack, full_set

TEXT = shipped_text()


@pytest.mark.parametrize("name", SHIPPED)
def test_the_cards_that_come_with_the_project_fit_a_table(name: str) -> None:
    text = shipped_text(name)
    assert isinstance(card_of(text), Card)
    assert len(text.encode()) <= MAX_TEXT_BYTES


def test_the_practice_card_is_the_one_a_table_plays_by() -> None:
    assert card_of(TEXT) == practice_card()


@st.composite
def finished(draw: st.DrawFn) -> Rack:
    """A variant's tiles, with jokers for some of its larger groups and for whatever the set does not hold."""
    variant = draw(st.sampled_from(variants_of(TEXT)))
    tiles: list[str] = []
    jokers = 0
    for kind, pair, group in zip(KINDS, variant.pairs, variant.groups, strict=True):
        least = max(0, pair + group - COPIES[kind])
        filled = draw(st.integers(least, group)) if jokers + group <= 8 else least
        jokers += filled
        tiles += [kind] * (pair + group - filled)
    return (*tiles, *[JOKER] * jokers)  # type: ignore[arg-type]


@given(finished())
def test_every_variant_is_complete_with_jokers_in_its_larger_groups(rack: Rack) -> None:
    assert len(rack) == 14
    assert complete(TEXT, rack)


@settings(max_examples=25)
@given(finished(), st.data())
def test_with_a_tile_that_no_variant_has_room_for_it_is_complete_no_more(rack: Rack, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, 13))
    tile = data.draw(st.sampled_from(KINDS[:-1]))
    other = (*rack[:at], tile, *rack[at + 1 :])
    naturals = Counter(other)
    jokers = naturals.pop(JOKER, 0)
    away = min(
        14
        - sum(min(naturals[kind], p + g) for kind, p, g in zip(KINDS, variant.pairs, variant.groups, strict=True))
        - min(
            jokers,
            sum(
                max(g - max(naturals[kind] - p, 0), 0)
                for kind, p, g in zip(KINDS, variant.pairs, variant.groups, strict=True)
            ),
        )
        for variant in variants_of(TEXT)
    )
    assert complete(TEXT, other) == (away == 0)


def test_a_joker_fills_no_pair() -> None:
    pair = next(variant for variant in variants_of(TEXT) if max(variant.groups) == 0)
    tiles = [kind for kind, count in zip(KINDS, pair.pairs, strict=True) for _ in range(count)]
    assert complete(TEXT, tuple(tiles))
    assert not complete(TEXT, (*tiles[1:], JOKER))


def test_thirteen_tiles_are_never_complete_and_without_a_card_nothing_is() -> None:
    tiles = full_set()[:14]
    assert not complete(TEXT, tiles[:13])
    assert not complete("", tiles)


@given(st.text(max_size=60))
def test_a_text_that_is_no_card_has_no_hands(text: str) -> None:
    assert variants_of(text) == ()

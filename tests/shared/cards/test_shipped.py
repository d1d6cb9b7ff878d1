"""The shipped cards can be learned and said aloud: few flowers, one idea a section, names in whole words."""

import re

import pytest

from shared.cards import Card, first_evening_card, practice_card, tell
from shared.cards.hand_names import MOST, bare_name
from shared.cards.notation import parse_hand
from tests.card_design.balance import PRACTICE
from tests.card_design.grammar import reads_well

both = pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=lambda card: card.title)


def flowers(card: Card) -> list[int]:
    """How many flowers each hand wants, the most of its rows."""
    return [
        max(sum(group.count for group in row if str(group.face) == "F") for row in parse_hand(hand.groups)[0])
        for hand in card.hands
    ]


def sizes(groups: str) -> list[int]:
    return [group.count for row in parse_hand(groups)[0] for group in row]


@both
def test_at_most_half_of_the_hands_want_flowers(card: Card) -> None:
    wanted = flowers(card)
    assert 0 < sum(count > 0 for count in wanted) <= len(wanted) / 2


def test_at_most_a_fifth_of_the_practice_card_wants_three_flowers_or_more() -> None:
    wanted = flowers(practice_card())
    assert 0 < sum(count >= 3 for count in wanted) <= len(wanted) / 5


@both
def test_each_section_is_one_idea_that_is_said_in_one_short_sentence(card: Card) -> None:
    for section in card.sections:
        assert re.fullmatch(r"[A-Z][^.!?]*\.", section.about), section.about
        assert len(section.about) <= 100
        assert re.fullmatch(r"[A-Z][a-z ]+", section.name)
        assert len(section.name) <= 13, "the list of sections beside a search is no wider"
        assert len(section.hands) >= 6


def test_hands_of_singles_and_pairs_stand_together() -> None:
    small = {
        section.name: [max(sizes(hand.groups)) <= 2 for hand in section.hands] for section in practice_card().sections
    }
    assert [name for name, own in small.items() if any(own)] == [name for name, own in small.items() if all(own)]
    assert sum(map(any, small.values())) == 1


@both
def test_every_name_is_made_of_whole_words_and_needs_no_number(card: Card) -> None:
    for told in tell(card):
        parts, whole = told.name.split(", "), bare_name(told.hand, card.year, most=200).split(", ")
        assert len(told.name) <= MOST
        assert parts == whole[: len(parts)]


@both
def test_every_hand_reads_well(card: Card) -> None:
    assert [told.words for told in tell(card) if not reads_well(told.hand, card.year)] == []


def test_a_hand_is_one_line_of_the_practice_file() -> None:
    lines = PRACTICE.read_text(encoding="utf-8").splitlines()
    assert sum("^" in line for line in lines) == len(practice_card().hands)
    assert max(map(len, lines)) <= 200

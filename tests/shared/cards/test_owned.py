"""What may be told of a card, which texts are copies of it, and what is said where no copy is at hand."""

from dataclasses import replace

import pytest

from shared.cards.digest import hand_keys
from shared.cards.owned import ToldCard, another_card, copy_lost, copy_wanted, in_digest_order, is_copy, told_card
from shared.coach.coach import Coach, coach_of
from tests.owned import COPY, OWN, SHARED, TITLE, copy_in_words

DIGEST = told_card(OWN).digest
NO_CARD = 'title = "Pier evening"'


def test_of_a_card_title_and_digest_are_told_and_the_text_only_if_it_is_shared() -> None:
    assert told_card(OWN) == ToldCard(TITLE, DIGEST, "")
    assert told_card(SHARED) == ToldCard(TITLE, DIGEST, SHARED)


@pytest.mark.parametrize("text", ["", NO_CARD, "rubbish ="])
def test_of_what_is_no_card_nothing_is_told_and_it_is_no_copy(text: str) -> None:
    assert told_card(text) == ToldCard()
    assert not is_copy(text, DIGEST)
    assert not is_copy(text, "")


def test_a_copy_is_the_same_card_in_other_words_and_nothing_else() -> None:
    assert is_copy(OWN, DIGEST)
    assert is_copy(COPY, DIGEST)
    for digest in ("", "0" * 64, "f" * 64, DIGEST[:-1]):
        assert not is_copy(OWN, digest)


def test_copies_hold_their_hands_in_one_order_and_under_no_words_of_their_owner() -> None:
    ordered = [in_digest_order(copy_in_words(words, backwards=words == "lapwing")) for words in ("plover", "lapwing")]
    assert hand_keys(ordered[0]) == hand_keys(ordered[1]) == tuple(sorted(hand_keys(ordered[0])))
    for card in ordered:
        assert card.note == ""
        assert [(section.name, section.about) for section in card.sections] == [("", "")]


def test_hands_that_want_the_same_are_both_kept() -> None:
    card = copy_in_words("plover", backwards=False)
    twice = in_digest_order(replace(card, sections=card.sections * 2))
    assert len(twice.hands) == 2 * len(card.hands)


def test_a_title_without_an_end_leaves_room_for_the_sentence() -> None:
    for sentence in (copy_wanted, another_card, copy_lost):
        assert f'"{TITLE}"' in sentence(TITLE)
        assert '"a card without a title"' in sentence("\u202e")
        assert len(sentence("x" * 1_000)) == len(sentence("")) - len("a card without a title") + 40


def test_the_coach_for_a_card_is_made_once_and_never_for_what_is_no_card() -> None:
    assert coach_of(OWN) is coach_of(OWN)
    faults = coach_of(NO_CARD)
    assert not isinstance(faults, Coach)
    assert faults


def test_who_shares_a_card_keeps_its_order_and_words_in_the_coach() -> None:
    for text, words in ((SHARED, "plover heading"), (OWN, "")):
        coach = coach_of(text)
        assert isinstance(coach, Coach)
        assert {section.name for section in coach.card.sections} == {words}

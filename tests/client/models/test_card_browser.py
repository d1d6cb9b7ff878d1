"""Looking through a card: what is found, marked and pinned."""

import inspect

from hypothesis import given
from hypothesis import strategies as st

from client.models import card_browser as card_pane
from client.models.card_browser import MOST_TYPED, CardBrowser
from shared.cards import practice_card
from shared.cards.tell import tell

CARD = practice_card()
KEYS = ["up", "down", "z", "w", "r", "enter", "escape", "backspace", "space", "hand 3", "section 2", *"kongdr9x", "f5"]


def pressed(*keys: str) -> CardBrowser:
    pane = CardBrowser(CARD)
    for key in keys:
        pane = pane.press(key) or pane
    return pane


def test_with_nothing_asked_the_section_of_the_marked_hand_is_listed() -> None:
    pane = pressed()
    for section in CARD.sections:
        listed = [pane.hands[number] for number in pane.listed()]
        assert tuple(listed) == section.hands
        pane = pane.next_section()
    assert pane.section == CARD.sections[0].name


def test_down_and_up_lead_through_every_hand_of_the_card() -> None:
    pane, seen = pressed(), []
    for _ in CARD.hands:
        seen.append(pane.marked)
        pane = pane.moved(1)
    assert tuple(seen) == CARD.hands
    assert pane.marked == CARD.hands[-1]
    assert pane.moved(-len(CARD.hands)).marked == CARD.hands[0]


def test_every_word_that_is_typed_must_fit() -> None:
    pane = pressed("w", *"kong", "space", *"dragon", "space", *"concealed")
    found = [pane.hands[number] for number in pane.matches()]
    assert found
    for hand in found:
        assert "^4" in hand.groups
        assert any(letter in hand.groups for letter in "DRGO")
        assert hand.concealed


def test_a_hand_is_found_by_what_is_shown_of_it() -> None:
    for told in tell(CARD):
        hand, first = told.hand, told.tiles.split()[0]
        for word in (told.name, hand.section, str(hand.value), first, first.lower(), told.words):
            found = CardBrowser(CARD, word).matches()
            assert hand in [CARD.hands[number] for number in found], word


def test_a_hand_is_found_by_no_id_and_no_notation() -> None:
    for word in (*(hand.id for hand in CARD.hands), "n.p", "^", "^4", "d(p)"):
        assert not CardBrowser(CARD, word).matches(), word


def test_typed_letters_are_all_taken_while_somebody_searches() -> None:
    pane = pressed("w")
    for key in ("a", "n", "s", "q", "z", "r", "1", "?", "space"):
        changed = pane.press(key)
        assert changed is not None
        pane = changed
    assert pane.query == "ansqzr1? "


def test_enter_pins_what_was_found_and_shows_the_whole_card_again() -> None:
    at = next(
        at for at, told in enumerate(tell(CARD)) if at and CardBrowser(CARD, told.name[:MOST_TYPED]).matches() == (at,)
    )
    letters = tell(CARD)[at].name[:MOST_TYPED]
    pane = pressed("w", *["space" if letter == " " else letter for letter in letters], "enter")
    assert (pane.pinned, pane.query, pane.typing) == (CARD.hands[at].id, "", False)
    assert pane.marked == CARD.hands[at]


def test_leaving_a_search_leaves_the_pin_alone() -> None:
    assert pressed("r", "w", *"kong", "escape").pinned == CARD.hands[0].id


def test_what_is_pinned_can_be_taken_off_again() -> None:
    pinned = pressed("r").told_pinned
    assert pinned
    assert pinned.hand == CARD.hands[0]
    assert pressed("r", "r").told_pinned is None


def test_a_search_that_finds_nothing_marks_and_pins_nothing() -> None:
    pane = pressed("w", *"zzzz")
    assert pane.marked is None
    assert pane.press("enter") == pane.cleared()


@given(st.lists(st.sampled_from(KEYS), max_size=40))
def test_whatever_is_pressed_the_marked_hand_is_one_of_those_listed(keys: list[str]) -> None:
    pane = pressed(*keys)
    assert pane.marked is None or pane.at in pane.listed()
    assert set(pane.listed()) <= set(pane.matches())
    assert pane.pinned == "" or pane.told_pinned is not None


def test_a_table_without_a_card_has_nothing_to_look_through() -> None:
    pane = CardBrowser()
    for key in KEYS:
        pane = pane.press(key) or pane
    assert pane.marked is None


def test_the_pane_knows_no_rack() -> None:
    """Nothing of a rack can reach it: it is made of a card and of keys."""
    assert not {"rack", "tiles", "model", "view"} & set(inspect.signature(CardBrowser).parameters)
    assert "shared.rules.tiles" not in inspect.getsource(card_pane)

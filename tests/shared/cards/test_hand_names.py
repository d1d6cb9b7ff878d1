"""Names to say and the digest: made of what the hands want, never of their texts, ids or order."""

from dataclasses import replace
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, Hand, Section, first_evening_card, practice_card
from shared.cards.digest import card_digest, hand_keys, hand_numbers
from shared.cards.expand import expand_hand
from shared.cards.hand_names import MOST, bare_name, names_of
from tests.shared.cards.random_hands import YEAR, hands


def card_of(hands_: list[Hand]) -> Card:
    """A card of different patterns."""
    different = {frozenset(expand_hand(hand, YEAR)): hand for hand in hands_}
    numbered = tuple(replace(hand, id=f"h{number}") for number, hand in enumerate(different.values()))
    return Card("Pier evening", YEAR, "", (Section("One", "", numbered),))


cards = st.integers(0, 2**32).map(lambda seed: card_of(list(islice(hands(seed), 12))))


@settings(max_examples=25, deadline=None)
@given(cards)
def test_no_two_hands_of_a_card_have_one_name_and_every_name_fits(card: Card) -> None:
    names = names_of(card)
    assert len(set(names)) == len(names) == len(card.hands)
    assert all(0 < len(name) <= MOST and name == name.strip() and name.isascii() for name in names)
    assert not any(mark in name for name in names for mark in "^.()")


@settings(max_examples=25, deadline=None)
@given(cards)
def test_a_long_name_loses_whole_words_and_is_never_cut_inside_one(card: Card) -> None:
    for hand in card.hands:
        short, whole = bare_name(hand, YEAR), bare_name(hand, YEAR, most=200)
        assert short.split()[0].rstrip(",") == whole.split()[0].rstrip(",")[:MOST]
        assert set(short.replace(",", "").split()[1:]) <= set(whole.replace(",", "").split())
        assert not short.endswith(" and")


def test_many_hands_of_one_kind_still_have_names_of_their_own() -> None:
    alike = [
        Hand("h", "s", f"F^2 n.p^3 n+1.p^3 {rank}.q^3 {other}.q^3")
        for rank in range(1, 10)
        for other in range(rank + 1, 10)
    ]
    names = names_of(card_of(alike))
    assert len(set(names)) == 36
    assert all(len(name) <= MOST for name in names)


@settings(max_examples=15, deadline=None)
@given(cards, st.randoms(use_true_random=False))
def test_cards_that_differ_in_texts_ids_and_order_share_digest_numbers_and_names(card: Card, dice: object) -> None:
    turned = list(card.hands)
    dice.shuffle(turned)  # type: ignore[attr-defined]
    half = len(turned) // 2
    other = Card(
        "Another title",
        YEAR,
        "Typed in again.",
        (
            Section(
                "Two",
                "Half of them.",
                tuple(replace(hand, id=f"x{n}", note="!") for n, hand in enumerate(turned[:half])),
            ),
            Section(
                "Three", "", tuple(replace(hand, id=f"y{n}", section="Three") for n, hand in enumerate(turned[half:]))
            ),
        ),
        share=True,
    )
    assert card_digest(other) == card_digest(card)

    def known(one: Card) -> dict[frozenset[object], tuple[int, str]]:
        wants = [frozenset(expand_hand(hand, YEAR)) for hand in one.hands]
        return dict(zip(wants, zip(hand_numbers(one), names_of(one), strict=True), strict=True))

    assert known(other) == known(card)


def test_a_hand_written_another_way_is_the_same_and_what_it_wants_or_counts_tells_hands_apart() -> None:
    def digest(**fields: object) -> str:
        hand = replace(Hand("h", "s", "F^2 n.p^3 n+1.p^4 n+2.p^5"), **fields)  # type: ignore[arg-type]
        return card_digest(Card("t", YEAR, "", (Section("s", "", (hand,)),)))

    plain = digest()
    assert digest(groups="F^2 n+2.q^5 n.q^3 n+1.q^4") == plain
    assert digest(groups="F^2 n-1.r^3 n.r^4 n+1.r^5") == plain
    assert digest(n=(1, 2, 3, 4, 5, 6, 7)) == plain
    assert digest(note="Mind the tide.", id="other", section="Another") == plain
    others = [
        digest(concealed=True), digest(value=30), digest(n=(1,)), digest(groups="F^2 n.p^3 n+1.q^4 n+2.p^5"),
        digest(groups="F^2 n.p^2 n+1.p^5 n+2.p^5"),
    ]  # fmt: skip
    assert len({plain, *others}) == 6


def test_groups_of_one_kind_count_as_pair_and_group_not_as_their_sum() -> None:
    keys = hand_keys(
        Card(
            "t",
            YEAR,
            "",
            (Section("s", "", (Hand("a", "s", "5.p^2 5.p^3 F^9"), Hand("b", "s", "5.p^5 F^9"))),),
        )
    )
    assert keys[0] != keys[1]


def test_rows_that_count_differently_are_another_hand() -> None:
    rows = Hand("a", "s", "F^8 N^6 or F^8 S^6", values=(20, 30))
    assert (
        hand_keys(Card("t", YEAR, "", (Section("s", "", (rows, replace(rows, values=(30, 20)))),)))[0]
        != (hand_keys(Card("t", YEAR, "", (Section("s", "", (replace(rows, values=(30, 20)),)),)))[0])
    )


@pytest.mark.parametrize(
    ("groups", "name"),
    [
        ("F^4 n.p^3 n+1.p^4 n+2.p^3", "run 3-4-3, one suit, 4 F"),
        ("n.p^2 n+1.p^2 n+2.p^2 n+3.p^2 n+4.p^2 n+5.p^2 n+6.p^2", "run seven pairs, one suit"),
        ("F^2 2.p^3 4.p^3 6.p^3 8.p^3", "2468 four pungs, one suit, 2 F"),
        ("F^3 n.p^3 n.q^4 n.r^4", "like 3-4-4, three suits, 3 F"),
        ("E^3 n.p^4 n.q^4 W^3", "like 4-4 and winds, two suits"),
        ("F^2 X^2 Z^3 R^2 G^3 O^2", "winds and dragons 2-3-2-3-2, 2 F"),
        ("n.p^2 n+2.p^2 n+4.p^2 n.q^2 n+2.q^2 n+4.q^2 D(r)^2", "steps of two six pairs"),
        ("n.p^3 n.q^4 m.p^4 m.q^3", "two ranks 3-4-4-3, two suits"),
        ("n.p^3 10-n.p^4 n.q^4 10-n.q^3", "sum 10 3-4-4-3, two suits"),
        ("n.p^3 n+m.q^4 m.r^3 F^4", "three ranks 3-4-3, three suits"),
        ("F^14", "flowers 14"),
        ("F^8 N^6 or F^8 S^6", "winds 6, two ways, 8 F"),
    ],
)
def test_a_name_says_what_the_hand_is_built_of(groups: str, name: str) -> None:
    assert bare_name(Hand("h", "s", groups), YEAR).startswith(name)


@pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=lambda card: card.title)
def test_the_shipped_cards_need_few_numbers_in_their_names(card: Card) -> None:
    numbered = [name for name in names_of(card) if name.rsplit(" ", 1)[-1].isdecimal() and "F" not in name]
    assert len(numbered) <= 6, numbered

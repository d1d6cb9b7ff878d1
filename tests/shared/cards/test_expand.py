"""Expansion: every way to play a hand, once, and none that the set cannot fill."""

import hashlib
from pathlib import Path

import pytest
from hypothesis import assume, given, settings

from shared.cards import Card, Hand, Section, expand, first_evening_card, practice_card, read_card
from shared.cards.expand import count_choices, expand_groups, expand_hand, instances
from shared.cards.notation import Group, format_groups, parse_groups
from shared.rules.tiles import KINDS
from tests.shared.cards.brute_force import by_brute_force
from tests.shared.cards.test_notation import patterns

YEAR = 2026


def variants(groups: str, n: tuple[int, ...] | None = None, year: int = YEAR) -> set[str]:
    """The variants of groups as text: what is wanted in singles and pairs, a bar, what is wanted in groups."""
    hand = Hand("h", "s", groups, False, 25, n)
    return {f"{written(pairs)} | {written(larger)}".strip() for pairs, larger in expand_hand(hand, year)}


def written(counts: tuple[int, ...]) -> str:
    return " ".join(f"{kind}x{count}" for kind, count in zip(KINDS, counts, strict=True) if count)


def by_expansion(groups: str, n: tuple[int, ...] | None, year: int) -> list[tuple[tuple[str, int, bool], ...]]:
    return [
        tuple(
            sorted(
                (kind, count, large)
                for large, counts in ((False, pairs), (True, larger))
                for kind, count in zip(KINDS, counts, strict=True)
                if count
            )
        )
        for pairs, larger in expand_groups(parse_groups(groups)[0], n, year)
    ]


@settings(max_examples=60, deadline=None)
@given(patterns())
def test_expansion_finds_what_brute_force_finds_and_nothing_twice(groups: tuple[Group, ...]) -> None:
    assume(count_choices(groups, None) <= 2_000)
    text = format_groups(groups)
    found = by_expansion(text, None, YEAR)
    assert len(found) == len(set(found))
    assert set(found) == by_brute_force(text, None, YEAR)


@settings(max_examples=60, deadline=None)
@given(patterns())
def test_the_choices_are_counted_before_they_are_tried(groups: tuple[Group, ...]) -> None:
    count = count_choices(groups, None)
    assume(count <= 2_000)
    assert sum(1 for _ in instances(groups, None, YEAR)) == count


def test_the_card_of_earlier_heats_expands_as_it_always_did() -> None:
    # The digest was made by the expansion of version 0.1, which knew nothing but one free rank and suits p, q, r.
    card = read_card((Path(__file__).parent / "fixtures" / "practice_1.toml").read_bytes())
    assert isinstance(card, Card)
    digest = hashlib.sha256()
    for variant in expand(card):
        digest.update(repr((variant.hand, variant.pairs, variant.groups)).encode())
    assert digest.hexdigest() == "f9535cf827e20e466095a5bf0860e2ee8f313c10745d4686b4f827be7a3b48d7"


@pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=lambda card: card.title)
def test_every_shipped_hand_expands_as_by_brute_force(card: Card) -> None:
    for hand in card.hands:
        found = by_expansion(hand.groups, hand.n, card.year)
        assert len(found) == len(set(found)) > 0, hand.id
        assert set(found) == by_brute_force(hand.groups, hand.n, card.year), hand.id


@pytest.mark.parametrize(
    ("groups", "count"),
    [
        ("F^2 n.p^4 n+1.p^4 n+2.p^4", 3 * 7),
        ("F^2 n.p^4 n+1.q^4 n+2.r^4", 6 * 7),
        ("F^2 n.p^4 n.q^4 n.r^4", 9),  # the suits can change places without a difference
        ("F^4 X^5 Z^5", 4 * 3 // 2),
        ("F^3 X^5 Z^6", 4 * 3),
        ("F^4 D(p)^4 D(q)^3 n.r^3", 6 * 9),
        ("F^14", 1),  # eight flowers and six jokers
        ("F^6 n.p^4 m.p^4", 3 * 9 * 8 // 2),  # any two ranks, one suit
        ("F^6 n.p^4 m.p^4 or F^6 n.p^8", 3 * 36 + 3 * 9),
        ("F^6 n.p^4 10-n.q^4", 6 * 9 // 2),  # the suits can change places together with the ranks
        ("F^6 n.p^4 10-n.p^4", 3 * 5),
        ("F^2 n.p^4 m.p^4 n+m.p^4", 3 * 16),  # a sum of at most nine from two different ranks
        ("F^2 n-1.p^4 n.p^4 n+1.p^4", 3 * 7),
        ("X^4 Z^4 V^4 U^2", 4),
        ("F^6 1.b^4 n.c^4", 9),
        ("F^6 1.p^4 2.x^4", 9),  # one suit or two
        ("F^6 5.b^4 5.p^4", 2),  # another suit than the one called by name
        ("F^6 5.p^4 A^4", 9),  # any dragon
        ("F^6 5.p^4 D(-p)^4", 6),  # a dragon of another suit
        ("F^6 A^4 B^4", 3),
    ],
)
def test_a_hand_has_as_many_variants_as_a_person_counts(groups: str, count: int) -> None:
    assert len(variants(groups)) == count


def test_singles_and_pairs_stand_apart_from_groups_that_take_jokers() -> None:
    assert variants("F^2 1.p^3 2.p^4 3.p^5") == {
        "Fx2 | 1bx3 2bx4 3bx5",
        "Fx2 | 1cx3 2cx4 3cx5",
        "Fx2 | 1dx3 2dx4 3dx5",
    }


def test_two_groups_of_one_kind_add_up_each_on_its_own_side() -> None:
    assert "5bx2 | 5bx3 Fx9" in variants("5.p^2 5.p^3 F^9")
    assert "5bx3 | Nx11" in variants("5.p^1 5.p^2 N^11")


def test_a_quint_needs_a_joker_and_is_possible_as_long_as_the_jokers_suffice() -> None:
    assert variants("N^5 E^9") == {"| Nx5 Ex9"}  # six jokers
    assert variants("N^3 E^1 F^10") == {"Ex1 | Nx3 Fx10"}
    assert variants("N^7 E^7") == {"| Nx7 Ex7"}
    assert variants("1.p^14") == set()  # ten jokers
    assert variants("N^13 E^1") == set()  # nine jokers


def test_five_real_tiles_of_four_are_impossible() -> None:
    assert variants("5.p^2 5.p^2 5.p^1 F^9") == set()
    assert variants("5.p^2 5.p^2 F^10") != set()


def test_only_the_choices_that_the_set_can_fill_remain() -> None:
    # X and N together want five real norths, so X is one of the other three winds.
    assert variants("X^1 N^2 N^2 F^9") == {"Nx4 Ex1 | Fx9", "Nx4 Wx1 | Fx9", "Nx4 Sx1 | Fx9"}


def test_x_and_z_are_different_winds() -> None:
    assert variants("X^2 Z^2 F^10") == {
        f"{first}x2 {second}x2 | Fx10" for first, second in ("NE", "NW", "NS", "EW", "ES", "WS")
    }


def test_a_dragon_goes_with_its_suit() -> None:
    # Common practice: green with bams, red with craks, white with dots.
    assert variants("1.p^4 D(p)^4 F^6") == {"| 1bx4 Gx4 Fx6", "| 1cx4 Rx4 Fx6", "| 1dx4 Ox4 Fx6"}


def test_the_zero_of_the_year_is_the_white_dragon_in_any_suit() -> None:
    assert variants("Y1.p^3 Y2.p^4 Y3.p^3 Y4.p^4") == {f"| 2{suit}x6 6{suit}x4 Ox4" for suit in "bcd"}
    assert variants("Y1.p^4 Y2.p^4 Y3.p^3 Y4.p^3", year=1999) == {f"| 1{suit}x4 9{suit}x10" for suit in "bcd"}
    assert variants("Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 F^10", year=2000) == {f"2{s}x1 Ox3 | Fx10" for s in "bcd"}


def test_n_runs_over_all_that_fits_or_over_its_own_list() -> None:
    assert variants("n.p^7 n+8.p^7") == {f"| 1{suit}x7 9{suit}x7" for suit in "bcd"}
    assert variants("n.p^4 n.q^4 n.r^4 F^2", (2, 9)) == {f"Fx2 | {n}bx4 {n}cx4 {n}dx4" for n in (2, 9)}


def test_variants_keep_the_order_of_the_hands_and_add_up_to_fourteen() -> None:
    hands = tuple(
        Hand(name, "s", groups, False, 25)
        for name, groups in (("a", "F^2 N^4 E^4 W^4"), ("b", "n.p^2 n+1.p^4 n+2.p^4 n+3.p^4"))
    )
    found = expand(Card("t", YEAR, "", (Section("s", "about", hands),)))
    assert [variant.hand for variant in found] == [0] + [1] * 18
    assert all(sum(variant.pairs) + sum(variant.groups) == 14 for variant in found)
    assert all(len(variant.pairs) == len(variant.groups) == 36 for variant in found)


def test_groups_that_cannot_be_read_are_a_bug_of_the_caller() -> None:
    with pytest.raises(ValueError, match="h: 'H\\^14' has an unknown face"):
        expand_hand(Hand("h", "s", "H^14", False, 25), YEAR)

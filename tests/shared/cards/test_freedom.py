"""The words about a hand: true of all its variants, of nothing else, and never the same for hands that differ."""

from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, Hand, first_evening_card, practice_card
from shared.cards.example import Example, columns_of
from shared.cards.expand import counts_of, expand_hand, is_possible, pattern_of
from shared.cards.faces import YearDigit
from shared.cards.freedom import Freedom, freedom_of
from shared.cards.picture import examples, picture_text
from shared.rules.tiles import rank, suit
from tests.shared.cards.meanings import dragons_allowed, ranks_allowed, suits_allowed
from tests.shared.cards.random_hands import YEAR, hands

some_hands = st.integers(0, 2**32).map(lambda seed: next(hands(seed)))


def told(hand: Hand) -> list[tuple[Example, Freedom]]:
    pattern = pattern_of(hand)
    return [
        (example, freedom_of(example, pattern.n, YEAR, pattern.m, pattern.jokers)) for example in examples(hand, YEAR)
    ]


def words_of(hand: Hand) -> str:
    return " or ".join(str(freedom) for _, freedom in told(hand))


def check_meaning(hand: Hand) -> None:
    """Read the words back and compare what they allow with what the hand allows, in both directions."""
    pattern = pattern_of(hand)
    for example, freedom in told(hand):
        columns = columns_of(example.groups, pattern.n, YEAR, pattern.m)
        if freedom.ranks and "rank" in example.clear and not freedom.ranks.startswith("ranks of groups"):
            shown: dict[int, tuple[int, ...]] = {}
            for column, tile, group in zip(columns.ranks, example.tiles, example.groups, strict=True):
                if column and (not isinstance(group.face, YearDigit) or len(set(column)) > 1):
                    shown.setdefault(rank(tile) or 0, column)
            assert ranks_allowed(freedom.ranks, tuple(shown)) == set(zip(*shown.values(), strict=True)), freedom.ranks
        if not freedom.suits.startswith("groups"):
            check_suits(example, freedom, columns.suits, columns.dragons)
        winds = dict(zip(columns.winds, example.tiles, strict=True))
        free = [wind for wind in winds if wind in ("X", "Z", "V", "U")]
        many = {0: "", 1: "any wind", 2: "any two different winds", 3: "any three different winds"}
        assert freedom.winds.endswith(many.get(len(free), "any four different winds"))
        assert (freedom.jokers == "no jokers") != pattern.jokers


def check_suits(
    example: Example, freedom: Freedom, suits: tuple[tuple[str, ...], ...], dragons: tuple[tuple[str, ...], ...]
) -> None:
    at = {suit(tile) or "": column for column, tile in zip(suits, example.tiles, strict=True) if column}
    free = {
        tile: column for column, tile in zip(dragons, example.tiles, strict=True) if column and len(set(column)) > 1
    }
    moves = any(len(set(column)) > 1 for column in at.values())
    allowed = suits_allowed(freedom.suits, tuple(at)) if freedom.suits else {tuple(at)} if not moves else set()
    if free:
        both = dragons_allowed(freedom.dragons, allowed, tuple(at), tuple(free))
        assert both == set(zip(*at.values(), *free.values(), strict=True)), freedom
    elif at:
        assert allowed == set(zip(*at.values(), strict=True)), freedom


@settings(max_examples=150, deadline=None)
@given(some_hands)
def test_the_words_mean_what_the_hand_allows_no_more_and_no_less(hand: Hand) -> None:
    check_meaning(hand)


@pytest.mark.parametrize("card", [practice_card(), first_evening_card()], ids=lambda card: card.title)
def test_the_words_of_the_shipped_hands_are_short_and_mean_what_the_hands_allow(card: Card) -> None:
    for hand in card.hands:
        check_meaning(hand)
        assert len(words_of(hand)) <= 100, hand.id
        assert "groups" not in words_of(hand)


def test_hands_that_differ_never_share_words_and_example() -> None:
    seen: dict[tuple[str, str], tuple[Hand, frozenset[object]]] = {}
    for hand in islice(hands(7), 1_500):
        mine = hand, frozenset(expand_hand(hand, YEAR))
        other = seen.setdefault((words_of(hand), picture_text(hand, YEAR)), mine)
        assert other[1] == mine[1], (other[0].groups, hand.groups)


@settings(max_examples=100, deadline=None)
@given(some_hands)
def test_the_example_is_a_complete_hand_of_its_row(hand: Hand) -> None:
    pattern = pattern_of(hand)
    wanted = set(expand_hand(hand, YEAR))
    for example in examples(hand, YEAR):
        counts = counts_of(example.tiles, tuple(group.count for group in example.groups), pattern.jokers)
        assert is_possible(counts)
        assert counts in wanted
        assert sum(map(sum, counts)) == 14


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        ("F^4 n.p^3 n+1.p^4 n+2.p^3", "any three ranks in a row, one suit"),
        ("F^2 2.p^3 4.p^3 6.q^3 8.q^3", "only 2, 4, 6 and 8; two suits"),
        ("F^3 n.p^4 n.q^4 D(r)^3", "any one rank, two suits, the dragon of the third suit"),
        ("F^3 n.p^4 n.q^4 D(q)^3", "any one rank, two suits, with the dragon of the suit shown as craks"),
        ("F^6 X^4 Z^4", "any two different winds"),
        ("F^3 N^4 X^3 S^4", "east: any wind"),
        ("F^6 n.p^4 m.q^4", "any two different ranks, two suits"),
        ("F^2 n.p^4 m.q^4 n+m.r^4", "any two different ranks and their sum, three suits"),
        ("F^6 n.p^4 10-n.q^4", "any two ranks that add up to 10, also 5 and 5; two suits"),
        ("F^6 n.p^4 9-n.q^4", "any two ranks that add up to 9, two suits"),
        ("F^6 1.b^4 9.c^4", "exactly these tiles"),
        ("F^6 n.b^4 n+1.c^4", "any two ranks in a row, bams and craks only"),
        ("F^6 n.p^4 n+1.x^4", "any two ranks in a row, one or two suits"),
        ("F^3 n.p^4 n+1.p^4 A^3", "any two ranks in a row, one suit, any dragon"),
        ("F^3 n.p^4 n+1.p^4 D(-p)^3", "any two ranks in a row, one suit, the dragon of another suit"),
        ("F^6 n.p^4 9.q^4", "any one rank, 9 stays; two suits"),
        ("F^2 Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q^4 n.r^4", "the year 2026, any one rank, three suits"),
    ],
)
def test_the_words_are_those_that_a_player_would_use(groups: str, words: str) -> None:
    assert words_of(Hand("h", "s", groups)) == words

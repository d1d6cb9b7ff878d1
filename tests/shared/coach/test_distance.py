"""Tiles away is the least number of tiles to change: checked by an integer program and by trying everything."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix, csr_matrix

from shared.cards import Hand, Variant
from shared.cards.expand import expand_groups, expand_hand
from shared.cards.notation import parse_groups
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away, away_one, counts_of, shortages
from shared.rules.tiles import KINDS
from shared.rules.typed_tiles import typed
from tests.shared.cards.brute_force import Wanted, by_brute_force
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import CARD, pattern


def of_notation(groups: str, year: int = 2026) -> Patterns:
    parsed, faults = parse_groups(groups)
    assert not faults
    return Patterns.of_variants([Variant(0, *counts) for counts in expand_groups(parsed, None, year)])


def distance(groups: str, rack: str) -> int:
    return int(away_one(of_notation(groups), counts_of(typed(rack))).min())


class Program:
    """All variants of a card as one integer program that maximises the tiles of a rack that can be used.

    Of variant v, x[v, k] naturals of kind k go to pairs, y[v, k] to groups, and j[v] jokers to groups: x <= P, y <= G,
    x + y <= c, j <= J, and for each variant the groups take no more than they hold: sum y + j <= sum G. Variants share
    no variable, so the best of the sum is the best of each.
    """

    def __init__(self, patterns: Patterns) -> None:
        variant, self.kind = np.nonzero(patterns.pairs + patterns.groups)
        cells, variants = len(variant), len(patterns)
        cell, each = np.arange(cells), np.arange(variants)
        rows = np.concatenate([cell, cell, cells + variant, cells + each])
        columns = np.concatenate([cell, cells + cell, cells + cell, 2 * cells + each])
        shape = (cells + variants, 2 * cells + variants)
        self.matrix: csr_matrix = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=shape).tocsr()
        self.in_pairs, self.in_groups = patterns.pairs[variant, self.kind], patterns.groups[variant, self.kind]
        self.group_tiles = patterns.groups.sum(axis=1, dtype=int)
        self.owner = np.concatenate([variant, variant, each])

    def away(self, rack: Counts) -> np.ndarray:
        jokers = np.full(len(self.group_tiles), rack[JOKER_INDEX])
        answer = milp(
            -np.ones(self.matrix.shape[1]),
            constraints=LinearConstraint(self.matrix, -np.inf, np.concatenate([rack[self.kind], self.group_tiles])),
            bounds=Bounds(0, np.concatenate([self.in_pairs, self.in_groups, jokers])),
            integrality=1,
        )
        assert answer.success
        return np.round(14 - np.bincount(self.owner, weights=answer.x)).astype(int)


def test_every_hand_agrees_with_an_integer_program_on_300_random_racks() -> None:
    program = Program(CARD)
    dealt = racks(1, 300)
    ours = np.minimum.reduceat(away(CARD, dealt), CARD.first, axis=1)
    for row, rack in enumerate(dealt):
        theirs = np.minimum.reduceat(program.away(rack), CARD.first)
        np.testing.assert_array_equal(ours[row], theirs)


NEW_FORMS = (
    "F^2 n.p^4 m.p^4 n+m.p^4",
    "n-1.p^3 n.q^4 10-n.r^4 D(-p)^3",
    "X^2 Z^3 V^4 U^5",
    "n.b^4 m.x^4 A^3 B^3",
    "F^2 1.p^3 2.p^3 3.x^3 4.y^3 or F^2 6.p^3 7.p^3 8.x^3 9.y^3",
    "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 D(-p)^4 12-n-m.q^2 n.q^2 m.q^2",
)


def test_every_form_of_the_notation_agrees_with_an_integer_program_over_the_second_expansion() -> None:
    # The program measures the variants that tests/shared/cards/brute_force.py finds, not the ones of the card.
    dealt = racks(4, 40)
    for groups in NEW_FORMS:
        ours = Patterns.of_variants([Variant(0, *counts) for counts in expand_hand(Hand("h", "s", groups), 2026)])
        theirs = Patterns.of_variants([_variant(wanted) for wanted in sorted(by_brute_force(groups, None, 2026))])
        program = Program(theirs)
        for row, rack in zip(away(ours, dealt), dealt, strict=True):
            assert row.min() == program.away(rack).min(), groups


def test_a_hand_without_jokers_agrees_with_the_program_when_all_its_groups_are_pairs() -> None:
    dealt = racks(5, 60)
    hand = Hand("h", "s", "F^2 n.p^3 n+1.p^3 n+2.p^3 D(p)^3", jokers=False)
    ours = Patterns.of_variants([Variant(0, *counts) for counts in expand_hand(hand, 2026)])
    program = Program(
        Patterns.of_variants(
            [_variant(tuple((k, c, False) for k, c, _ in wanted)) for wanted in by_brute_force(hand.groups, None, 2026)]
        )
    )
    for row, rack in zip(away(ours, dealt), dealt, strict=True):
        assert row.min() == program.away(rack).min()


def _variant(wanted: Wanted) -> Variant:
    rows = np.zeros((2, 36), dtype=int)
    for kind, count, large in wanted:
        rows[int(large), KINDS.index(kind)] += count
    return Variant(0, tuple(rows[0].tolist()), tuple(rows[1].tolist()))


def by_exhaustion(variant: Variant, rack: Counts) -> int:
    """Try every complete rack of a variant, with every number of jokers in every group, and count what differs."""
    wanted = np.array(variant.pairs) + np.array(variant.groups)
    best = 14
    for jokers in product(*(range(count + 1) for count in variant.groups)):
        complete = wanted - np.array(jokers)
        complete[JOKER_INDEX] = sum(jokers)
        best = min(best, 14 - int(np.minimum(complete, rack).sum()))
    return best


def test_tiny_cards_agree_with_trying_every_complete_rack() -> None:
    tiny = [
        pattern(0, [("N", 4), ("E", 4), ("1b", 2), ("2b", 2), ("3b", 2)]),
        pattern(1, [("5c", 2), ("5c", 3), ("5d", 4), ("F", 5)]),
        pattern(2, [("1d", 1), ("2d", 2), ("3d", 3), ("4d", 4), ("5d", 4)]),
        pattern(3, [(tile, 2) for tile in ("N", "E", "W", "S", "R", "G", "O")]),
    ]
    patterns = Patterns.of_variants(tiny)
    for rack in np.concatenate([racks(2, 40), racks(3, 40, 13)]):
        assert away_one(patterns, rack).tolist() == [by_exhaustion(variant, rack) for variant in tiny]


def test_batches_and_single_racks_tell_the_same() -> None:
    dealt = racks(3, 200)
    many = away(CARD, dealt)
    for row, rack in zip(many, dealt, strict=True):
        np.testing.assert_array_equal(row, away_one(CARD, rack))
    np.testing.assert_array_equal(away(CARD, dealt[:0]), np.zeros((0, len(CARD)), dtype=np.uint8))


def test_a_complete_hand_is_no_tile_away_and_an_empty_rack_is_fourteen_away() -> None:
    complete = (CARD.pairs + CARD.groups).astype(np.uint8)
    assert (np.diagonal(away(CARD, complete[:50])) == 0).all()
    assert (away_one(CARD, np.zeros(36, dtype=np.uint8)) == 14).all()


def test_shortages_are_what_is_missing_in_pairs_and_in_groups() -> None:
    rack = counts_of(typed("1b 1b 2b 2b N N E J J"))
    in_pairs, in_groups = shortages(of_notation("N^2 E^2 W^2 S^4 R^4"), rack[None])
    assert (int(in_pairs[0, 0]), int(in_groups[0, 0])) == (3, 8)


@pytest.mark.parametrize(
    ("groups", "rack", "expected"),
    [
        ("N^2 E^2 W^2 S^2 R^2 G^2 O^2", "N E W S R G O J J J J J J J", 7),  # no joker stands in a pair
        ("N^4 E^4 W^4 S^2", "N N J J E E J J W W J J S S", 0),  # six jokers stand in groups
        ("N^4 E^4 W^4 S^2", "N N J J E E J J W W J J S J", 1),  # and a seventh cannot be the second south
        ("5.p^2 5.p^3 R^4 G^5", "5b 5b R R R R G G G G J J J J", 0),  # the pair first: three jokers make the pung
        ("5.p^2 5.p^3 R^4 G^5", "5b R R R R G G G G J J J J J", 1),  # one natural is not yet a pair
        ("R^5 G^5 O^4", "R R R R J G G G G J O O O O", 0),  # a quint needs a joker by itself
        ("F^8 R^3 G^3", "F F F F F F F F R R R G G G", 0),  # all eight flowers are one kind
        ("F^6 R^4 G^4", "F F F J J J R R R R G G G G", 0),  # flowers in a group take jokers
        ("F^2 R^4 G^4 O^4", "F J R R R R G G G G O O O O", 1),  # a pair of flowers does not
    ],
)
def test_jokers_stand_in_groups_and_nowhere_else(groups: str, rack: str, expected: int) -> None:
    assert distance(groups, rack) == expected


def test_the_years_zero_is_a_white_dragon() -> None:
    groups = "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 R^5 G^5"
    rack = "2b 2b 6b R R R R J G G G G J"
    assert distance(groups, f"{rack} O") == 0
    assert distance(groups, f"{rack} N") == 1


def test_a_card_with_a_hand_missing_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one variant"):
        Patterns.of_variants([pattern(1, [("N", 14)])])

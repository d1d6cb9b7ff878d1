"""A card as the simulator needs it: every variant with its single groups, since a call shows a whole group.

Made from the card's notation alone. Must not use the coach's patterns, which it is there to check.
"""

from collections import Counter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shared.cards import Card
from shared.cards.expand import counts_of, instances, is_possible, pattern_of
from shared.rules.tiles import INDEX, JOKER, KINDS

Ints = NDArray[np.int32]
KIND_COUNT = len(KINDS)
JOKER_KIND = INDEX[JOKER]
MOST_GROUPS = 4
"""Groups of three and more that fit into fourteen tiles."""
CALLABLE = 3
"""Tiles that a group needs at least before a discard may be called for it, or a joker stand in it."""


class Hands(NamedTuple):
    """Every variant of a card; a named tuple, because numba takes those.

    Attributes:
        hand: the card's hand that a variant belongs to, shape (variants,).
        concealed: whether nothing of it may be shown before it is complete, shape (variants,).
        slots: how many kinds it wants, shape (variants,).
        kinds: the kinds it wants, -1 where there are no more, shape (variants, slots).
        singles: tiles it wants of that kind in singles and pairs, shape (variants, slots).
        groups: tiles it wants of that kind in groups of three and more, shape (variants, slots).
        group_kind, group_size: its groups of three and more, -1 and 0 where there are no more, shape (variants, 4).
        wanting: the variants that want a kind, -1 where there are no more, shape (36, most).
        wanting_count: how many those are, shape (36,).
    """

    hand: Ints
    concealed: NDArray[np.bool_]
    slots: Ints
    kinds: Ints
    singles: Ints
    groups: Ints
    group_kind: Ints
    group_size: Ints
    wanting: Ints
    wanting_count: Ints


Groups = tuple[tuple[int, int], ...]
"""The groups of a variant: kind and size of each, sorted."""


def variants(card: Card) -> list[tuple[int, Groups]]:
    """Return the hand's number and the groups of every variant, in the order of the card, equal ones of a hand once."""
    found: dict[tuple[int, Groups], None] = {}
    for number, hand in enumerate(card.hands):
        pattern = pattern_of(hand)
        if not pattern.jokers:
            raise ValueError(f"{hand.id}: the simulator knows no hands without jokers yet")
        for row in pattern.rows:
            sizes = tuple(group.count for group in row)
            for tiles in instances(row, pattern.n, card.year, pattern.m):
                if is_possible(counts_of(tiles, sizes)):
                    made = sorted((INDEX[tile], size) for tile, size in zip(tiles, sizes, strict=True))
                    found[number, tuple(made)] = None
    return list(found)


def hands_of(card: Card) -> Hands:
    """Return a card's variants as arrays."""
    every = variants(card)
    wants = [_wants(groups) for _, groups in every]
    most = max(map(len, wants))
    slots = np.full((3, len(every), most), 0, dtype=np.int32)
    slots[0] = -1
    larger = np.zeros((2, len(every), MOST_GROUPS), dtype=np.int32)
    larger[0] = -1
    for row, (want, (_, groups)) in enumerate(zip(wants, every, strict=True)):
        slots[:, row, : len(want)] = np.array([(kind, *numbers) for kind, numbers in want.items()]).T
        called = [group for group in groups if group[1] >= CALLABLE]
        if called:
            larger[:, row, : len(called)] = np.array(called).T
    lists = [[row for row, want in enumerate(wants) if kind in want] for kind in range(KIND_COUNT)]
    wanting = np.full((KIND_COUNT, max(map(len, lists))), -1, dtype=np.int32)
    for kind, rows in enumerate(lists):
        wanting[kind, : len(rows)] = rows
    return Hands(
        hand=np.array([number for number, _ in every], dtype=np.int32),
        concealed=np.array([card.hands[number].concealed for number, _ in every], dtype=np.bool_),
        slots=np.array([len(want) for want in wants], dtype=np.int32),
        kinds=slots[0],
        singles=slots[1],
        groups=slots[2],
        group_kind=larger[0],
        group_size=larger[1],
        wanting=wanting,
        wanting_count=np.array([len(rows) for rows in lists], dtype=np.int32),
    )


def _wants(groups: Groups) -> dict[int, tuple[int, int]]:
    """Return what is wanted of each kind: tiles in singles and pairs, and tiles in larger groups."""
    small, larger = Counter[int](), Counter[int]()
    for kind, size in groups:
        (small if size < CALLABLE else larger)[kind] += size
    return {kind: (small[kind], larger[kind]) for kind in sorted({kind for kind, _ in groups})}

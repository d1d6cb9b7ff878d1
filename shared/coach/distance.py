"""How many tiles a rack is away from each hand of a card, exactly and for many racks at once.

Must never guess: every number here is the least count of tiles that have to change, jokers counted as they may be
used. Draws, odds and points are the business of chance.py.

A rack is a row of 36 counts in the order of tiles.KINDS. A pattern (one concrete variant of a hand) wants some tiles
of a kind as singles or pairs, which only naturals can fill, and some in groups of three or more, which jokers fill too.
Naturals serve the pair first. So a rack that misses D tiles of pairs and S tiles of groups, with J jokers, is
D + max(S - J, 0) tiles away. D and S are sums over the kinds, both at most 14, so one byte holds both (D in the
high half, S in the low half) and one table row a kind and count gives what that many tiles take off, for all patterns.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.cards import Card, Variant, expand
from shared.tiles import INDEX, JOKER, KINDS, Tile

Counts: TypeAlias = NDArray[np.uint8]
"""Counts by kind, shape (36,) for one rack or (racks, 36)."""

JOKER_INDEX = INDEX[JOKER]
MOST_COPIES = 8
_STEP = MOST_COPIES + 1  # table rows a kind: 0 to 8 copies
_OFFSETS = np.arange(JOKER_INDEX, dtype=np.intp) * _STEP
_HALF = np.uint8(4)
_LOW = np.uint8(15)
_BLOCK_BYTES = 1 << 19  # a block of table rows should stay in the second-level cache


def counts_of(tiles: Iterable[Tile]) -> Counts:
    """Return how many of each kind there are, shape (36,)."""
    counts = np.zeros(len(KINDS), dtype=np.uint8)
    for tile in tiles:
        counts[INDEX[tile]] += 1
    return counts


@dataclass(frozen=True, eq=False)
class Patterns:
    """All variants of a card as arrays, ordered by hand.

    Attributes:
        pairs: tiles wanted as singles or pairs, shape (variants, 36).
        groups: tiles wanted in groups of three or more, shape (variants, 36).
        hand: index of the hand each variant belongs to, shape (variants,), never falling.
        first: the first variant of each hand, shape (hands,).
        takes: what a number of tiles of one kind takes off the two shortages, shape (35 * 9, variants).
        bare: the two shortages of an empty rack, shape (variants,).
        slot_kinds: the kinds a variant wants, then joker kinds as filling, shape (variants, slots).
        slot_pairs, slot_groups: what it wants of those kinds, shape (variants, slots).
    """

    pairs: Counts
    groups: Counts
    hand: NDArray[np.intp]
    first: NDArray[np.intp]
    takes: NDArray[np.uint8]
    bare: NDArray[np.uint8]
    slot_kinds: NDArray[np.intp]
    slot_pairs: Counts
    slot_groups: Counts

    def __len__(self) -> int:
        """Return the number of variants."""
        return len(self.hand)

    @classmethod
    def of_card(cls, card: Card) -> "Patterns":
        """Return the patterns of every hand of a card."""
        return cls.of_variants(expand(card))

    @classmethod
    def of_variants(cls, variants: Sequence[Variant]) -> "Patterns":
        """Return the patterns of variants in the order of their hands.

        Raises:
            ValueError: there is no variant, or a hand between the first and the last has none.
        """
        ordered = sorted(variants, key=lambda variant: variant.hand)
        hand = np.array([variant.hand for variant in ordered], dtype=np.intp)
        if not len(hand) or not np.array_equal(np.unique(hand), np.arange(hand[-1] + 1)):
            raise ValueError("Every hand of a card needs at least one variant.")
        pairs = np.array([variant.pairs for variant in ordered], dtype=np.uint8)
        groups = np.array([variant.groups for variant in ordered], dtype=np.uint8)
        takes, bare = _tables(pairs, groups)
        first = np.searchsorted(hand, np.arange(hand[-1] + 1))
        kinds = _slots(pairs + groups)
        in_slots = (np.take_along_axis(pairs, kinds, axis=1), np.take_along_axis(groups, kinds, axis=1))
        return cls(pairs, groups, hand, first, takes, bare, kinds, *in_slots)


def _slots(wanted: Counts) -> NDArray[np.intp]:
    """Return the wanted kinds of each variant in kind order; no pattern wants a joker, so it can be filling."""
    most = int(np.count_nonzero(wanted, axis=1).max())
    kinds = np.argsort(wanted == 0, axis=1, kind="stable")[:, :most]
    return np.where(np.take_along_axis(wanted, kinds, axis=1) > 0, kinds, JOKER_INDEX)


def _tables(pairs: Counts, groups: Counts) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    held = np.arange(_STEP)[None, :, None]
    wanted_pairs = pairs.T[:JOKER_INDEX, None, :].astype(int)
    wanted_groups = groups.T[:JOKER_INDEX, None, :].astype(int)
    to_pairs = np.minimum(held, wanted_pairs)
    to_groups = np.minimum(held - to_pairs, wanted_groups)
    takes = (to_pairs << 4 | to_groups).astype(np.uint8).reshape(-1, len(pairs))
    bare = (pairs.sum(axis=1, dtype=int) << 4 | groups.sum(axis=1, dtype=int)).astype(np.uint8)
    return takes, bare


def shortages(patterns: Patterns, racks: Counts) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Return the missing tiles of pairs and of groups before jokers, each of shape (racks, variants)."""
    left: Counts = np.empty((len(racks), len(patterns)), dtype=np.uint8)
    naturals = racks[:, :JOKER_INDEX]
    most_kinds = int(np.count_nonzero(naturals, axis=1).max(initial=0))
    # The kinds a rack holds come first; a kind it does not hold points at a row of zeros.
    kinds = np.argsort(naturals == 0, axis=1, kind="stable")[:, :most_kinds]
    rows = _OFFSETS[kinds] + np.take_along_axis(naturals, kinds, axis=1)
    block = max(1, _BLOCK_BYTES // (len(patterns) * max(most_kinds, 1)))
    for start in range(0, len(racks), block):
        chosen = patterns.takes[rows[start : start + block]]
        np.add.reduce(chosen, axis=1, dtype=np.uint8, out=left[start : start + block])
    np.subtract(patterns.bare, left, out=left)
    in_groups: Counts = left & _LOW
    np.right_shift(left, _HALF, out=left)
    return left, in_groups


def away(patterns: Patterns, racks: Counts) -> NDArray[np.uint8]:
    """Return the tiles away of every variant, shape (racks, variants)."""
    in_pairs, in_groups = shortages(patterns, racks)
    jokers = racks[:, JOKER_INDEX:]
    np.maximum(in_groups, jokers, out=in_groups)
    in_groups -= jokers
    in_groups += in_pairs
    return in_groups


def away_one(patterns: Patterns, rack: Counts) -> NDArray[np.uint8]:
    """Return the tiles away of every variant for one rack of shape (36,), shape (variants,)."""
    kinds = rack[:JOKER_INDEX].nonzero()[0]
    left: Counts = patterns.bare - np.add.reduce(patterns.takes[_OFFSETS[kinds] + rack[kinds]], axis=0, dtype=np.uint8)
    in_groups: Counts = left & _LOW
    jokers = rack[JOKER_INDEX]
    if jokers:
        np.maximum(in_groups, jokers, out=in_groups)
        in_groups -= jokers
    left >>= _HALF
    left += in_groups
    return left


def away_by_hand(patterns: Patterns, racks: Counts) -> NDArray[np.uint8]:
    """Return the tiles away of every hand, the least over its variants, shape (racks, hands)."""
    return np.minimum.reduceat(away(patterns, racks), patterns.first, axis=1)

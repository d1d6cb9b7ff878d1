"""How many tiles a rack is away from each hand of a card: exact, and for many racks at once.

Must never estimate: every number is the fewest tiles that must change, with jokers used as the rules allow. Draws, odds
and points belong to chance.py.

A rack is a row of 36 counts in the order of tiles.KINDS. A pattern (one concrete variant of a hand) wants some tiles
of a kind as singles or pairs, which only naturals can fill, and some in groups of three or more, which jokers fill too.
Naturals fill the pair first. So a rack that misses D tiles of pairs and S tiles of groups, with J jokers, is
D + max(S - J, 0) tiles away: the greater of D + S - J and D. Both are sums over the kinds. So we keep a table with one
row for each kind and count: how much that many tiles reduce D + S, and D, in every pattern.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.cards import Card, Variant, expand
from shared.rules.tiles import INDEX, JOKER, KINDS, Tile

Counts: TypeAlias = NDArray[np.uint8]
"""Counts by kind, shape (36,) for one rack or (racks, 36)."""
Shortages: TypeAlias = NDArray[np.int8]

JOKER_INDEX = INDEX[JOKER]
MOST_COPIES, MOST_JOKERS = 8, 10
"""Of any kind but the joker; of the joker, where a table plays with ten."""
_STEP = MOST_COPIES + 1  # table rows for each kind: 0 to 8 copies
_OFFSETS = np.arange(JOKER_INDEX, dtype=np.intp) * _STEP
_BLOCK_BYTES = 1 << 21  # a block of table rows should nearly fit the L2 cache


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
        hand: index of each variant's hand, shape (variants,), ascending.
        concealed: whether the variant's hand is concealed, shape (variants,).
        value: what each variant counts as a share of the card's dearest, above 0 to 1, shape (variants,).
        first: the first variant of each hand, shape (hands,).
        takes: how much a count of one kind reduces D + S, then D, shape (35 * 9, 2 * variants).
        bare: D + S - J, then D, of a rack that holds only jokers, shape (11, 2 * variants).
        slot_kinds: the kinds a variant wants, padded with the joker kind, shape (variants, slots).
        slot_pairs, slot_groups: how many of those kinds it wants, shape (variants, slots).
    """

    pairs: Counts
    groups: Counts
    hand: NDArray[np.intp]
    concealed: NDArray[np.bool_]
    value: NDArray[np.float64]
    first: NDArray[np.intp]
    takes: Shortages
    bare: Shortages
    slot_kinds: NDArray[np.intp]
    slot_pairs: Counts
    slot_groups: Counts

    def __len__(self) -> int:
        """Return the number of variants."""
        return len(self.hand)

    def wanted(self, variant: int) -> Counts:
        """Return all tiles that a variant wants as counts by kind, shape (36,)."""
        both: Counts = self.pairs[variant] + self.groups[variant]
        return both

    @classmethod
    def of_card(cls, card: Card) -> "Patterns":
        """Return the patterns of every hand of a card."""
        return cls.of_variants(expand(card), concealed_hands(card))

    @classmethod
    def of_variants(cls, variants: Sequence[Variant], concealed: Collection[int] = ()) -> "Patterns":
        """Return the patterns of variants in the order of their hands; concealed names the hands that are.

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
        values = np.array([variant.value for variant in ordered], dtype=float)
        value, is_concealed = values / values.max(), np.isin(hand, list(concealed))
        return cls(pairs, groups, hand, is_concealed, value, first, takes, bare, kinds, *in_slots)


def concealed_hands(card: Card) -> frozenset[int]:
    """Return the places of a card's concealed hands among its hands."""
    return frozenset(number for number, hand in enumerate(card.hands) if hand.concealed)


def _slots(wanted: Counts) -> NDArray[np.intp]:
    """Return the wanted kinds of each variant in kind order, padded with the joker, which no pattern wants."""
    most = int(np.count_nonzero(wanted, axis=1).max())
    kinds = np.argsort(wanted == 0, axis=1, kind="stable")[:, :most]
    return np.where(np.take_along_axis(wanted, kinds, axis=1) > 0, kinds, JOKER_INDEX)


def _tables(pairs: Counts, groups: Counts) -> tuple[Shortages, Shortages]:
    held = np.arange(_STEP)[None, :, None]
    wanted_pairs = pairs.T[:JOKER_INDEX, None, :].astype(int)
    wanted_groups = groups.T[:JOKER_INDEX, None, :].astype(int)
    to_pairs = np.minimum(held, wanted_pairs)
    to_both = np.minimum(held, wanted_pairs + wanted_groups)
    takes = np.concatenate([to_both, to_pairs], axis=2).reshape(-1, 2 * len(pairs))
    all_pairs, both = pairs.sum(axis=1, dtype=int), (pairs + groups).sum(axis=1, dtype=int)
    bare = np.array([np.concatenate([both - jokers, all_pairs]) for jokers in range(MOST_JOKERS + 1)])
    return takes.astype(np.int8), bare.astype(np.int8)


def _missing(patterns: Patterns, racks: Counts) -> Iterator[tuple[slice, Shortages]]:
    """Yield blocks of racks with D + S - J, then D, shape (racks, 2 * variants)."""
    naturals = racks[:, :JOKER_INDEX]
    most_kinds = int(np.count_nonzero(naturals, axis=1).max(initial=0))
    # The kinds that a rack holds come first; any other kind points at a row of zeros.
    kinds = np.argsort(naturals == 0, axis=1, kind="stable")[:, :most_kinds]
    rows = _OFFSETS[kinds] + np.take_along_axis(naturals, kinds, axis=1)
    block = max(1, _BLOCK_BYTES // (2 * len(patterns) * max(most_kinds, 1)))
    for start in range(0, len(racks), block):
        part = slice(start, start + block)
        left: Shortages = np.add.reduce(patterns.takes.take(rows[part], axis=0), axis=1, dtype=np.int8)
        np.subtract(patterns.bare[racks[part, JOKER_INDEX]], left, out=left)
        yield part, left


def shortages(patterns: Patterns, racks: Counts) -> tuple[Counts, Counts]:
    """Return the missing tiles of pairs and of groups, jokers not used yet, each of shape (racks, variants)."""
    in_pairs = np.empty((len(racks), len(patterns)), dtype=np.int8)
    in_groups = np.empty_like(in_pairs)
    for part, left in _missing(patterns, racks):
        both, in_pairs[part] = left[:, : len(patterns)], left[:, len(patterns) :]
        in_groups[part] = both - in_pairs[part] + racks[part, JOKER_INDEX:].astype(np.int8)
    return in_pairs.view(np.uint8), in_groups.view(np.uint8)


def away(patterns: Patterns, racks: Counts) -> Counts:
    """Return how many tiles each rack is away from each variant, shape (racks, variants)."""
    result = np.empty((len(racks), len(patterns)), dtype=np.int8)
    for part, left in _missing(patterns, racks):
        np.maximum(left[:, : len(patterns)], left[:, len(patterns) :], out=result[part])
    return result.view(np.uint8)


def away_one(patterns: Patterns, rack: Counts) -> Counts:
    """Return how many tiles one rack of shape (36,) is away from each variant, shape (variants,)."""
    kinds = rack[:JOKER_INDEX].nonzero()[0]
    chosen = patterns.takes.take(_OFFSETS[kinds] + rack[kinds], axis=0)
    left = patterns.bare[rack[JOKER_INDEX]] - np.add.reduce(chosen, axis=0, dtype=np.int8)
    both, in_pairs = left[: len(patterns)], left[len(patterns) :]
    distances: Counts = np.maximum(both, in_pairs, out=both).view(np.uint8)
    return distances

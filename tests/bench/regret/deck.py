"""The first release's patterns and odds as arrays that compiled functions can take."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shared.rules.tiles import KINDS
from tests.bench.first_release.chance import Outlook, Precision, odds_for
from tests.bench.first_release.distance import JOKER_INDEX, MOST_COPIES, Patterns
from tests.bench.first_release.flow import FADE, SIX_PASSES
from tests.bench.first_release.passes import LOOKS, PASS
from tests.bench.first_release.targets import SET

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bytes = NDArray[np.int8]

KIND_COUNT = len(KINDS)
STEPS = len(SIX_PASSES)
POINTS = 8
_PRECISION = Precision(POINTS, 0.15, np.float64)  # the first release's quick one, in wider floats
_WEIGHT = 2.0**40
_JOKERS = int(SET[JOKER_INDEX])
MOST_SHORT = _JOKERS
"""The greatest shortfall that jokers held and to come can fill."""
OUTLOOK = (_JOKERS + 2) * POINTS
"""Numbers of the tail that belong to one outlook."""
_NATURALS = int(SET[:JOKER_INDEX].sum())
_RACK = 14
_FEWER = 20
"""How many fewer naturals than a rack of 14 and its passes a seat may have seen: a rack of 13, tiles that came back."""
_KEYS = 5 * _RACK + 1


class Deck(NamedTuple):
    """Everything about a card that play-outs need; a named tuple, because numba takes those.

    Attributes:
        both, pairs: tiles that each variant wants in all, and in singles and pairs, shape (variants,).
        takes_both, takes_pairs: what a number of tiles of a kind takes off these, shape (36, 9, variants).
        slots: how many kinds a variant wants, shape (variants,).
        kinds, in_pairs, in_groups: those kinds, and the tiles wanted of each, shape (variants, slots).
        wanting, spans: variants that miss one tile of a kind when so many are held, in one row: those that miss it in
            pairs from spans[kind, held, 0] on, in groups from 1 up to 2; spans of shape (36, 9, 3).
        weight: how much a variant so many tiles further away than the nearest counts for softened greedy seats, in
            whole numbers, so that sums do not depend on their order, shape (15,).
        full: the whole set by kind, shape (36,).
        travel: how many places to the right each pass goes, shape (6,).
        table: what the tiles of one kind that come leave short, by centre, sort, shortfall left and point, flat.
        tail: summed weights by outlook, the least number of jokers still to come and point, flat.
        centre: the part of `table` that an outlook takes, shape (outlooks,).
        sorts: how many sorts there are.
        outlook: the outlook by passes to come, jokers held, and naturals seen fewer than most, shape (7, 9, fewer).
        most_groups: the largest group shortage of a kind that the table covers.
    """

    both: Bytes
    pairs: Bytes
    takes_both: NDArray[np.int8]
    takes_pairs: NDArray[np.int8]
    slots: Ints
    kinds: Ints
    in_pairs: Ints
    in_groups: Ints
    wanting: Ints
    spans: Ints
    weight: Ints
    full: Ints
    travel: Ints
    table: Floats
    tail: Floats
    centre: Ints
    outlook: Ints
    sorts: int
    most_groups: int


class Paper(NamedTuple):
    """Scratch paper of a play-out.

    Attributes:
        both, pairs: tiles each variant is short of less the jokers held, and in pairs, shape (variants,).
        far: the greater of the two: tiles away, shape (variants,).
        weight, weight_in_groups: what each variant counts for, and what it counts when a tile of a group goes, shape
            (variants,).
        missed, lost: what each kind would be missed, shape (36,): in whole numbers for softened greedy seats.
        unseen: copies that the seat has not seen, shape (36,).
        keys: how many variants have a key, shape (71,).
        near, chance: the nearest variants and their finish chances, shape (50,).
        loss: what each of them loses with a tile of each slot, shape (50, slots).
        state: ways by shortfall left and point, flat.
        short: slots of a variant that are short in groups, shape (slots,).
        racks, passed, given: the table of a play-out, shape (4, 36), the seat itself first.
    """

    both: Bytes
    pairs: Bytes
    far: Bytes
    weight: Ints
    weight_in_groups: Ints
    missed: Ints
    lost: Floats
    unseen: Ints
    keys: Ints
    near: Ints
    chance: Floats
    loss: Floats
    state: Floats
    short: Ints
    racks: Ints
    passed: Ints
    given: Ints


def deck_of(patterns: Patterns) -> Deck:
    """Return a card's patterns with the odds of every outlook of a Charleston with the usual looks."""
    count = len(patterns)
    takes = patterns.takes.reshape(JOKER_INDEX, -1, 2 * count)
    wanted = (patterns.pairs + patterns.groups).astype(np.int64)
    in_pairs = patterns.pairs.astype(np.int64)
    lists, spans, start = [], np.zeros((KIND_COUNT, MOST_COPIES + 1, 3), dtype=np.int64), 0
    for kind, held in np.ndindex(KIND_COUNT, MOST_COPIES + 1):
        missed = np.flatnonzero(held <= in_pairs[:, kind])
        short = np.flatnonzero((held > in_pairs[:, kind]) & (held <= wanted[:, kind]))
        lists += [missed, short]
        spans[kind, held] = start, start + len(missed), start + len(missed) + len(short)
        start = int(spans[kind, held, 2])
    return Deck(
        both=wanted.sum(axis=1).astype(np.int8),
        pairs=in_pairs.sum(axis=1).astype(np.int8),
        takes_both=np.ascontiguousarray(takes[:, :, :count]),
        takes_pairs=np.ascontiguousarray(takes[:, :, count:]),
        slots=(patterns.slot_kinds != JOKER_INDEX).sum(axis=1),
        kinds=patterns.slot_kinds.astype(np.int64),
        in_pairs=patterns.slot_pairs.astype(np.int64),
        in_groups=patterns.slot_groups.astype(np.int64),
        wanting=np.concatenate(lists),
        spans=spans,
        weight=np.round(_WEIGHT * FADE).astype(np.int64),
        full=SET.astype(np.int64),
        travel=np.array(SIX_PASSES),
        **_outlooks(patterns),
    )


def _outlooks(patterns: Patterns) -> dict[str, NDArray[np.float64] | Ints | int]:
    tables: dict[bytes, tuple[int, Floats]] = {}
    tails, centres = [], []
    for later in range(STEPS + 1):
        for jokers in range(_JOKERS + 1):
            for fewer in range(_FEWER):
                unseen = _NATURALS - max(_RACK - jokers + PASS * (STEPS - later) - fewer, 0)
                odds = odds_for(patterns, Outlook(unseen, _JOKERS - jokers, LOOKS, PASS * later), _PRECISION)
                sorts = np.ascontiguousarray(odds.table.transpose(2, 0, 1))
                centres.append(tables.setdefault(sorts.tobytes(), (len(tables), sorts))[0])
                tails.append(np.zeros((_JOKERS + 2, POINTS)))
                tails[-1][: len(odds.tail)] = odds.tail
    return {
        "table": np.concatenate([table.ravel() for _, table in tables.values()]),
        "tail": np.concatenate([tail.ravel() for tail in tails]),
        "centre": np.array(centres),
        "outlook": np.arange(len(tails)).reshape(STEPS + 1, _JOKERS + 1, _FEWER),
        "sorts": (int(patterns.slot_pairs.max()) + 1) * (int(patterns.slot_groups.max()) + 1) * (MOST_COPIES + 1),
        "most_groups": int(patterns.slot_groups.max()),
    }


def paper_for(deck: Deck) -> Paper:
    """Return scratch paper for a card."""
    variants, slots = deck.kinds.shape
    near = min(50, variants)
    small, whole = np.zeros((3, variants), dtype=np.int8), np.zeros((3, KIND_COUNT), dtype=np.int64)
    tables = np.zeros((3, 4, KIND_COUNT), dtype=np.int64)
    return Paper(
        *small,
        weight=np.zeros(variants, dtype=np.int64),
        weight_in_groups=np.zeros(variants, dtype=np.int64),
        missed=whole[0],
        lost=np.zeros(KIND_COUNT),
        unseen=whole[1],
        keys=np.zeros(_KEYS, dtype=np.int64),
        near=np.zeros(near, dtype=np.int64),
        chance=np.zeros(near),
        loss=np.zeros((near, slots)),
        state=np.zeros((MOST_SHORT + 1) * POINTS),
        short=np.zeros(slots, dtype=np.int64),
        racks=tables[0],
        passed=tables[1],
        given=tables[2],
    )

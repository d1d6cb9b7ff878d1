"""The table of a whole hand: who holds and shows what, and the moves that the rules allow.

The rules are those that the trade plays by after the Charleston (common practice, no published source). What is allowed
is decided here, what is wise in `choices`. Everything is an array, changed in place, so that numba can compile it.

A fifth row of the table belongs to nobody: a seat's row is copied there to try what a move would make of it.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.bench.game.compiled import compiled
from tests.bench.game.hands import JOKER_KIND, KIND_COUNT, MOST_GROUPS, Hands, Ints

SEATS = 4
TRIAL = 4
"""The row where a move is tried."""
HAND = 14
SET: Ints = np.array([8 if kind >= KIND_COUNT - 2 else 4 for kind in range(KIND_COUNT)], dtype=np.int32)
"""Copies of each kind: eight flowers and jokers, four of all else."""


class Table(NamedTuple):
    """Everything about a running game.

    Attributes:
        held: tiles on each rack by kind, shape (5, 36).
        shown: tiles that each seat has exposed by kind, jokers counted as what they stand for, shape (5, 36).
        groups: how many groups each seat has exposed, shape (5,).
        group_kind, group_size, group_jokers: those groups, shape (5, 4).
        alive: the variants that fit what a seat has exposed, shape (5, variants).
        single_short, group_short: tiles that a rack is short of for each variant, jokers not counted, shape
            (5, variants); not kept up for variants that are not alive.
        out: tiles that everybody sees, discarded or exposed, by kind, shape (36,).
        wall: the tiles still to be drawn, in order, shape (tiles,).
        drawn: how many of them have been drawn, shape (1,).
    """

    held: Ints
    shown: Ints
    groups: Ints
    group_kind: Ints
    group_size: Ints
    group_jokers: Ints
    alive: NDArray[np.bool_]
    single_short: Ints
    group_short: Ints
    out: Ints
    wall: Ints
    drawn: Ints


@compiled
def new_table(hands: Hands, racks: Ints, wall: Ints) -> Table:
    """Return a table with racks of shape (4, 36) and a wall."""
    variants = len(hands.hand)
    held = np.zeros((SEATS + 1, KIND_COUNT), dtype=np.int32)
    held[:SEATS] = racks
    table = Table(
        held,
        np.zeros((SEATS + 1, KIND_COUNT), dtype=np.int32),
        np.zeros(SEATS + 1, dtype=np.int32),
        np.full((SEATS + 1, MOST_GROUPS), -1, dtype=np.int32),
        np.zeros((SEATS + 1, MOST_GROUPS), dtype=np.int32),
        np.zeros((SEATS + 1, MOST_GROUPS), dtype=np.int32),
        np.ones((SEATS + 1, variants), dtype=np.bool_),
        np.zeros((SEATS + 1, variants), dtype=np.int32),
        np.zeros((SEATS + 1, variants), dtype=np.int32),
        np.zeros(KIND_COUNT, dtype=np.int32),
        wall,
        np.zeros(1, dtype=np.int32),
    )
    for seat in range(SEATS):
        count_short(hands, table, seat)
    return table


@compiled
def short_of(singles: int, groups: int, held: int) -> tuple[int, int]:
    """Return how many tiles of a kind are missing in singles and pairs, which are filled first, and in groups."""
    to_singles = min(held, singles)
    return singles - to_singles, groups - min(held - to_singles, groups)


@compiled
def count_short(hands: Hands, table: Table, seat: int) -> None:
    """Work out anew what a rack is short of."""
    for variant in range(len(hands.hand)):
        if not table.alive[seat, variant]:
            continue
        single, group = 0, 0
        for slot in range(hands.slots[variant]):
            kind = hands.kinds[variant, slot]
            wanted = hands.groups[variant, slot] - table.shown[seat, kind]
            in_singles, in_groups = short_of(hands.singles[variant, slot], wanted, table.held[seat, kind])
            single += in_singles
            group += in_groups
        table.single_short[seat, variant] = single
        table.group_short[seat, variant] = group


@compiled
def change(hands: Hands, table: Table, seat: int, kind: int, more: int) -> None:
    """Put a tile on a rack (more is 1) or take one away (-1), and keep up what the rack is short of."""
    before = table.held[seat, kind]
    table.held[seat, kind] = before + more
    for place in range(hands.wanting_count[kind]):
        variant = hands.wanting[kind, place]
        if table.alive[seat, variant]:
            slot = slot_of(hands, variant, kind)
            singles = hands.singles[variant, slot]
            groups = hands.groups[variant, slot] - table.shown[seat, kind]
            was_single, was_group = short_of(singles, groups, before)
            now_single, now_group = short_of(singles, groups, before + more)
            table.single_short[seat, variant] += now_single - was_single
            table.group_short[seat, variant] += now_group - was_group


@compiled
def slot_of(hands: Hands, variant: int, kind: int) -> int:
    """Return the slot of a kind in a variant, -1 if the variant does not want it."""
    for slot in range(hands.slots[variant]):
        if hands.kinds[variant, slot] == kind:
            return slot
    return -1


@compiled
def away(table: Table, seat: int, variant: int) -> int:
    """Return how many tiles a seat is away from a variant that is alive. Jokers stand in groups only."""
    jokers = table.held[seat, JOKER_KIND]
    return table.single_short[seat, variant] + max(table.group_short[seat, variant] - jokers, 0)


@compiled
def finished(hands: Hands, table: Table, seat: int) -> int:
    """Return a variant that a seat with fourteen tiles has complete, or -1."""
    for variant in range(len(hands.hand)):
        if table.alive[seat, variant] and away(table, seat, variant) == 0:
            return variant
    return -1


@compiled
def finished_with(hands: Hands, table: Table, seat: int, kind: int) -> int:
    """Return a variant that a discard would complete for a seat, concealed or not, or -1. A discarded joker is dead."""
    if kind == JOKER_KIND:
        return -1
    jokers = table.held[seat, JOKER_KIND]
    for place in range(hands.wanting_count[kind]):
        variant = hands.wanting[kind, place]
        if not table.alive[seat, variant] or away(table, seat, variant) != 1:
            continue
        slot = slot_of(hands, variant, kind)
        singles = hands.singles[variant, slot]
        groups = hands.groups[variant, slot] - table.shown[seat, kind]
        was_single, was_group = short_of(singles, groups, table.held[seat, kind])
        now_single, now_group = short_of(singles, groups, table.held[seat, kind] + 1)
        single = table.single_short[seat, variant] + now_single - was_single
        group = table.group_short[seat, variant] + now_group - was_group
        if single + max(group - jokers, 0) == 0:
            return variant
    return -1


@compiled
def may_show(hands: Hands, table: Table, seat: int, variant: int, kind: int, size: int) -> bool:
    """Say whether a seat may call for such a group of a variant: not of a concealed hand, nor one it has shown."""
    if not table.alive[seat, variant] or hands.concealed[variant]:
        return False
    more = 0
    for place in range(MOST_GROUPS):
        if hands.group_kind[variant, place] == kind and hands.group_size[variant, place] == size:
            more += 1
        if table.group_kind[seat, place] == kind and table.group_size[seat, place] == size:
            more -= 1
    return more > 0


@compiled
def show(hands: Hands, table: Table, seat: int, kind: int, size: int, jokers: int) -> None:
    """Expose a group of a called tile, naturals and so many jokers; from then on only hands that have it are alive."""
    place = 0
    for variant in range(len(hands.hand)):
        if place < hands.wanting_count[kind] and hands.wanting[kind, place] == variant:
            place += 1
            table.alive[seat, variant] = may_show(hands, table, seat, variant, kind, size)
        else:
            table.alive[seat, variant] = False
    naturals = size - 1 - jokers
    table.held[seat, kind] -= naturals
    table.held[seat, JOKER_KIND] -= jokers
    place = table.groups[seat]
    table.groups[seat] = place + 1
    table.group_kind[seat, place] = kind
    table.group_size[seat, place] = size
    table.group_jokers[seat, place] = jokers
    table.shown[seat, kind] += size
    if seat != TRIAL:
        table.out[kind] += naturals  # the called tile itself was counted when it was discarded
        table.out[JOKER_KIND] += jokers
    count_short(hands, table, seat)


@compiled
def exchange(hands: Hands, table: Table, seat: int, owner: int, place: int) -> None:
    """Give a natural tile for a joker in anybody's exposed group of that kind."""
    kind = table.group_kind[owner, place]
    change(hands, table, seat, kind, -1)
    change(hands, table, seat, JOKER_KIND, 1)
    table.group_jokers[owner, place] -= 1
    table.out[kind] += 1
    table.out[JOKER_KIND] -= 1


@compiled
def try_out(table: Table, seat: int) -> None:
    """Copy a seat's row to the trial row."""
    table.held[TRIAL] = table.held[seat]
    table.shown[TRIAL] = table.shown[seat]
    table.groups[TRIAL] = table.groups[seat]
    table.group_kind[TRIAL] = table.group_kind[seat]
    table.group_size[TRIAL] = table.group_size[seat]
    table.group_jokers[TRIAL] = table.group_jokers[seat]
    table.alive[TRIAL] = table.alive[seat]
    table.single_short[TRIAL] = table.single_short[seat]
    table.group_short[TRIAL] = table.group_short[seat]

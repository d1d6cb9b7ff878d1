"""What a seat chooses: the discard that costs its targets least, calls and exchanges that make them likelier.

A seat judges anew at every draw, by all variants that are near, and knows only its own tiles and what lies open. It
does not watch what the others collect: no defence, which makes games a little shorter than among careful players.
"""

from typing import NamedTuple

import numpy as np

from tests.bench.game.compiled import compiled
from tests.bench.game.hands import CALLABLE, JOKER_KIND, KIND_COUNT, MOST_GROUPS, Hands, Ints
from tests.bench.game.odds import MOST_HELP, MOST_ROUNDS, Floats, Odds
from tests.bench.game.table import SEATS, SET, TRIAL, Table, away, change, may_show, short_of, show, slot_of, try_out

REACH = 1
"""Variants this much further away than the nearest one are still looked at."""
_CUT = 0.1
"""Of those, variants whose chance is a smaller share of the best one's are left out."""


class Mind(NamedTuple):
    """How a seat judges, and its scratch paper.

    Attributes:
        power: the power mean in which variants count together, shape (4,).
        eager: how much better a call must make things, 1 for any gain, shape (4,).
        unseen: copies that the judging seat has not seen, shape (36,).
        near, chance: the variants that each seat last looked at and their chances, shape (5, variants).
        near_count: how many those are, shape (5,).
        loss: what each kind would be missed, shape (36,).
        missing, copies: the short groups of one variant, shape (14,).
    """

    power: Floats
    eager: Floats
    unseen: Ints
    near: Ints
    chance: Floats
    near_count: Ints
    loss: Floats
    missing: Ints
    copies: Ints


@compiled
def new_mind(power: Floats, eager: Floats, variants: int) -> Mind:
    """Return the scratch paper for seats with these manners."""
    return Mind(
        power,
        eager,
        np.zeros(KIND_COUNT, dtype=np.int32),
        np.zeros((SEATS + 1, variants), dtype=np.int32),
        np.zeros((SEATS + 1, variants)),
        np.zeros(SEATS + 1, dtype=np.int32),
        np.zeros(KIND_COUNT),
        np.zeros(14, dtype=np.int32),
        np.zeros(14, dtype=np.int32),
    )


@compiled
def rounds_left(table: Table) -> int:
    """Return how often each seat will still draw, about."""
    return min((len(table.wall) - table.drawn[0]) // SEATS, MOST_ROUNDS)


@compiled
def look(table: Table, mind: Mind, seat: int) -> None:
    """Count what a seat has not seen."""
    for kind in range(KIND_COUNT):
        mind.unseen[kind] = SET[kind] - table.held[seat, kind] - table.out[kind]


@compiled
def chance_of(
    hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int, variant: int, gone: int, rounds: int
) -> float:
    """Return about how likely a seat completes a variant, with one tile of the kind `gone` (-1 for none) away.

    Kinds are taken to come independently. Jokers held go where they help most; those unseen help every group a little.
    """
    jokers = table.held[seat, JOKER_KIND] - (1 if gone == JOKER_KIND else 0)
    single, group, short = 0, 0, 0
    for slot in range(hands.slots[variant]):
        kind = hands.kinds[variant, slot]
        held = table.held[seat, kind] - (1 if gone == kind else 0)
        wanted = hands.groups[variant, slot] - table.shown[seat, kind]
        in_singles, in_groups = short_of(hands.singles[variant, slot], wanted, held)
        single += in_singles
        group += in_groups
        if in_groups:
            mind.missing[short] = in_groups
            mind.copies[short] = mind.unseen[kind]
            short += 1
    missing = single + max(group - jokers, 0)
    if missing == 0:
        return 1.0
    last = 1 if missing == 1 else 0
    result = 1.0
    if single:
        for slot in range(hands.slots[variant]):
            kind = hands.kinds[variant, slot]
            held = table.held[seat, kind] - (1 if gone == kind else 0)
            lacks = hands.singles[variant, slot] - min(held, hands.singles[variant, slot])
            if lacks:
                result *= odds.come[last, rounds, lacks, mind.unseen[kind], 0]
    if group > jokers:
        call = last if hands.concealed[variant] else 1
        help_each = min((mind.unseen[JOKER_KIND] + short - 1) // short, MOST_HELP)
        for _ in range(jokers):
            best, gain = 0, -1.0
            for place in range(short):
                lacks = mind.missing[place]
                if lacks:
                    copies = mind.copies[place]
                    more = (
                        odds.come[call, rounds, lacks - 1, copies, help_each]
                        / odds.come[call, rounds, lacks, copies, help_each]
                    )
                    if more > gain:
                        best, gain = place, more
            mind.missing[best] -= 1
        for place in range(short):
            result *= odds.come[call, rounds, mind.missing[place], mind.copies[place], help_each]
    return result


@compiled
def gather(hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int, rounds: int) -> int:
    """Note the near variants of a seat with their chances, and return how many are worth a thought."""
    variants = len(hands.hand)
    least = 99
    for variant in range(variants):
        if table.alive[seat, variant]:
            least = min(least, away(table, seat, variant))
    count, top = 0, 0.0
    for variant in range(variants):
        if table.alive[seat, variant] and away(table, seat, variant) <= least + REACH:
            chance = chance_of(hands, odds, table, mind, seat, variant, -1, rounds)
            mind.near[seat, count] = variant
            mind.chance[seat, count] = chance
            top = max(top, chance)
            count += 1
    kept = 0
    for place in range(count):
        if mind.chance[seat, place] >= _CUT * top:
            mind.near[seat, kept] = mind.near[seat, place]
            mind.chance[seat, kept] = mind.chance[seat, place]
            kept += 1
    mind.near_count[seat] = kept
    return kept


@compiled
def outlook(hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int, power: float) -> float:
    """Return what a rack is worth as it is: the power mean of its near variants."""
    count = gather(hands, odds, table, mind, seat, rounds_left(table))
    total = 0.0
    for place in range(count):
        total += mind.chance[seat, place] ** power
    return float(total ** (1 / power))


@compiled
def least_missed(hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int, power: float) -> tuple[int, float]:
    """Return the kind that a seat with fourteen tiles misses least, and what it has left without it.

    Of equals the kind goes of which most lies open: nobody can do much with it.
    """
    rounds = rounds_left(table)
    count = gather(hands, odds, table, mind, seat, rounds)
    mind.loss[:] = 0.0
    total = 0.0
    for place in range(count):
        variant, chance = mind.near[seat, place], mind.chance[seat, place] ** power
        total += chance
        for slot in range(hands.slots[variant]):
            kind = hands.kinds[variant, slot]
            wanted = hands.singles[variant, slot] + hands.groups[variant, slot] - table.shown[seat, kind]
            if 0 < table.held[seat, kind] <= wanted:
                less = chance_of(hands, odds, table, mind, seat, variant, kind, rounds)
                mind.loss[kind] += chance - less**power
        if 0 < table.held[seat, JOKER_KIND] <= table.group_short[seat, variant]:
            less = chance_of(hands, odds, table, mind, seat, variant, JOKER_KIND, rounds)
            mind.loss[JOKER_KIND] += chance - less**power
    best = -1
    for kind in range(KIND_COUNT):
        if table.held[seat, kind] and (
            best < 0
            or mind.loss[kind] < mind.loss[best]
            or (mind.loss[kind] == mind.loss[best] and table.out[kind] > table.out[best])
        ):
            best = kind
    return best, max(total - mind.loss[best], 0.0) ** (1 / power)


@compiled
def swap_worth_making(hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int) -> tuple[int, int]:
    """Return an exposed group (owner, place) whose joker the seat gains by, or (-1, -1)."""
    for owner in range(SEATS):
        for place in range(table.groups[owner]):
            kind = table.group_kind[owner, place]
            if table.group_jokers[owner, place] == 0 or table.held[seat, kind] == 0:
                continue
            look(table, mind, seat)
            power = mind.power[seat]
            now = outlook(hands, odds, table, mind, seat, power)
            try_out(table, seat)
            change(hands, table, TRIAL, kind, -1)
            change(hands, table, TRIAL, JOKER_KIND, 1)
            if outlook(hands, odds, table, mind, TRIAL, power) > now:
                return owner, place
    return -1, -1


@compiled
def group_worth_calling(hands: Hands, odds: Odds, table: Table, mind: Mind, seat: int, kind: int) -> tuple[int, int]:
    """Return the size of the group that a seat would call a discard for and the jokers in it; size 0 for no call."""
    best_size, best_jokers = 0, 0
    if kind == JOKER_KIND or table.groups[seat] == MOST_GROUPS:
        return best_size, best_jokers
    naturals, jokers = table.held[seat, kind], table.held[seat, JOKER_KIND]
    if naturals + jokers < CALLABLE - 1:
        return best_size, best_jokers
    power = mind.power[seat]
    value = -1.0
    for size in range(CALLABLE, naturals + jokers + 2):
        if not _is_wanted(hands, table, mind, seat, kind, size):
            continue
        if value < 0.0:
            look(table, mind, seat)
            value = outlook(hands, odds, table, mind, seat, power) * mind.eager[seat]
        used = max(size - 1 - naturals, 0)  # naturals go first
        try_out(table, seat)
        show(hands, table, TRIAL, kind, size, used)
        _, left = least_missed(hands, odds, table, mind, TRIAL, power)
        if left > value:
            value, best_size, best_jokers = left, size, used
    return best_size, best_jokers


@compiled
def _is_wanted(hands: Hands, table: Table, mind: Mind, seat: int, kind: int, size: int) -> bool:
    """Say whether a variant that the seat last had in mind has such a group to show and is short of the kind."""
    for place in range(mind.near_count[seat]):
        variant = mind.near[seat, place]
        if may_show(hands, table, seat, variant, kind, size):
            slot = slot_of(hands, variant, kind)
            wanted = hands.groups[variant, slot] - table.shown[seat, kind]
            if short_of(hands.singles[variant, slot], wanted, table.held[seat, kind])[1] > 0:
                return True
    return False

"""Kinds of mistake in a pass, in a few plain words, so that a history can tell which kinds cost most.

Must never use more than the seat knew. A kind names what the seat's pass did and the best pass did not: if both break a
pair, breaking it was not the mistake.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from shared.coach.distance import JOKER_INDEX, Counts, Patterns, counts_of
from shared.coach.passes import Position
from shared.coach.ranking import RankedPass
from shared.coach.words import Target, run_around
from shared.rules.steps import PASSES
from shared.rules.tiles import FLOWER, INDEX, KINDS, SUITS, Rack, suit

BREAKING_A_PAIR = "breaking a pair"
PASSING_A_PAIR = "passing a pair"
BREAKING_A_RUN = "breaking a run"
FROM_THE_TARGETS_SUIT = "passing the likeliest hand's suit"
WHAT_THE_TARGET_NEEDS = "passing what the likeliest hand needs"
GIVING_UP_A_FLOWER = "giving up a flower"
LATE_CHANGE = "a late change of hand"
HOLDING_ON = "holding on to an old hand"
PASSING_UNSEEN = "passing unseen"
STOPPING = "stopping"
GOING_ON = "going on"
OFFERING_TOO_FEW = "offering too few"
OFFERING_TOO_MANY = "offering too many"
EARLIER_WORDS = {
    "passing from the target's suit": FROM_THE_TARGETS_SUIT,
    "passing what the target needs": WHAT_THE_TARGET_NEEDS,
    "a late change of target": LATE_CHANGE,
    "holding on to an old target": HOLDING_ON,
}
"""What kinds were called in reviews that earlier versions kept: a target is now only what a player names."""

LATE = len(PASSES) // 2 - 1
"""A change of target is late if at most this many passes are to come: in the second Charleston and after it."""
_MAIN_SUIT = 5
"""A target has a suit of its own if it asks for at least this many tiles of it."""


@dataclass(frozen=True)
class Ways:
    """The seat's pass and the best one at a step, with the targets before and after each.

    Attributes:
        position: what the seat knew.
        own, best: the seat's pass, and the first in the ranking.
        target: the likeliest hand of the rack before.
        after_own, after_best: the hands that each pass keeps alive, likeliest first.
        earlier: the hands that the seat's previous pass kept alive; empty at the first.
    """

    position: Position
    own: RankedPass
    best: RankedPass
    target: Target
    after_own: tuple[Target, ...]
    after_best: tuple[Target, ...]
    earlier: tuple[Target, ...]


def kinds_of(patterns: Patterns, ways: Ways) -> tuple[str, ...]:
    """Return the kinds of mistake in a pass; empty if it was the best one or no kind fits."""
    own, best = ways.own, ways.best
    if (own.tiles, own.blind) == (best.tiles, best.blind):
        return ()
    rack = ways.position.counts()
    wanted = patterns.wanted(ways.target.variant)
    more = {
        BREAKING_A_PAIR: _broken(rack, own.tiles) - _broken(rack, best.tiles),
        PASSING_A_PAIR: _whole(rack, own.tiles) - _whole(rack, best.tiles),
        BREAKING_A_RUN: _out_of_runs(rack, own.tiles) - _out_of_runs(rack, best.tiles),
        FROM_THE_TARGETS_SUIT: _of_suit(wanted, own.tiles) > _of_suit(wanted, best.tiles),
        WHAT_THE_TARGET_NEEDS: _needed(wanted, rack, own.tiles) > _needed(wanted, rack, best.tiles),
        GIVING_UP_A_FLOWER: own.tiles.count(FLOWER) > best.tiles.count(FLOWER),
        PASSING_UNSEEN: own.blind > best.blind,
        **_changes(ways),
    }
    return tuple(kind for kind, fits in more.items() if fits)


def _changes(ways: Ways) -> dict[str, bool]:
    """Say whether the seat changed its target late and the best pass would not have, or the other way round."""
    late = ways.position.later <= LATE and ways.earlier and ways.after_own and ways.after_best
    before = {target.hand for target in ways.earlier}
    own_changes = bool(late) and ways.after_own[0].hand not in before
    best_changes = bool(late) and ways.after_best[0].hand not in before
    return {LATE_CHANGE: own_changes and not best_changes, HOLDING_ON: bool(best_changes and not own_changes)}


def _broken(rack: Counts, tiles: Rack) -> frozenset[str]:
    """Return the tile kinds of which some copies go and some stay."""
    given = counts_of(tiles)
    return frozenset(KINDS[kind] for kind in np.flatnonzero(given) if given[kind] < rack[kind])


def _whole(rack: Counts, tiles: Rack) -> frozenset[str]:
    """Return the tile kinds of which all copies go, two or more."""
    given = counts_of(tiles)
    return frozenset(KINDS[kind] for kind in np.flatnonzero(given >= 2) if given[kind] == rack[kind])


def _out_of_runs(rack: Counts, tiles: Rack) -> frozenset[str]:
    """Return the tiles whose last copy leaves a run of three or more."""
    left = rack - counts_of(tiles)
    return frozenset(tile for tile in tiles if not left[INDEX[tile]] and run_around(left, tile))


def _of_suit(wanted: Counts, tiles: Rack) -> int:
    """Return how many tiles of the target's own suit go; 0 if it has no such suit."""
    asked = Counter(
        {letter: sum(int(wanted[INDEX[kind]]) for kind in KINDS if suit(kind) == letter) for letter in SUITS}
    )
    letter, most = asked.most_common(1)[0]
    return sum(suit(tile) == letter for tile in tiles) if most >= _MAIN_SUIT else 0


def _needed(wanted: Counts, rack: Counts, tiles: Rack) -> int:
    """Return how many of the passed tiles the target needed."""
    held = rack[:JOKER_INDEX].astype(int)
    left = held - counts_of(tiles)[:JOKER_INDEX]
    use = wanted[:JOKER_INDEX].astype(int)
    return int((np.minimum(held, use) - np.minimum(left, use)).sum())

"""A rack's best targets: the likeliest patterns of a whole card, and the chance of every hand.

Must never decide what to pass: it measures a rack as it is, with the passes and looks still to come.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.coach.aims import Aim
from shared.coach.chance import (
    FINE,
    QUICK,
    Floats,
    Indices,
    Outlook,
    Play,
    Precision,
    chances,
    odds_for,
    outlook_of,
)
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away_one, shortages
from shared.rules.tiles import COPIES, KINDS

KEEP = 50
"""How many patterns get an exact chance. Measured: this misses the best one in about 2% of racks, by less than 0.1
point on average."""

_REACH = 0.3
"""A hand is within reach if its chance is at least this share of the best hand's."""

SET: Counts = np.array([COPIES[kind] for kind in KINDS], dtype=np.uint8)
"""The whole set by kind, shape (36,)."""


def nearest(patterns: Patterns, racks: Counts, keep: int = KEEP) -> Indices:
    """Return the nearest patterns of each rack, nearest first, shape (racks, keep).

    A missing tile of a pair counts a quarter more than one of a group, since no joker can replace it. Ties stay in the
    order of the card.
    """
    in_pairs, in_groups = shortages(patterns, racks)
    jokers = racks[:, JOKER_INDEX:]
    key = 5 * in_pairs + 4 * (np.maximum(in_groups, jokers) - jokers)
    return np.argsort(key, axis=1, kind="stable")[:, :keep]


def _same_outlook(unseen: Counts, play: Play, passed: int) -> Iterator[tuple[Outlook, Indices]]:
    """Yield each outlook with the racks that share it."""
    naturals = unseen[:, :JOKER_INDEX].sum(axis=1, dtype=int)
    key = naturals * 16 + unseen[:, JOKER_INDEX]
    for value in np.unique(key):
        yield Outlook(int(value) // 16, int(value) % 16, play, passed), np.flatnonzero(key == value)


def target_chances(
    patterns: Patterns,
    racks: Counts,
    unseen: Counts,
    play: Play,
    passed: int,
    keep: int = KEEP,
    precision: Precision = QUICK,
) -> tuple[Indices, Floats]:
    """Return the nearest patterns of many racks and their finish chances, both of shape (racks, keep).

    Args:
        racks: counts by kind, shape (racks, 36).
        unseen: the tiles that each rack's seat has not seen, shape (racks, 36).
        play: what comes to each seat after the Charleston.
        passed: tiles still to come by passes.
    """
    near = nearest(patterns, racks, keep)
    found = np.empty(near.shape)
    for outlook, rows in _same_outlook(unseen, play, passed):
        coming = odds_for(patterns, outlook, precision)
        each = np.repeat(rows, near.shape[1])
        flat = chances(patterns, near[rows].ravel(), racks[each], unseen[each], coming)
        found[rows] = flat.reshape(len(rows), -1)
    return near, found


def committed(patterns: Patterns, racks: Counts, unseen: Counts, play: Play, passed: int) -> Floats:
    """Return each rack's greatest finish chance if it keeps one target to the end, shape (racks,)."""
    best: Floats = target_chances(patterns, racks, unseen, play, passed)[1].max(axis=1)
    return best


@dataclass(frozen=True)
class HandReading:
    """How near a rack is to one hand of the card.

    Attributes:
        hand: index into the card's hands.
        away: tiles away from the hand's nearest variant.
        win: the chance of winning with its likeliest variant and no other hand, 0 to 1.
        variant: the pattern with that chance; ties go to the nearest, then to the first.
        counts: what the hand counts in a choice between targets: win, times its value's share where values count.
    """

    hand: int
    away: int
    win: float
    variant: int
    counts: float


def likeliest_first(readings: Iterable[HandReading]) -> list[HandReading]:
    """Return hands by what they count; ties go to the nearest, then to the first on the card."""
    return sorted(readings, key=lambda reading: (-reading.counts, reading.away, reading.hand))


def within_reach(readings: Iterable[HandReading]) -> list[HandReading]:
    """Return the hands that count about as much as the best one, the best first."""
    order = likeliest_first(readings)
    return [reading for reading in order if reading.win > 0 and reading.counts >= _REACH * order[0].counts]


def read_hands(
    patterns: Patterns, rack: Counts, unseen: Counts, aim: Aim, coming: int, ahead: int, *, valued: bool = False
) -> tuple[HandReading, ...]:
    """Return the reading of every hand in the order of the card.

    Args:
        patterns: the card's patterns.
        rack, unseen: counts by kind, shape (36,).
        aim: what a worth is a chance of.
        coming: tiles still to come by passes.
        ahead: passes of three tiles still to come, the one at hand among them.
        valued: whether values count.
    """
    # Rounded beyond the error of QUICK, so that equal variants tie.
    found = np.round(_of_every(patterns, rack, unseen, aim.play, coming, QUICK), 5)
    every, distances = np.arange(len(patterns)), away_one(patterns, rack)
    value = patterns.value if valued else np.ones(len(patterns))
    order = np.lexsort((every, distances, -found * value, patterns.hand))
    best: NDArray[np.intp] = order[patterns.first]
    least = np.minimum.reduceat(distances, patterns.first)
    wins = aim.worth(found[best, None], ahead)
    counts = wins * value[best]
    return tuple(
        HandReading(hand, int(least[hand]), float(wins[hand]), int(variant), float(counts[hand]))
        for hand, variant in enumerate(best)
    )


def finish_alone(patterns: Patterns, rack: Counts, unseen: Counts, looks: int, passed: int) -> Floats:
    """Return the chance of finishing each hand alone in so many draws, shape (hands,); rack, unseen of shape (36,)."""
    found = _of_every(patterns, rack, unseen, Play.alone(looks), passed, FINE)
    best: Floats = np.maximum.reduceat(np.round(found, 12), patterns.first)
    return best


def _of_every(
    patterns: Patterns, rack: Counts, unseen: Counts, play: Play, passed: int, precision: Precision
) -> Floats:
    """Return the finish chance of every variant, shape (variants,)."""
    every = np.arange(len(patterns))
    coming = odds_for(patterns, outlook_of(unseen, play, passed), precision)
    return chances(patterns, every, np.tile(rack, (len(every), 1)), unseen, coming)

"""Whole hands by the thousand, from racks after the Charleston and shuffled walls to the first finished hand.

A game follows from its racks, its wall and the seats' manners alone. Chance is in the shuffled wall, an argument.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from tests.bench.game.choices import (
    Mind,
    gather,
    group_worth_calling,
    least_missed,
    look,
    new_mind,
    rounds_left,
    swap_worth_making,
)
from tests.bench.game.compiled import compiled
from tests.bench.game.hands import JOKER_KIND, KIND_COUNT, Hands, Ints
from tests.bench.game.odds import Floats, Odds, odds_of
from tests.bench.game.table import SEATS, SET, Table, change, exchange, finished, finished_with, new_table, show

Counts = NDArray[np.uint8]


class Move(IntEnum):
    """What a line of a game's record says; its numbers are move, seat, kind, and two more."""

    DRAW = 0
    """Seat, kind."""
    DISCARD = 1
    """Seat, kind."""
    GROUP = 2
    """Seat, kind of the called tile, size of the group, jokers in it."""
    EXCHANGE = 3
    """Seat, kind that it gives, owner of the group, place of the group."""
    WIN = 4
    """Seat, variant, how (see How)."""
    WALL = 5
    """Nobody finished, and the wall is empty."""


class How(IntEnum):
    """How a game ended."""

    WALL = 0
    OWN_TURN = 1
    """With the tiles dealt, a tile drawn, or a joker exchanged."""
    CALL = 2
    """With somebody's discard as the last tile."""


MOST_MOVES = 600
_RESULTS = 5 + 3 * SEATS
WINNER, HOW, VARIANT, DISCARDS, JOKERS = range(5)
DRAWS, GROUPS, EXCHANGES = 5, 5 + SEATS, 5 + 2 * SEATS
_NOBODY = -1
_DRAW, _DISCARD, _GROUP, _EXCHANGE, _WIN, _WALL = (int(move) for move in Move)
_OWN_TURN, _CALLED = int(How.OWN_TURN), int(How.CALL)


@compiled
def _note(record: Ints, lines: int, move: int, seat: int, kind: int, more: int, other: int) -> int:
    if lines < len(record):
        record[lines, 0] = move
        record[lines, 1] = seat
        record[lines, 2] = kind
        record[lines, 3] = more
        record[lines, 4] = other
    return lines + 1


@compiled
def _next_tile(table: Table, seat: int, drew: int, apart: bool) -> int:
    """Return the next tile of the wall; or, apart, of the seat's own quarter of it, -1 left in its place.

    In a shuffled wall both are chance. But apart a call changes nobody's later tiles, so that two games that differ in
    one discard stay alike for longer. Whose quarter is empty takes what is left at the end.
    """
    if not apart:
        return table.wall[table.drawn[0]]
    place = seat + SEATS * drew
    if place >= len(table.wall) or table.wall[place] < 0:
        place = len(table.wall) - 1
        while table.wall[place] < 0:
            place -= 1
    kind = table.wall[place]
    table.wall[place] = -1
    return kind


@compiled
def play_one(hands: Hands, odds: Odds, table: Table, mind: Mind, first: int, result: Ints, record: Ints) -> int:
    """Play a game to its end; write what came of it and its record, as far as there is room. Return the lines.

    first is the kind that the dealer lets go first, or -1 if the dealer chooses.
    """
    result[:] = 0
    result[WINNER] = _NOBODY
    result[VARIANT] = _NOBODY
    lines, seat, winner, variant, how = 0, 0, _NOBODY, _NOBODY, 0
    for other in range(SEATS):
        look(table, mind, other)
        gather(hands, odds, table, mind, other, rounds_left(table))
    while winner < 0:
        # The seat whose turn it is has fourteen tiles.
        variant = finished(hands, table, seat)
        while variant < 0:
            owner, place = swap_worth_making(hands, odds, table, mind, seat)
            if owner < 0:
                break
            kind = table.group_kind[owner, place]
            exchange(hands, table, seat, owner, place)
            result[EXCHANGES + seat] += 1
            lines = _note(record, lines, _EXCHANGE, seat, kind, owner, place)
            variant = finished(hands, table, seat)
        if variant >= 0:
            winner, how = seat, _OWN_TURN
            break
        look(table, mind, seat)
        kind, _ = least_missed(hands, odds, table, mind, seat, mind.power[seat])
        if first >= 0 and result[DISCARDS] == 0:
            kind = first
        change(hands, table, seat, kind, -1)
        table.out[kind] += 1
        result[DISCARDS] += 1
        lines = _note(record, lines, _DISCARD, seat, kind, 0, 0)
        # The last tile of a hand goes before a group; of equals the next in turn has it.
        for step in range(1, SEATS):
            caller = (seat + step) % SEATS
            variant = finished_with(hands, table, caller, kind)
            if variant >= 0:
                change(hands, table, caller, kind, 1)
                winner, how = caller, _CALLED
                break
        if winner >= 0:
            break
        caller, size, jokers = _NOBODY, 0, 0
        for step in range(1, SEATS):
            size, jokers = group_worth_calling(hands, odds, table, mind, (seat + step) % SEATS, kind)
            if size:
                caller = (seat + step) % SEATS
                break
        if caller >= 0:
            show(hands, table, caller, kind, size, jokers)
            result[GROUPS + caller] += 1
            lines = _note(record, lines, _GROUP, caller, kind, size, jokers)
            seat = caller
            continue
        seat = (seat + 1) % SEATS
        if table.drawn[0] == len(table.wall):
            return _note(record, lines, _WALL, seat, 0, 0, 0)
        kind = _next_tile(table, seat, result[DRAWS + seat], first >= 0)
        table.drawn[0] += 1
        change(hands, table, seat, kind, 1)
        result[DRAWS + seat] += 1
        lines = _note(record, lines, _DRAW, seat, kind, 0, 0)
    result[WINNER] = winner
    result[HOW] = how
    result[VARIANT] = variant
    jokers = table.held[winner, JOKER_KIND]
    for place in range(table.groups[winner]):
        jokers += table.group_jokers[winner, place]
    result[JOKERS] = jokers
    return _note(record, lines, _WIN, winner, variant, how, 0)


@compiled
def play_many(
    hands: Hands, odds: Odds, racks: Ints, walls: Ints, power: Floats, eager: Floats, first: int, results: Ints
) -> None:
    """Play games of racks (games, 4, 36) and walls (games, tiles) into results (games, numbers)."""
    mind = new_mind(power, eager, len(hands.hand))
    nothing = np.zeros((0, 5), dtype=np.int32)
    for game in range(len(racks)):
        play_one(hands, odds, new_table(hands, racks[game], walls[game].copy()), mind, first, results[game], nothing)


@dataclass(frozen=True)
class Manners:
    """How each seat plays.

    Attributes:
        power: the power mean in which variants count together: small keeps many open, great follows the best alone.
        eager: how much better a call must leave a rack: 1 calls for any gain, more waits for a greater one.
        discarded: how readily others let go of what a seat waits for, in its own judgement.
    """

    power: tuple[float, float, float, float] = (2.5,) * 4
    eager: tuple[float, float, float, float] = (1.0,) * 4
    discarded: float = 0.8


USUAL = Manners()


@dataclass(frozen=True, eq=False)
class Games:
    """What came of games.

    Attributes:
        winner: the seat that finished, 0 for the dealer, or -1, shape (games,).
        how: see How, shape (games,).
        variant: the winner's variant, or -1, shape (games,).
        discards: discards made, shape (games,).
        jokers: jokers in the winner's hand, shape (games,).
        draws, groups, exchanges: tiles drawn, groups exposed and jokers fetched by each seat, shape (games, 4).
    """

    winner: Ints
    how: Ints
    variant: Ints
    discards: Ints
    jokers: Ints
    draws: Ints
    groups: Ints
    exchanges: Ints

    @classmethod
    def of(cls, results: Ints) -> "Games":
        """Return games from rows of numbers."""
        single = [results[:, column] for column in range(DRAWS)]
        seats = [results[:, first : first + SEATS] for first in (DRAWS, GROUPS, EXCHANGES)]
        return cls(*single, *seats)


def walls_of(racks: Counts, endings: int, rng: np.random.Generator) -> Ints:
    """Return shuffled walls of all tiles that are on no rack, shape (deals * endings, tiles), a deal's together."""
    left = SET - racks.sum(axis=1, dtype=np.int32)
    walls = np.array([np.repeat(np.arange(KIND_COUNT, dtype=np.int32), kinds) for kinds in left])
    return rng.permuted(np.repeat(walls, endings, axis=0), axis=1)


def play(hands: Hands, racks: Counts, walls: Ints, manners: Manners = USUAL, first: int = _NOBODY) -> Games:
    """Play each deal's racks, shape (deals, 4, 36), to the end with each of its walls.

    first is the kind that every dealer lets go first, or -1 if the dealers choose.
    """
    endings = len(walls) // len(racks)
    each = np.repeat(racks.astype(np.int32), endings, axis=0)
    results = np.zeros((len(walls), _RESULTS), dtype=np.int32)
    power, eager = np.array(manners.power), np.array(manners.eager)
    play_many(hands, odds_of(manners.discarded), each, walls, power, eager, first, results)
    return Games.of(results)


def recorded(hands: Hands, racks: Counts, wall: Ints, manners: Manners = USUAL) -> tuple[Games, list[tuple[int, ...]]]:
    """Play one game and return what came of it with its record, a row of numbers for each Move."""
    result, record = np.zeros((1, _RESULTS), dtype=np.int32), np.zeros((MOST_MOVES, 5), dtype=np.int32)
    table = new_table(hands, racks.astype(np.int32), wall)
    mind = new_mind(np.array(manners.power), np.array(manners.eager), len(hands.hand))
    lines = play_one(hands, odds_of(manners.discarded), table, mind, _NOBODY, result[0], record)
    return Games.of(result), [tuple(row) for row in record[:lines].tolist()]

"""Sampled futures of a position, and its passes played out in them to the end of the six passes.

Must never see a rack but the seat's own: the others' are dealt from what it has not seen.

A future begins with three racks dealt from the tiles that the seat has not seen. Where the position is a later one the
three have passed as often as in the heat, and to them really came what the seat gave them. What they gave the seat then
is not what it got, so those tiles count as unseen again. From the position on, everything goes where it would: what the
seat gives reaches a neighbour, changes what that one passes on, and may come back.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.bench.first_release.distance import JOKER_INDEX, Counts, counts_of
from tests.bench.first_release.futures import orders
from tests.bench.first_release.passes import PASS
from tests.bench.first_release.targets import SET
from tests.bench.game.compiled import compiled
from tests.bench.regret.choices import committed, least_missed, softened
from tests.bench.regret.deck import KIND_COUNT, STEPS, Deck, Floats, Ints, Paper
from tests.bench.regret.positions import SEATS, Case

Others = Literal["softened", "coached"]
"""How the other seats of a future pass: softened greedy, or by the quick policy that the seat itself passes on with."""


@dataclass(frozen=True, eq=False)
class Futures:
    """What a position's passes are tried in.

    Attributes:
        step: how many passes have been made.
        coached: how the others pass.
        racks, passed, given: what each seat holds, has passed, and passes now, shape (futures, 4, 36). The seat itself
            comes first, then the others in order of play; what it gives now is left open.
        lots: in which order a seat gives tiles that it misses alike, shape (futures, 6, 4, 36).
    """

    step: int
    coached: bool
    racks: Ints
    passed: Ints
    given: Ints
    lots: Ints


def futures_of(deck: Deck, paper: Paper, case: Case, others: Others, count: int, seed: tuple[int, ...]) -> Futures:
    """Return sampled futures of a position, fixed by the seed."""
    rack, unseen, step = case.position.counts().astype(np.int64), case.position.unseen(), len(case.gave)
    passed = counts_of(case.position.passed).astype(np.int64)
    pool = np.repeat(np.arange(KIND_COUNT), unseen)
    drawn = pool[orders(len(pool), count, (*seed, 1))]
    racks = np.zeros((count, SEATS, KIND_COUNT), dtype=np.int64)
    start = 0
    for seat in range(1, SEATS):
        size = case.sizes[seat]
        np.add.at(racks[:, seat], (np.arange(count)[:, None], drawn[:, start : start + size]), 1)
        start += size
    lots = orders(KIND_COUNT, count * STEPS * SEATS, (*seed, 2)).reshape(count, STEPS, SEATS, KIND_COUNT)
    futures = Futures(step, others == "coached", racks, np.zeros_like(racks), np.zeros_like(racks), lots)
    live(deck, paper, futures.coached, _fed(case, rack + passed - SET, drawn[:, start:]), racks, futures.passed, lots)
    racks[:, 0], futures.passed[:, 0] = rack, passed
    choose(deck, paper, futures.coached, step, racks, futures.passed, futures.given, lots)
    return futures


def _fed(case: Case, excess: NDArray[np.int64], wall: NDArray[np.intp]) -> Ints:
    """Return by step the kinds that the seat gave the others in each future, shape (futures, steps, 3).

    A tile of which the seat has then seen more than there are has come back; another tile stands in its place.
    """
    fed = np.tile(case.gave.astype(np.int64), (len(wall), 1, 1))
    spare = np.take_along_axis(wall, np.argsort(wall == JOKER_INDEX, axis=1, kind="stable"), axis=1)
    left, used = np.maximum(excess, 0), 0
    for step, place in np.ndindex(case.gave.shape):
        kind = case.gave[step, place]
        if left[kind]:
            left[kind] -= 1
            fed[:, step, place] = spare[:, used]
            used += 1
    return fed


@compiled
def _others_give(
    deck: Deck, paper: Paper, coached: bool, step: int, racks: Ints, passed: Ints, given: Ints, lots: Ints
) -> None:
    """Write down what the three others give, each by its row: shape (4, 36), of lots (4, ...)."""
    for seat in range(1, SEATS):
        if coached:
            least_missed(deck, paper, racks[seat], passed[seat], STEPS - step, given[seat])
        else:
            softened(deck, paper, racks[seat], lots[seat], given[seat])


@compiled
def _move(deck: Deck, step: int, racks: Ints, passed: Ints, given: Ints) -> None:
    for seat in range(SEATS):
        to = (seat + deck.travel[step]) % SEATS
        for kind in range(KIND_COUNT):
            gone = given[seat, kind]
            if gone:
                racks[seat, kind] -= gone
                racks[to, kind] += gone
                passed[seat, kind] += gone


@compiled
def live(deck: Deck, paper: Paper, coached: bool, fed: Ints, racks: Ints, passed: Ints, lots: Ints) -> None:
    """Let the others pass the steps that are over, in every future; the seat itself has what it really had."""
    for future in range(len(racks)):
        for step in range(fed.shape[1]):
            _others_give(deck, paper, coached, step, racks[future], passed[future], paper.given, lots[future, step])
            paper.given[0, :] = 0
            for tile in range(PASS):
                paper.given[0, fed[future, step, tile]] += 1
            _move(deck, step, racks[future], passed[future], paper.given)


@compiled
def choose(
    deck: Deck, paper: Paper, coached: bool, step: int, racks: Ints, passed: Ints, given: Ints, lots: Ints
) -> None:
    """Write down what the others give at this step: it does not depend on what the seat gives."""
    for future in range(len(racks)):
        _others_give(deck, paper, coached, step, racks[future], passed[future], given[future], lots[future, step])


def play_outs(deck: Deck, paper: Paper, futures: Futures, passes: Counts) -> Floats:
    """Return the final points of each pass in each future, shape (passes, futures)."""
    points = np.zeros((len(passes), len(futures.racks)))
    play(
        deck,
        paper,
        futures.coached,
        futures.step,
        futures.racks,
        futures.passed,
        futures.given,
        futures.lots,
        passes.astype(np.int64),
        points,
    )
    return points


@compiled
def play(
    deck: Deck,
    paper: Paper,
    coached: bool,
    first: int,
    racks: Ints,
    passed: Ints,
    given: Ints,
    lots: Ints,
    passes: Ints,
    points: Floats,
) -> None:
    """Play every pass out in every future and write the points down."""
    for number in range(len(passes)):
        for future in range(len(racks)):
            paper.racks[:] = racks[future]
            paper.passed[:] = passed[future]
            paper.given[:] = given[future]
            paper.given[0] = passes[number]
            for step in range(first, STEPS):
                if step > first:
                    _others_give(deck, paper, coached, step, paper.racks, paper.passed, paper.given, lots[future, step])
                    least_missed(deck, paper, paper.racks[0], paper.passed[0], STEPS - step, paper.given[0])
                _move(deck, step, paper.racks, paper.passed, paper.given)
            points[number, future] = committed(deck, paper, paper.racks[0], paper.passed[0], 0)

"""What the other seats do on a card: which tiles they tend to pass, and how long a hand lasts against them.

Must never know what anybody really passed or played: we find both from the card alone. A few seeded Charlestons are
played by four softened greedy seats, and the same deals by four quick coached seats; nobody knows which sort sits at a
table, so the tendency is the mean of the two. Why it matters: a flower that half the hands want hardly ever comes by a
pass, and a coach that takes all unseen tiles for equally likely would wait for it in vain.

How long a hand lasts follows from the racks that the coached seats end with. A seat plays on until one of three others
finishes; each of them finishes by its t-th draw as often as such racks do on average.
"""

import json
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from math import exp

import numpy as np

from shared.coach.aims import finishing, winning
from shared.coach.chance import Floats, Indices
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away
from shared.coach.futures import Prospects, orders
from shared.coach.passes import PASS
from shared.coach.targets import SET, target_chances
from shared.rules.seats import Direction
from shared.rules.steps import FIRST, PASSES, STEPS
from shared.rules.tiles import KINDS

FADE = np.array([exp(-1.5 * tiles) for tiles in range(15)])
"""The weight of a variant in the softened greedy policy, by tiles away."""
SIX_PASSES = tuple(direction for step in PASSES if (direction := STEPS[step].direction))
ACROSS = tuple(number for number, direction in enumerate(SIX_PASSES) if direction is Direction.ACROSS)
"""The passes of those that go across."""
ROUND, BOTH = len(FIRST), len(PASSES)
"""Passes in one Charleston, and in both."""

_DEALS = 64
_SEED = 1
_HANDS = (14, 13, 13, 13)
_OTHERS = 3
_MOST_DRAWS = 26
"""Own draws until the wall is empty: 99 tiles for four seats, with a few more for who is called past."""
_MEASURED = (2, 5, 8, 11, 14, 17, 20, 23, _MOST_DRAWS)
_NEAR = 24
_POWER = 12
"""The exponent of chances by which a quick coached seat weighs its targets: high enough that good ones decide, low
enough that a second one counts. Measured with the first release's coach in 2,000 deals: between 5 and 30 it made little
difference, and 10 to 14 was best."""
_SINGLE_TILES = -np.eye(JOKER_INDEX, len(KINDS), dtype=np.int8)


@dataclass(frozen=True, eq=False)
class Others:
    """What to expect of three others on a card.

    Attributes:
        flow: how much likelier each kind comes by each of the six passes than its copies suggest, shape (6, 35).
        draws: weights of 0, 1, 2... own draws before another seat ends the hand, after one Charleston and after two.
    """

    flow: Floats
    draws: tuple[tuple[int, ...], ...]


def others(patterns: Patterns) -> Others:
    """Return what to expect of the others on a card; known beforehand for the cards that come with the project."""
    known = _known().get(fingerprint(patterns))
    return known or found_by_play(patterns)


def fingerprint(patterns: Patterns) -> str:
    """Return what tells a card's patterns from all others: 64 hexadecimal digits."""
    parts = (patterns.pairs, patterns.groups, patterns.hand, patterns.concealed)
    return sha256(b"".join(part.astype(np.int64).tobytes() for part in parts)).hexdigest()


@cache
def _known() -> dict[str, Others]:
    kept = json.loads(files("shared.coach").joinpath("others.json").read_text())
    return {key: Others(np.array(flow), tuple(map(tuple, draws))) for key, (flow, draws) in kept.items()}


def found_by_play(patterns: Patterns) -> Others:
    """Return what to expect of the others on a card, found by playing; this takes a second."""
    softened, _ = _charlestons(patterns, coached=False)
    coached, after = _charlestons(patterns, coached=True)
    return Others((softened + coached) / 2, tuple(_draws(patterns, *racks) for racks in after))


def _charlestons(patterns: Patterns, *, coached: bool) -> tuple[Floats, list[tuple[Counts, Counts]]]:
    """Return the flow of tables of one sort of seats; and of coached ones racks with passed tiles, as Others.draws."""
    racks = _deals()
    passed = np.zeros_like(racks)
    share, after = np.empty((len(SIX_PASSES), JOKER_INDEX)), []
    for number, direction in enumerate(SIX_PASSES):
        if coached:
            gives = _least_missed(patterns, racks, passed, PASS * (BOTH - number))
        else:
            gives = softened_greedy(patterns, racks.reshape(-1, len(KINDS)), (_SEED, 1 + number)).reshape(racks.shape)
        racks, passed = racks - gives + np.roll(gives, int(direction), axis=1), passed + gives
        given = 1.0 + gives[:, :, :JOKER_INDEX].sum(axis=(0, 1))  # the 1.0 keeps every kind possible
        share[number] = given / SET[:JOKER_INDEX]
        if coached and (number + 1) % ROUND == 0:
            after.append((racks, passed))
    # A card's notation treats the three suits alike, so we pool them and need fewer deals.
    suited = share[:, :27].reshape(len(SIX_PASSES), 3, 9)
    suited[:] = suited.mean(axis=1, keepdims=True)
    return share / share.mean(axis=1, keepdims=True), after


def _draws(patterns: Patterns, racks: Counts, passed: Counts) -> tuple[int, ...]:
    """Return the weights of own draws before one of three others, with racks such as these, ends the hand."""
    racks, passed = racks.reshape(-1, len(KINDS)), passed.reshape(-1, len(KINDS))
    unseen = SET - np.minimum(racks + passed, SET)
    finished = [0.0]
    for draws in _MEASURED:
        aim = winning((0,) * draws + (1,))
        chances = target_chances(patterns, racks, unseen, aim.play, 0, _NEAR)[1]
        finished.append(float(aim.in_all(chances).mean()))
    by_draw = np.interp(np.arange(_MOST_DRAWS + 1), (0, *_MEASURED), finished)
    going = (1 - np.maximum.accumulate(by_draw)) ** _OTHERS
    ends = -np.diff(going, prepend=1.0)
    ends[-1] += going[-1]  # the wall ends the hand
    return tuple(round(1_000_000 * end) for end in ends.tolist())


def _least_missed(patterns: Patterns, tables: Counts, passed: Counts, coming: int) -> Counts:
    """Return what quick coached seats pass, shape (deals, 4, 36); racks with equally many jokers go together."""
    racks = tables.reshape(-1, len(KINDS))
    gives, unseen = np.zeros_like(racks), SET - np.minimum(racks + passed.reshape(racks.shape), SET)
    for jokers in np.unique(racks[:, JOKER_INDEX]):
        rows: Indices = np.flatnonzero(racks[:, JOKER_INDEX] == jokers)
        gives[rows] = least_missed(patterns, racks[rows], unseen[rows], coming)
    return gives.reshape(tables.shape)


def least_missed(patterns: Patterns, racks: Counts, unseen: Counts, coming: int) -> Counts:
    """Return the three tiles that each rack misses least, shape (racks, 36); every seat has seen equally many tiles.

    We pick one after the other, each from the rack without those before: so a rack that needs one of two tiles keeps
    one of them.
    """
    prospects = Prospects.of(patterns, racks, unseen, finishing().play, coming, keep=_NEAR, close=_NEAR // 2)
    rows = np.arange(len(racks))
    for _ in range(PASS):
        chances = prospects.changed(_SINGLE_TILES)
        left = (chances**_POWER).sum(axis=2)
        best = np.where(prospects.racks[:, :JOKER_INDEX].T > 0, left, -1.0).argmax(axis=0)
        fewer = prospects.racks.copy()
        fewer[rows, best] -= 1
        prospects = prospects.after(fewer, chances[best, rows])
    return racks - prospects.racks


def softened_greedy(patterns: Patterns, racks: Counts, seed: tuple[int, ...]) -> Counts:
    """Return the three tiles that each rack misses least, each judged alone, ties by lot; shape (racks, 36)."""
    row, kind = np.nonzero(racks[:, :JOKER_INDEX])
    fewer = racks[row]
    fewer[np.arange(len(row)), kind] -= 1
    kept = np.full((len(racks), JOKER_INDEX), -1.0)
    kept[row, kind] = FADE[away(patterns, fewer)].sum(axis=1)
    # Rounded, so that floating-point noise never decides between two tiles.
    kept = np.round(kept / kept.max(axis=1, keepdims=True), 9)
    order = np.lexsort((orders(JOKER_INDEX, len(racks), seed), -kept), axis=1)
    held = np.take_along_axis(racks, order, axis=1).astype(int)
    taken = np.clip(PASS - (np.cumsum(held, axis=1) - held), 0, held)
    gives = np.zeros_like(racks)
    np.put_along_axis(gives, order, taken.astype(np.uint8), axis=1)
    return gives


def _deals() -> Counts:
    tiles = np.repeat(np.arange(len(SET)), SET)
    seats = np.repeat(np.arange(len(_HANDS)), _HANDS)
    dealt = tiles[orders(len(tiles), _DEALS, (_SEED,))[:, : len(seats)]]
    racks = np.zeros((_DEALS, len(_HANDS), len(SET)), dtype=np.uint8)
    np.add.at(racks, (np.arange(_DEALS)[:, None], seats, dealt), 1)
    return racks

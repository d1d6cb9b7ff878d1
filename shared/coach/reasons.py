"""Why one pass is worth less than another: what it gave up, what it kept instead, what it gives a neighbour.

Must never hold words, and never a reason without its cost. Every cost is a difference of worths: of one rack in the
futures of the ranking, with these tiles and without them. If both passes give equally many tiles, the worth
of what only the first gave, less that of what only the second gave, is the difference of their points, to the last bit.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from shared.cards import Card
from shared.coach.chance import Floats
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, away_one, counts_of
from shared.coach.engine import Engine
from shared.coach.estimate import Estimate
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import RankedPass
from shared.coach.targets import within_reach
from shared.coach.words import Target, run_around, target_of
from shared.rules.tiles import INDEX, KINDS, SUITS, Rack, Tile, rank, suit

ThreadKind = Literal["suit", "parity", "family"]
FUTURES = 64
"""In how many futures a reason is measured."""
_MAIN_SUIT = 5
"""A hand plays in a suit if it asks for at least this many tiles of it."""
_COMMIT = 0.5
"""Enough to commit: the best hand has this share of the chances of all hands within reach."""
_MOST = 2 / 3
"""Most hands: at least this share of them."""
_FEW = 2
"""From how many hands on they can have something in common."""
_OFTEN = 1.25
"""A kind comes by often if it is this much likelier to come than its copies suggest."""


@dataclass(frozen=True)
class Given:
    """Tiles that the pass gave and the better one keeps.

    Attributes:
        tiles: these tiles, in kind order.
        cost: their worth beside everything that both passes keep.
        hand: the likeliest hand after the better pass that is nearer with them; None if there is none within reach.
        place: that hand's place among those within reach, 0 for the likeliest.
        near, far: how many tiles the hand lacks with these tiles and without.
        gap: the tile among them that the hand misses between two ranks that are held, if there is one.
        run: the run of neighbours that they tear, if they are of one kind and tear one.
        pairs_only: whether the hand wants all of them as singles or pairs, which no joker can fill.
        thread: the suit that all hands within reach play in and all of these tiles have, or "".
    """

    tiles: Rack
    cost: Estimate
    hand: Target | None
    place: int = 0
    near: int = 0
    far: int = 0
    gap: Tile | None = None
    run: str | None = None
    pairs_only: bool = False
    thread: str = ""


@dataclass(frozen=True)
class Kept:
    """Tiles that the pass kept and the better one gives.

    Attributes:
        tiles: these tiles, in kind order.
        cost: how much more the pass would be worth if it gave them instead of the best it gave.
        worth: their worth beside everything that both passes keep.
        hand: the likeliest hand within reach after the pass that is nearer with them; None if they are idle.
        away: how many tiles that hand lacks.
        often: those among them that come by often.
    """

    tiles: Rack
    cost: Estimate
    worth: Estimate
    hand: Target | None = None
    away: int = 0
    often: Rack = ()


@dataclass(frozen=True)
class Thread:
    """What most hands within reach have in common.

    Attributes:
        kind: a suit that they play in, the parity of all their ranks, or their family on the card.
        value: the suit's letter, "even" or "odd", or the name of the family.
        count: how many hands share it.
    """

    kind: ThreadKind
    value: str
    count: int


@dataclass(frozen=True)
class Outlook:
    """The hands within reach after a pass.

    Attributes:
        hands: the likeliest first.
        share: the first one's share of the chances of all of them.
        thread: what most of them have in common, if anything.
        gap: the tile that the first one misses between two ranks that are held, or None.
        unseen: how many of it are out.
        bare: how many tiles the first one misses in singles and pairs, which no joker can fill.
    """

    hands: tuple[Target, ...]
    share: float
    thread: Thread | None
    gap: Tile | None
    unseen: int
    bare: int

    @property
    def commits(self) -> bool:
        """Whether the first hand is enough to commit to."""
        return bool(self.hands) and self.share >= _COMMIT

    @property
    def suit(self) -> str:
        """The suit that all hands play in, or ""."""
        every = self.thread and self.thread.kind == "suit" and self.thread.count == len(self.hands)
        return self.thread.value if self.thread and every else ""


@dataclass(frozen=True)
class Difference:
    """All that sets a pass apart from the better one.

    Attributes:
        given: what it gave up, by the hand that wanted it, the dearest first.
        kept: what it kept instead, the dearest first.
        gift: how much more the pass gives the neighbour than the better one, and what counts of that, in points;
            nothing counts across.
        own, best: the hands within reach after each.
    """

    given: tuple[Given, ...]
    kept: tuple[Kept, ...]
    gift: float
    counts: float
    own: Outlook
    best: Outlook


@lru_cache(maxsize=64)
def outlook(engine: Engine, card: Card, position: Position, tiles: Rack) -> Outlook:
    """Return the hands within reach after these tiles are passed; kept, since one position is asked often."""
    rack, patterns = position.counts() - counts_of(tiles), engine.patterns
    readings = within_reach(engine.hands_after(position, tiles))
    hands = tuple(target_of(patterns, card, reading, rack) for reading in readings)
    wants = [patterns.wanted(hand.variant) for hand in hands]
    share = readings[0].counts / sum(reading.counts for reading in readings) if readings else 0.0
    gap = next(iter(gaps(wants[0], rack)), None) if wants else None
    unseen = int(position.unseen()[INDEX[gap]]) if gap else 0
    families = [card.hands[reading.hand].section for reading in readings]
    bare = int(np.maximum(patterns.pairs[hands[0].variant].astype(int) - rack, 0).sum()) if hands else 0
    return Outlook(hands, share, common_thread(wants, families), gap, unseen, bare)


def common_thread(wants: Sequence[Counts], families: Sequence[str]) -> Thread | None:
    """Return what most hands have in common, given what each wants and its family; of equals, first a suit.

    A lone hand has nothing in common with others, and a suit that is shared beside another one says nothing.
    """
    if len(wants) < _FEW:
        return None
    suits = Counter(letter for want in wants for letter in main_suits(want))
    parities = Counter(parity for want in wants if (parity := _parity(want)))
    counts: dict[ThreadKind, Counter[str]] = {"suit": suits, "parity": parities, "family": Counter(families)}
    found = [
        Thread(kind, value, count)
        for kind, counted in counts.items()
        for value, count in counted.most_common(1)
        if count >= _MOST * len(wants) and list(counted.values()).count(count) == 1
    ]
    return max(found, key=lambda thread: thread.count, default=None)


def main_suits(want: Counts) -> set[str]:
    """Return the suits of which a pattern wants many tiles."""
    return {letter for letter in SUITS if sum(int(want[INDEX[t]]) for t in KINDS if suit(t) == letter) >= _MAIN_SUIT}


def _parity(want: Counts) -> str:
    odd = {bool((rank(KINDS[kind]) or 0) % 2) for kind in np.flatnonzero(want) if rank(KINDS[kind])}
    return "" if len(odd) != 1 else "odd" if odd.pop() else "even"


def gaps(want: Counts, rack: Counts) -> list[Tile]:
    """Return the tiles that a pattern wants and the rack has none of, between the nearest ranks it wants, both held."""
    found = []
    for kind in np.flatnonzero(want[:JOKER_INDEX]):
        if rank(KINDS[kind]) and not rack[kind]:
            sides = [_beside(want, int(kind), step) for step in (-1, 1)]
            if all(side is not None and rack[side] for side in sides):
                found.append(KINDS[kind])
    return found


def _beside(want: Counts, kind: int, step: int) -> int | None:
    """Return the next kind that a pattern wants in this suit and direction, at most two ranks away."""
    for other in (kind + step, kind + 2 * step):
        if 0 <= other < JOKER_INDEX and suit(KINDS[other]) == suit(KINDS[kind]) and want[other]:
            return other
    return None


def difference(
    engine: Engine, card: Card, position: Position, own: RankedPass, best: RankedPass, seed: int
) -> Difference:
    """Return what sets a pass apart from the better one."""
    lost, spare = _only(own.tiles, best.tiles), _only(best.tiles, own.tiles)
    here, there = (outlook(engine, card, position, ranked.tiles) for ranked in (own, best))
    patterns, rack = engine.patterns, position.counts()
    with_best, with_own = rack - counts_of(best.tiles), rack - counts_of(own.tiles)
    given = _by_hand(patterns, lost, there.hands, with_own)
    kept = _by_hand(patterns, spare, here.hands, with_own - counts_of(spare))
    costs = _costs(engine, position, own.tiles, best.tiles, list(given.values()), list(kept.values()), seed)
    told = [
        _given(patterns, tiles, there, place, cost, with_own, with_best)
        for (place, tiles), cost in zip(given.items(), costs[0], strict=True)
    ]
    idle = [
        _kept(engine, position, tiles, here, place, cost, worth, with_own)
        for (place, tiles), (cost, worth) in zip(kept.items(), costs[1], strict=True)
    ]
    return Difference(
        tuple(sorted(told, key=lambda reason: -reason.cost.points)),
        tuple(sorted(idle, key=lambda reason: -reason.cost.points)),
        (own.gift or 0.0) - (best.gift or 0.0),
        own.given - best.given,
        here,
        there,
    )


def _only(tiles: Rack, others: Rack) -> Rack:
    return tiles_of(counts_of((Counter(tiles) - Counter(others)).elements()))


def hands_now(engine: Engine, card: Card, position: Position) -> tuple[Target, ...]:
    """Return the hands within reach of a rack as it stands, the likeliest first."""
    readings = within_reach(engine.hands(position))
    return tuple(target_of(engine.patterns, card, reading, position.counts()) for reading in readings)


def needed(engine: Engine, position: Position, tiles: Rack, hands: tuple[Target, ...]) -> dict[int, Rack]:
    """Return those of some tiles that hands need beside the rest of the rack, by the place of the first such hand."""
    found = _by_hand(engine.patterns, tiles, hands, position.counts() - counts_of(tiles))
    return {place: group for place, group in found.items() if place >= 0}


def _by_hand(patterns: Patterns, tiles: Rack, hands: tuple[Target, ...], rack: Counts) -> dict[int, Rack]:
    """Return tiles by the place of the likeliest hand that is nearer with all tiles of their kind; -1 for none."""
    found: dict[int, list[Tile]] = {}
    bare = away_one(patterns, rack)
    for tile, count in Counter(tiles).items():
        more = away_one(patterns, rack + counts_of((tile,) * count))
        nearer = (place for place, hand in enumerate(hands) if more[hand.variant] < bare[hand.variant])
        found.setdefault(next(nearer, -1), []).extend([tile] * count)
    return {place: tuple(group) for place, group in found.items()}


def _costs(
    engine: Engine, position: Position, own: Rack, best: Rack, given: list[Rack], kept: list[Rack], seed: int
) -> tuple[list[Estimate], list[tuple[Estimate, Estimate]]]:
    """Return the worth of what was given, and of what was kept the gain by giving it instead, with its worth."""
    common, lost = Counter(own) & Counter(best), Counter(own) - Counter(best)
    both, singles = list(common.elements()), list(lost)
    alone = _chances(engine, position, [both, list(own), *([*both, tile] for tile in singles)], len(own), seed)
    base, made = alone[0], alone[1]
    dear = dict(zip(singles, alone[2:].mean(axis=1).tolist(), strict=True))
    dearest = sorted(lost.elements(), key=dear.__getitem__)
    each = _chances(engine, position, [[*both, *group] for group in (*given, *kept)], len(own), seed)
    swaps = [[*both, *dearest[len(group) :], *group] for group in kept]
    gains = [_chances(engine, position, [swap], len(swap), seed)[0] - made for swap in swaps if len(own) != len(best)]
    gains = gains or [row - made for row in _chances(engine, position, swaps, len(own), seed)]
    return (
        [Estimate.of(base - row) for row in each[: len(given)]],
        [(Estimate.of(gain), Estimate.of(base - row)) for gain, row in zip(gains, each[len(given) :], strict=True)],
    )


def _chances(engine: Engine, position: Position, gone: list[list[Tile]], number: int, seed: int) -> Floats:
    """Return the chances to win without any of these tiles in each future; none for no tiles."""
    if not gone:
        return np.empty((0, FUTURES))
    counts = np.array([counts_of(tiles) for tiles in gone])
    return engine.points_without(position, counts, number, seed, FUTURES) / 100


def _given(
    patterns: Patterns, tiles: Rack, there: Outlook, place: int, cost: Estimate, with_own: Counts, with_best: Counts
) -> Given:
    if place < 0:
        return Given(tiles, cost, None)
    hand = there.hands[place]
    want, group = patterns.wanted(hand.variant), counts_of(tiles)
    torn = run_around(with_own, tiles[0]) if set(tiles) == {tiles[0]} and not with_own[INDEX[tiles[0]]] else None
    return Given(
        tiles,
        cost,
        hand,
        place,
        int(away_one(patterns, with_own + group)[hand.variant]),
        int(away_one(patterns, with_own)[hand.variant]),
        next((tile for tile in gaps(want, with_own) if tile in tiles), None),
        torn,
        not any(patterns.groups[hand.variant][INDEX[tile]] for tile in tiles),
        there.suit if all(suit(tile) == there.suit for tile in tiles) else "",
    )


def _kept(
    engine: Engine,
    position: Position,
    tiles: Rack,
    here: Outlook,
    place: int,
    cost: Estimate,
    worth: Estimate,
    with_own: Counts,
) -> Kept:
    flow = engine.others.flow[min(position.number + 1, len(engine.others.flow) - 1) :].mean(axis=0)
    often = tuple(tile for tile in dict.fromkeys(tiles) if flow[INDEX[tile]] >= _OFTEN) if position.later else ()
    if place < 0:
        return Kept(tiles, cost, worth, often=often)
    hand = here.hands[place]
    return Kept(tiles, cost, worth, hand, int(away_one(engine.patterns, with_own)[hand.variant]), often)

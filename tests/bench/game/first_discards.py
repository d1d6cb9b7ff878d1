"""The dealer's first discard: what the coach's choice loses against long play-outs, in games won in a hundred.

Every kind of a rack of fourteen but jokers goes first in the same games: the same racks of three others and the same
tiles in each seat's own quarter of the wall; afterwards everybody plays as the simulator does. Kinds that are clearly
behind drop out, round by round. The best is chosen on half of the games and measured on the other half, so that luck
does not choose it. What was played is kept without any ranking: another coach can be held against the same games.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from shared.coach.discards import discards
from shared.coach.engine import Engine as NowEngine
from shared.coach.passes import Position as NowPosition
from shared.coach.passes import tiles_of
from shared.rules.tiles import INDEX
from tests.bench.first_release.engine import Engine
from tests.bench.game.choices import least_missed, look, new_mind
from tests.bench.game.deals import Seat, after_six_passes, among_others
from tests.bench.game.hands import JOKER_KIND, KIND_COUNT, Hands, Ints
from tests.bench.game.odds import Floats, odds_of
from tests.bench.game.parts import Part
from tests.bench.game.play import USUAL, Counts, play
from tests.bench.game.table import finished, new_table

PASSES, DEALER = 6, 0
_TABLES = 16
"""Deals of a part, at least, among which a rack finds its three others."""
_BEHIND = 3.0
"""Standard errors by which a kind must be behind to drop out."""

Rank = Callable[[NowPosition], Sequence[tuple[int, float]]]
"""Returns the kinds of a rack with what each costs, the best first discard first."""


def raced(engine: Engine, hands: Hands, seats: Seat, racks: int, rounds: Sequence[int], seed: tuple[int, ...]) -> Part:
    """Return dealers' racks, what each of their kinds won as the first discard, and which one the simulator chooses.

    Args:
        engine: the first release's coach, whose seats pass the tiles.
        hands: the card for the simulator.
        seats: who passed.
        racks: how many racks of fourteen.
        rounds: games of every kind that is left, in rising order.
        seed: fixes everything.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    made = after_six_passes(engine, (seats,) * 4, max(racks, _TABLES), rng)
    found: Part = {"racks": [], "passed": [], "kinds": [], "won": [], "simulator": []}
    for deal in range(racks):
        tables, walls = among_others(made, deal, DEALER, rounds[-1], rng)
        table = new_table(hands, tables[0].astype(np.int32), walls[0])
        if finished(hands, table, DEALER) >= 0:
            continue  # nothing is discarded
        mind = new_mind(np.array(USUAL.power), np.array(USUAL.eager), len(hands.hand))
        look(table, mind, DEALER)
        own, _ = least_missed(hands, odds_of(USUAL.discarded), table, mind, DEALER, USUAL.power[DEALER])
        rack = made.racks[deal, DEALER]
        kinds = [kind for kind in range(KIND_COUNT) if rack[kind] and kind != JOKER_KIND]
        found["racks"].append(rack.tolist())
        found["passed"].append(made.passed[deal, DEALER].tolist())
        found["kinds"].append(kinds)
        found["won"].append(_race(hands, tables, walls, kinds, rounds))
        found["simulator"].append(own)
    return found


def _race(hands: Hands, racks: Counts, walls: Ints, kinds: Sequence[int], rounds: Sequence[int]) -> list[str]:
    """Return the games that each first discard won, a digit a game; fewer where it dropped out."""
    won = {kind: np.zeros(0, dtype=np.int8) for kind in kinds}
    left = list(kinds)
    for before, until in pairwise((0, *rounds)):
        for kind in left:
            games = play(hands, racks[before:until], walls[before:until], first=kind)
            won[kind] = np.concatenate([won[kind], (games.winner == DEALER).astype(np.int8)])
        best = max(left, key=lambda kind: won[kind].sum())
        left = [kind for kind in left if kind == best or not _is_behind(won[kind] - won[best])]
    return ["".join(map(str, won[kind].tolist())) for kind in kinds]


def _is_behind(more: Ints) -> bool:
    return bool(more.mean() < -_BEHIND * more.std(ddof=1) / len(more) ** 0.5)


def by_the_coach(now: NowEngine) -> Rank:
    """Return today's ranking."""
    return lambda position: [(INDEX[each.tile], each.loss) for each in discards(now, position, 1)]


def told(parts: Sequence[Part], rank: Rank) -> list[str]:
    """Return what the coach's first discard loses, the best of its three, and the simulator's own, in lines."""
    rows = [row for part in parts for row in _rows(part, rank)]
    lines = [f"racks: {len(rows)}; games of the best discards: {max(map(len, rows[0].won))}"]
    chosen = {
        "the coach's first": [row.ranked[:1] for row in rows],
        "the best of the coach's three": [row.ranked[:3] for row in rows],
        "the simulator's own": [[row.own] for row in rows],
        "the kind in the middle of the coach's list": [[row.ranked[len(row.ranked) // 2]] for row in rows],
    }
    for name, choices in chosen.items():
        lost = np.array([regret(row, choice) for row, choice in zip(rows, choices, strict=True)])
        error = lost.std(ddof=1) / len(lost) ** 0.5
        lines.append(f"{name} loses {lost.mean():.2f} +- {error:.2f} games in a hundred; {_quantiles(lost)}")
    most = np.array([_at_most(row) for row in rows])
    error = most.std(ddof=1) / len(most) ** 0.5
    lines.append(f"the coach's first loses at most {most.mean():.2f} +- {error:.2f}: the best chosen in the same games")
    same = np.mean([row.ranked[0] == row.own for row in rows])
    lines.append(f"the coach and the simulator let the same kind go first in {100 * same:.0f}%")
    return [*lines, *_losses(rows)]


class Row:
    """One rack: the games that each kind won as the first discard, the coach's ranking, the simulator's choice."""

    def __init__(self, kinds: Sequence[int], won: Sequence[str], ranked: Sequence[tuple[int, float]], own: int) -> None:
        self.won = [np.frombuffer(digits.encode(), dtype=np.uint8) - ord("0") for digits in won]
        self.place = {kind: place for place, kind in enumerate(kinds)}
        self.ranked, self.losses = [kind for kind, _ in ranked], [loss for _, loss in ranked]
        self.own = own


def _rows(part: Part, rank: Rank) -> list[Row]:
    rows = []
    for rack, passed, kinds, won, own in zip(*(part[name] for name in part), strict=True):
        tiles = (tiles_of(np.array(counts, dtype=np.uint8)) for counts in (rack, passed))
        position = NowPosition(*tiles, 0, (), made=PASSES)
        rows.append(Row(kinds, won, rank(position), own))
    return rows


def regret(row: Row, choice: Sequence[int]) -> float:
    """Return what the best of some kinds loses against the best of all, in games won in a hundred."""
    lost = []
    for half in (0, 1):
        share = {kind: row.won[place][half::2] for kind, place in row.place.items()}
        most = max(map(len, share.values()))
        best = max((kind for kind in share if len(share[kind]) == most), key=lambda kind: float(share[kind].mean()))
        mine = max(choice, key=lambda kind: float(share[kind].mean()))
        other = [row.won[row.place[kind]][1 - half :: 2].astype(float) for kind in (best, mine)]
        both = min(map(len, other))
        lost.append(float((other[0][:both] - other[1][:both]).mean()))
    return 100 * float(np.mean(lost))


def _at_most(row: Row) -> float:
    """Return what the coach's first loses against the kind that won most: luck chooses it too, so it is too much."""
    most = max(map(len, row.won))
    share = [float(won.mean()) for won in row.won if len(won) == most]
    return 100 * (max(share) - float(row.won[row.place[row.ranked[0]]].mean()))


def _losses(rows: Sequence[Row]) -> list[str]:
    """Return what the coach says that a kind costs beside its first, and what it cost."""
    said, came, games = [], [], []
    for row in rows:
        first = row.won[row.place[row.ranked[0]]]
        for kind, loss in zip(row.ranked[1:], row.losses[1:], strict=True):
            other = row.won[row.place[kind]]
            both = min(len(first), len(other))
            said.append(loss)
            games.append(both)
            came.append(100 * float((first[:both].astype(float) - other[:both]).mean()))
    loss, cost, weight = map(np.array, (said, came, games))
    slope = float((weight * loss * cost).sum() / (weight * loss**2).sum())
    lines = [f"of every point that the coach says a kind costs, {slope:.2f} came"]
    for least, most in pairwise((0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 100.0)):
        chosen = (loss >= least) & (loss < most)
        if chosen.sum() > 1:
            error = cost[chosen].std(ddof=1) / chosen.sum() ** 0.5
            mean = np.average(cost[chosen], weights=weight[chosen])
            lines.append(f"  said {loss[chosen].mean():.1f}, came {mean:+.1f} +- {error:.1f} ({chosen.sum()} kinds)")
    return lines


def _quantiles(lost: Floats) -> str:
    low, middle, high = np.quantile(lost, (0.1, 0.5, 0.9))
    return f"10-50-90%: {low:+.1f} {middle:+.1f} {high:+.1f}"

"""A rack played on by the coach's model of one seat, beside the games that it wins in the simulator."""

from collections.abc import Sequence

import numpy as np

from shared.coach.engine import Engine as NowEngine
from shared.coach.passes import Position as NowPosition
from shared.coach.passes import tiles_of
from shared.coach.playing_on import play_on
from tests.bench.first_release.engine import Engine
from tests.bench.game.deals import Seat, after_six_passes, among_others
from tests.bench.game.facts import correlation
from tests.bench.game.hands import Hands
from tests.bench.game.odds import Floats
from tests.bench.game.parts import Part
from tests.bench.game.play import play

SEATS, PASSES = 4, 6
TABLES = 24
"""Deals of a part, at least, among which a rack finds its three others."""


def won_by_racks(engine: Engine, hands: Hands, seats: Seat, deals: int, endings: int, seed: tuple[int, ...]) -> Part:
    """Return racks, what each won in so many games at other tables, and its own draws in them, in the median."""
    rng = np.random.Generator(np.random.PCG64(seed))
    made = after_six_passes(engine, (seats,) * SEATS, max(deals, TABLES), rng)
    found: Part = {"racks": [], "passed": [], "won": [], "draws": []}
    for deal in range(deals):
        for seat in range(SEATS):
            games = play(hands, *among_others(made, deal, seat, endings, rng))
            won = games.winner == seat
            found["racks"].append(made.racks[deal, seat].tolist())
            found["passed"].append(made.passed[deal, seat].tolist())
            found["won"].append(float(won.mean()))
            found["draws"].append(float(np.median(games.draws[won, seat])) if won.any() else None)
    return found


def told(parts: Sequence[Part], now: NowEngine, endings: int) -> list[str]:
    """Return how the model's level and order go with the games, beside what the coach shows of a rack, in lines."""
    racks, passed, shares, came = ([row for part in parts for row in part[name]] for name in parts[0])
    model, shown, draws = [], [], []
    for number, pair in enumerate(zip(racks, passed, strict=True)):
        tiles = (tiles_of(np.array(counts, dtype=np.uint8)) for counts in pair)
        position = NowPosition(*tiles, 0, (), made=PASSES)
        played = play_on(now, position, number)
        model.append(played.share)
        shown.append(now.as_it_is(position))
        if played.won and came[number] is not None:
            draws.append((played.draws, came[number]))
    won = 100 * np.array(shares)
    lines = [f"racks: {len(won)}, each in {endings} games; won {_mean(won)}"]
    for said, label in ((np.array(model), "the model"), (np.array(shown), "the chance that the coach shows")):
        found, error = correlation(said[:, None], won[:, None] / 100, endings)
        slope = np.cov(said, won)[0, 1] / np.var(said, ddof=1)
        lines.append(f"{label}: {_mean(said)}, less what was won {_mean(said - won)}; slope {slope:.2f}")
        lines.append(f"  correlation with the games won, noise taken out: {found:.3f} +- {error:.3f}")
    order = np.argsort(model, kind="stable")
    tenths = [f"{np.array(model)[rows].mean():.1f}: {won[rows].mean():.1f}" for rows in np.array_split(order, 10)]
    lines.append("said by the model and won, by tenths: " + ", ".join(tenths))
    by_seat = [f"{np.array(model)[seat::SEATS].mean():.1f}: {won[seat::SEATS].mean():.1f}" for seat in range(SEATS)]
    lines.append("said by the model and won, by seats, the dealer first: " + ", ".join(by_seat))
    said, own = np.array(draws).T
    return [*lines, f"own draws of games won, in the median: said {_mean(said)}, came {_mean(own)}"]


def _mean(values: Floats) -> str:
    return f"{values.mean():.2f} +- {values.std(ddof=1) / len(values) ** 0.5:.2f}"

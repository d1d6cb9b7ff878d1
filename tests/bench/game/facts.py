"""What whole hands are like: how long they last, who finishes and how, and how far the coach's value foretells it."""

from collections.abc import Sequence

import numpy as np

from tests.bench.game.deals import Deals
from tests.bench.game.hands import Hands
from tests.bench.game.odds import Floats
from tests.bench.game.parts import Part
from tests.bench.game.play import Games, How

EXPECTED = """What an experienced player would expect (memory and common talk; there is no published source): most hands
are finished, a wall game comes about once in ten to twenty; a winner has drawn some 10 to 18 tiles, shows one or two
groups and has one to three jokers; half the hands or more end with a called tile; no seat is far from a quarter, the
dealer a little above it; concealed hands are rare among the finished ones."""


_REDRAWN = 100
_CORRELATION = "correlation with the chance to win, noise taken out:"
_TILES = ("racks", "passed")


def as_part(games: Games, deals: Deals, points: Floats) -> Part:
    """Return games, their deals and the values of the racks, shape (deals, 4), as what a results file keeps.

    A rack is 36 digits, how many of each kind: whoever has another value to try finds racks with games played.
    """
    columns = {name: getattr(games, name).tolist() for name in Games.__dataclass_fields__}
    return {**tiles_of(deals), "points": np.round(points, 3).tolist(), **columns}


def tiles_of(deals: Deals) -> dict[str, list[str]]:
    """Return deals as digits, a rack in each string."""
    return {name: ["".join(map(str, seat)) for deal in getattr(deals, name) for seat in deal] for name in _TILES}


def deals_of(parts: Sequence[Part]) -> Deals:
    """Return the deals of all parts together."""
    kept = {name: [list(map(int, seat)) for part in parts for seat in part[name]] for name in _TILES}
    return Deals(**{name: np.array(kept[name], dtype=np.uint8).reshape(-1, 4, 36) for name in _TILES})


def of_parts(parts: Sequence[Part]) -> tuple[Games, Floats]:
    """Return the games of all parts together, and the values of their deals' racks."""
    columns = {name: np.concatenate([np.array(part[name]) for part in parts]) for name in Games.__dataclass_fields__}
    return Games(**columns), np.concatenate([np.array(part["points"]) for part in parts])


def _share(yes: np.ndarray) -> str:
    share = float(np.mean(yes))
    return f"{100 * share:.1f}% +- {100 * (share * (1 - share) / len(yes)) ** 0.5:.1f}"


def _spread(numbers: np.ndarray) -> str:
    low, middle, high = np.quantile(numbers, (0.1, 0.5, 0.9))
    return f"{numbers.mean():.1f} on average, 10-50-90%: {low:.0f} {middle:.0f} {high:.0f}"


def lines(hands: Hands, games: Games) -> list[str]:
    """Return the facts in lines."""
    won = games.winner >= 0
    who, rows = games.winner[won], np.flatnonzero(won)
    shown = games.groups[rows, who]
    seats = ", ".join(f"{name} {_share(games.winner == seat)}" for seat, name in enumerate(("dealer", "2", "3", "4")))
    return [
        f"games: {len(won)}",
        f"somebody finished: {_share(won)}",
        f"by a called tile, of those: {_share(games.how[won] == How.CALL)}",
        f"the winner's own draws: {_spread(games.draws[rows, who])}",
        f"own draws of a seat, all games: {_spread(games.draws.ravel())}",
        f"discards: {_spread(games.discards)}",
        f"finished by seat: {seats}",
        f"groups shown by a seat: {games.groups.mean():.2f}; by the winner: {shown.mean():.2f}",
        f"winners with nothing shown: {_share(shown == 0)}",
        f"winners with a concealed hand: {_share(hands.concealed[games.variant[won]])}",
        f"jokers in the finished hand: {games.jokers[won].mean():.2f}",
        f"jokers fetched in a game: {games.exchanges.sum(axis=1).mean():.2f}",
        f"hands of the card finished at least once: {len(set(hands.hand[games.variant[won]].tolist()))}",
    ]


def foretold(games: Games, points: Floats, label: str) -> list[str]:
    """Return how a value of racks after the Charleston, shape (deals, 4), goes with games won."""
    endings = len(games.winner) // len(points)
    wins = np.array([(games.winner == seat).reshape(-1, endings).mean(axis=1) for seat in range(4)]).T
    own, share = points.ravel(), wins.ravel()
    others = (points.sum(axis=1, keepdims=True) - points).ravel()
    design = np.stack([np.ones_like(own), own, others], axis=1)
    weights = np.linalg.lstsq(design, 100 * share, rcond=None)[0]
    said = [f"won% = {weights[0]:.1f} + {weights[1]:.2f} own {weights[2]:+.2f} x the sum of the others' ({label})"]
    order = np.argsort(own, kind="stable")
    deciles = [f"{own[rows].mean():.0f}: {100 * share[rows].mean():.1f}%" for rows in np.array_split(order, 10)]
    said.append("by tenths of the value: " + ", ".join(deciles))
    if endings > 1:
        for name, values in ((label, own), (f"{label} less the others'", design @ weights)):
            found, error = correlation(values.reshape(-1, 4), wins, endings)
            said.append(f"{_CORRELATION} {found:.3f} +- {error:.3f} ({name})")
    return said


def reliability(games: Games, said: Floats) -> list[str]:
    """Return by tenths what was said to win in a hundred games, shape (deals, 4), and what won; and how good that is.

    Standard errors are those of the deals' means: the endings of one deal share its racks.
    """
    endings = len(games.winner) // len(said)
    wins = 100 * np.array([(games.winner == seat).reshape(-1, endings).mean(axis=1) for seat in range(4)]).T
    own, share = said.ravel(), wins.ravel()
    lines = [f"racks: {len(own)}, said {own.mean():.2f} on average, won {share.mean():.2f}"]
    for rows in np.array_split(np.argsort(own, kind="stable"), 10):
        error = share[rows].std(ddof=1) / len(rows) ** 0.5
        lines.append(f"said {own[rows].mean():5.1f}, won {share[rows].mean():5.1f} +- {error:.1f}")
    slope = float(np.cov(own, share)[0, 1] / np.var(own, ddof=1))
    # Deals drawn again and again: the four racks of a deal share its games.
    dice, slopes = np.random.Generator(np.random.PCG64(0)), []
    for _ in range(_REDRAWN):
        rows = dice.integers(len(said), size=len(said))
        slopes.append(np.cov(said[rows].ravel(), wins[rows].ravel())[0, 1] / np.var(said[rows], ddof=1))
    spread = share / 100 * (1 - share / 100) + (share / 100 - own / 100) ** 2
    mean = share / 100 * (1 - share / 100) + (share / 100 - share.mean() / 100) ** 2
    lines.append(f"slope {slope:.3f} +- {np.std(slopes):.3f}; Brier {spread.mean():.4f}, of the mean {mean.mean():.4f}")
    return lines


def of_racks(points: Floats, wins: Floats, endings: int, label: str) -> list[str]:
    """Return how a value of racks goes with the games they won among other tables' racks, both of shape (racks,)."""
    order = np.argsort(points, kind="stable")
    tenths = [f"{points[rows].mean():.0f}: {100 * wins[rows].mean():.1f}%" for rows in np.array_split(order, 10)]
    found, error = correlation(points[:, None], wins[:, None], endings)
    return [
        f"{len(points)} racks, each in {endings} games: won {100 * wins.mean():.1f}%",
        f"won by tenths of the value ({label}): " + ", ".join(tenths),
        f"{_CORRELATION} {found:.3f} +- {error:.3f} ({label})",
    ]


def correlation(values: Floats, wins: Floats, endings: int) -> tuple[float, float]:
    """Return how values and chances to win go together, and the standard error from deals drawn again and again.

    Wins of a few endings stray around the chance; how much follows from the wins themselves and is taken out.
    """
    dice = np.random.Generator(np.random.PCG64(0))
    found = []
    for number in range(_REDRAWN + 1):
        rows = dice.integers(len(wins), size=len(wins)) if number else np.arange(len(wins))
        own, share = values[rows].ravel(), wins[rows].ravel()
        spread = float(np.var(share)) - float(np.mean(share * (1 - share) / (endings - 1)))
        found.append(float(np.cov(own, share, bias=True)[0, 1]) / (float(np.var(own)) * max(spread, 1e-9)) ** 0.5)
    return found[0], float(np.std(found[1:]))

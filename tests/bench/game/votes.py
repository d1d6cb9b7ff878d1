"""What the coach says of going on or stopping after one Charleston, beside what both came to in whole games."""

from collections.abc import Sequence

import numpy as np

from shared.coach.engine import Engine as NowEngine
from shared.coach.others import ROUND
from shared.coach.passes import Position as NowPosition
from shared.coach.passes import tiles_of
from shared.coach.ranking import HINT
from shared.coach.votes import votes
from tests.bench.first_release.engine import Engine
from tests.bench.game.deals import Seat, after_six_passes, of_today
from tests.bench.game.hands import Hands
from tests.bench.game.odds import Floats
from tests.bench.game.parts import Part
from tests.bench.game.play import play, walls_of

SEATS, PARTS = 4, 6


def weighed(
    now: NowEngine, engine: Engine, hands: Hands, seats: Seat, deals: int, endings: int, seed: tuple[int, ...]
) -> Part:
    """Return for one seat of each deal what the coach says of both votes, and what was won by each, in 100 games.

    That seat passes by today's coach as a hint, the others as the first release's seats. The same deals are played
    after one Charleston and after both.
    """
    found: Part = {"said": [], "stop clearly": []}
    won = []
    rows, who = np.arange(deals), np.arange(deals) % SEATS
    for passes in (ROUND, 2 * ROUND):
        rng, walls = (np.random.Generator(np.random.PCG64([*seed, stream])) for stream in (0, passes))
        made = after_six_passes(engine, (seats,) * SEATS, deals, rng, of_today(now, HINT), passes)
        games = play(hands, made.racks, walls_of(made.racks, endings, walls))
        won.append((games.winner.reshape(deals, -1) == who[:, None]).mean(axis=1))
        if passes == ROUND:
            for rack, gone in zip(made.racks[rows, who], made.passed[rows, who], strict=True):
                position = NowPosition(tiles_of(rack), tiles_of(gone), 0, (), made=ROUND)
                both = votes(now, position, seed[-1])
                found["said"].append([both.stop.net, both.go_on.net])
                found["stop clearly"].append(both.clearly_stop)
    return {**found, "won": (100 * np.transpose(won)).tolist()}


def told(parts: Sequence[Part]) -> list[str]:
    """Return what was said and won, in lines."""
    said, won = (np.concatenate([np.array(part[name]) for part in parts]) for name in ("said", "won"))
    clearly = np.concatenate([part["stop clearly"] for part in parts])
    lines = [f"deals: {len(said)}"]
    for place, vote in enumerate(("stop", "go on")):
        lines.append(f"{vote}: said {_mean(said[:, place])}, won {_mean(won[:, place])}")
    gap, came = (pair[:, 1] - pair[:, 0] for pair in (said, won))
    lines.append(f"going on is worth more by: said {_mean(gap)}, came {_mean(came)}")
    lines.append(
        f"said to gain by going on: {100 * np.mean(gap > 0):.0f}%; clearly to stop: {100 * clearly.mean():.1f}%"
    )
    return lines + [
        f"said {gap[rows].mean():+5.1f}, came {_mean(came[rows])}"
        for rows in np.array_split(np.argsort(gap, kind="stable"), PARTS)
    ]


def _mean(values: Floats) -> str:
    return f"{values.mean():+.2f} +- {values.std(ddof=1) / len(values) ** 0.5:.2f}"

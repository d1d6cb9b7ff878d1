"""Whole hands after the Charleston.

    python -m tests.bench.game facts results.jsonl [--parts 20] [--deals 50] [--endings 4] [--seats coached] [--seed 1]
    python -m tests.bench.game racks results.jsonl [--parts 20] ...
    python -m tests.bench.game manners results.jsonl --power 4 [--eager 1.1] [--parts 20] ...
    python -m tests.bench.game duel results.jsonl --arms "now, hint" "coach, thinking ahead" ...
    python -m tests.bench.game model results.jsonl [--parts 20] [--deals 4] [--endings 300] ...
    python -m tests.bench.game discards results.jsonl [--parts 20] [--deals 4] [--games 100 300 900 2400] ...
    python -m tests.bench.game check [--games 5] [--seed 1]

`facts` plays and tells what hands are like. `racks` plays each rack among the racks of other tables and tells how far
its value foretells the games it wins, whoever sits around it. `manners` changes how one seat plays, each seat in turn,
in the same deals and walls, and tells how many games more it wins; `duel` changes how one seat passes:
by today's coach, or by one of the first release's bots. `model` plays racks on by the coach's model of one seat beside
whole games; `discards` plays every first discard of dealers' racks and tells what the coach's loses. `check` has
games followed by the referee and compares what numba compiled with plain Python. A run is kept in its results file part
by part and goes on where it was stopped. numba is in the extra `bench`; without it a run takes a hundred times as long.
"""

import argparse
import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from time import process_time

import numpy as np

from shared.coach.aims import finishing
from shared.coach.engine import Engine
from shared.coach.ranking import HINT, THINK
from tests.bench.first_release.policies import STRENGTHS
from tests.bench.first_release.release import CARDS, card_named, engine_for
from tests.bench.game import facts
from tests.bench.game.deals import (
    Chooser,
    Deals,
    Seat,
    after_six_passes,
    among_others,
    committed_points,
    of_strength,
    of_today,
    said_to_win,
)
from tests.bench.game.duels import duel
from tests.bench.game.first_discards import by_the_coach, raced
from tests.bench.game.first_discards import told as told_discards
from tests.bench.game.hands import hands_of
from tests.bench.game.model import told as told_model
from tests.bench.game.model import won_by_racks
from tests.bench.game.parts import Part, run
from tests.bench.game.play import USUAL, Manners, play, recorded, walls_of
from tests.bench.game.referee import Referee, Variant
from tests.bench.game.votes import told as told_votes
from tests.bench.game.votes import weighed

SEATS = 4
LABEL, NOW_LABEL = "committed value of the first release", "chance to win that the coach shows"


def _deals(options: argparse.Namespace, part: int) -> tuple[Deals, np.ndarray]:
    rng = np.random.Generator(np.random.PCG64([options.seed, part]))
    seats: tuple[Seat, ...] = (options.seats,) * SEATS
    deals = after_six_passes(engine_for(options.card), seats, options.deals, rng, passes=options.passes)
    return deals, walls_of(deals.racks, options.endings, rng)


def _all_parts(options: argparse.Namespace, what: Part, measure: Callable[[int], Part]) -> list[Part]:
    settings = {
        name: getattr(options, name) for name in ("command", "card", "deals", "endings", "seats", "seed", "passes")
    }
    return list(run(options.results, {**settings, **what}, options.parts, measure))


def tell_facts(options: argparse.Namespace) -> None:
    """Play, and print what hands are like."""
    hands, spent = hands_of(card_named(options.card)), []

    def measure(part: int) -> Part:
        deals, walls = _deals(options, part)
        began = process_time()
        games = play(hands, deals.racks, walls)
        spent.append(process_time() - began)
        return facts.as_part(games, deals, committed_points(engine_for(options.card), deals))

    parts = _all_parts(options, {}, measure)
    games, points = facts.of_parts(parts)
    print("\n".join(facts.lines(hands, games)))
    print("\n".join(facts.foretold(games, points, LABEL)))
    said = said_to_win(Engine.of_card(card_named(options.card)), facts.deals_of(parts), options.passes)
    print("\n".join(facts.foretold(games, said, NOW_LABEL)))
    print("\n".join(facts.reliability(games, said)))
    if len(spent) > 1:  # the first part may have waited for the compiler
        each = options.deals * options.endings
        print(f"speed: {each * (len(spent) - 1) / sum(spent[1:]):.0f} games a second of processor time")
    print(facts.EXPECTED)


def tell_racks(options: argparse.Namespace) -> None:
    """Play each rack among other tables' racks, and print how its value goes with the games it wins."""
    hands = hands_of(card_named(options.card))

    def measure(part: int) -> Part:
        rng = np.random.Generator(np.random.PCG64([options.seed, part]))
        deals = after_six_passes(engine_for(options.card), (options.seats,) * SEATS, options.deals, rng)
        wins = []
        for deal in range(options.deals):
            for seat in range(SEATS):
                games = play(hands, *among_others(deals, deal, seat, options.endings, rng))
                wins.append(float(np.mean(games.winner == seat)))
        return {
            **facts.tiles_of(deals),
            "points": committed_points(engine_for(options.card), deals).ravel().tolist(),
            "wins": wins,
        }

    parts = _all_parts(options, {}, measure)
    said = said_to_win(Engine.of_card(card_named(options.card)), facts.deals_of(parts), options.passes)
    points, wins = (np.concatenate([np.array(part[name]) for part in parts]) for name in ("points", "wins"))
    print("\n".join(facts.of_racks(points, wins, options.endings, LABEL)))
    print("\n".join(facts.of_racks(said.ravel(), wins, options.endings, NOW_LABEL)))


def tell_manners(options: argparse.Namespace) -> None:
    """Print how many games more a seat wins that plays in another manner than the three others."""
    hands = hands_of(card_named(options.card))

    def measure(part: int) -> Part:
        deals, walls = _deals(options, part)
        usual = play(hands, deals.racks, walls)
        found = []
        for seat in range(SEATS):
            power = tuple(options.power if other == seat else own for other, own in enumerate(USUAL.power))
            eager = tuple(options.eager if other == seat else own for other, own in enumerate(USUAL.eager))
            games = play(hands, deals.racks, walls, Manners(power, eager, USUAL.discarded))
            more = (games.winner == seat).astype(int) - (usual.winner == seat)
            found.append(more.reshape(options.deals, -1).mean(axis=1))
        return {"more": np.mean(found, axis=0).tolist()}

    manner = {"power": options.power, "eager": options.eager, "usual": list(map(list, (USUAL.power, USUAL.eager)))}
    more = 100 * np.concatenate([part["more"] for part in _all_parts(options, manner, measure)])
    error = more.std(ddof=1) / len(more) ** 0.5
    print(f"games won more by the changed seat, in a hundred: {more.mean():+.2f} +- {error:.2f}")


NOW = {
    "now, hint": (None, HINT, False),
    "now, thinking": (None, THINK, False),
    "now, finishing alone, hint": (finishing(), HINT, False),
    "now, finishing alone, thinking": (finishing(), THINK, False),
    "now, for values, hint": (None, HINT, True),
}
"""Today's coach: what it aims at, how much work it may do, and whether it plays for the hands' values."""
GAMES = [100, 300, 900, 2400]
ARMS = ["now, hint", "now, finishing alone, hint", "coach, thinking ahead"]


def _chooser(card: str, name: str) -> Chooser:
    if name not in NOW:
        return of_strength(engine_for(card), name)
    aim, effort, valued = NOW[name]
    return of_today(Engine.of_card(card_named(card), aim), effort, valued=valued)


def tell_duel(options: argparse.Namespace) -> None:
    """Print what one seat has more by each of several ways to pass than by the last of them."""
    engine, hands = engine_for(options.card), hands_of(card_named(options.card))
    values = [hand.value for hand in card_named(options.card).hands]
    choosers = {name: _chooser(options.card, name) for name in options.arms}

    def measure(part: int) -> Part:
        seed = (options.seed, part)
        return duel(engine, hands, values, choosers, options.seats, options.deals, options.endings, seed)

    parts = _all_parts(options, {"arms": options.arms}, measure)
    last = options.arms[-1]
    units = {"wins": "games won in a hundred", "values": "value won a game", "points": "committed points"}
    for kind, unit in units.items():
        by_arm = {name: np.concatenate([part[kind][name] for part in parts]) for name in options.arms}
        print(f"{last}: {by_arm[last].mean():.2f} {unit}, {len(by_arm[last])} deals")
        for name in options.arms[:-1]:
            more = by_arm[name] - by_arm[last]
            error = more.std(ddof=1) / len(more) ** 0.5
            print(f"  {name}: {more.mean():+.2f} +- {error:.2f} more")


def tell_model(options: argparse.Namespace) -> None:
    """Play racks in whole games and on by the coach's model, and print how the two go together."""
    engine, hands = engine_for(options.card), hands_of(card_named(options.card))

    def measure(part: int) -> Part:
        return won_by_racks(engine, hands, options.seats, options.deals, options.endings, (options.seed, part))

    parts = _all_parts(options, {}, measure)
    print("\n".join(told_model(parts, Engine.of_card(card_named(options.card)), options.endings)))


def tell_discards(options: argparse.Namespace) -> None:
    """Play every first discard of dealers' racks, and print what the coach's loses."""
    engine, hands = engine_for(options.card), hands_of(card_named(options.card))

    def measure(part: int) -> Part:
        return raced(engine, hands, options.seats, options.deals, options.games, (options.seed, part))

    parts = _all_parts(options, {"games": options.games}, measure)
    print("\n".join(told_discards(parts, by_the_coach(Engine.of_card(card_named(options.card))))))


def tell_votes(options: argparse.Namespace) -> None:
    """Print what is said of going on and of stopping, and what both came to."""
    card = card_named(options.card)
    now, engine, hands = Engine.of_card(card), engine_for(options.card), hands_of(card)

    def measure(part: int) -> Part:
        return weighed(now, engine, hands, options.seats, options.deals, options.endings, (options.seed, part))

    print("\n".join(told_votes(_all_parts(options, {}, measure))))


def check(options: argparse.Namespace) -> None:
    """Have games followed by the referee, and played again in plain Python."""
    same = {"seed": options.seed, "card": options.card, "seats": "softened", "deals": options.games}
    deals, walls = _deals(argparse.Namespace(**same, endings=1, passes=6), 0)
    hands = hands_of(card_named(options.card))
    records = [recorded(hands, rack, wall)[1] for rack, wall in zip(deals.racks, walls, strict=True)]
    if options.bare:
        print(json.dumps(records))
        return
    for rack, wall, record in zip(deals.racks, walls, records, strict=True):
        held = [Counter(np.repeat(np.arange(len(seat)), seat).tolist()) for seat in rack]
        Referee(Variant.all_of(card_named(options.card)), held, wall.tolist()).follow(record)
    print(f"{len(records)} games, {sum(map(len, records))} moves: the referee has seen no foul.")
    command = ["check", "--bare", "--games", str(options.games), "--seed", str(options.seed), "--card", options.card]
    plain = subprocess.run(
        [sys.executable, "-m", "tests.bench.game", *command],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        check=True,
        text=True,
    )
    alike = json.loads(plain.stdout) == json.loads(json.dumps(records))
    print("Plain Python plays the same moves." if alike else "Plain Python plays other moves!")
    sys.exit(not alike)


def main() -> None:
    """Read the command and do it."""
    parser = argparse.ArgumentParser(description="Whole hands after the Charleston.")
    commands = parser.add_subparsers(dest="command", required=True)
    for name, does in (
        ("facts", tell_facts),
        ("racks", tell_racks),
        ("manners", tell_manners),
        ("duel", tell_duel),
        ("model", tell_model),
        ("discards", tell_discards),
        ("votes", tell_votes),
    ):
        command = commands.add_parser(name)
        command.set_defaults(does=does)
        command.add_argument("results", type=Path, help="the results file; it is gone on with if it is there")
        command.add_argument("--parts", type=int, default=20)
        command.add_argument("--deals", type=int, default=50, help="deals in a part")
        command.add_argument("--endings", type=int, default=4, help="walls that each deal is played to the end with")
        command.add_argument("--seats", choices=("softened", "coached"), default="coached")
        command.add_argument("--seed", type=int, default=1)
        command.add_argument("--card", choices=tuple(CARDS), default="practice")
        command.add_argument("--passes", type=int, choices=(3, 6), default=6, help="facts, manners: passes before play")
        if name == "duel":
            command.add_argument("--arms", nargs="+", choices=(*NOW, *STRENGTHS), default=ARMS)
        if name == "discards":
            command.add_argument("--games", nargs="+", type=int, default=GAMES, help="games of each kind, by round")
        if name == "manners":
            command.add_argument("--power", type=float, default=USUAL.power[0])
            command.add_argument("--eager", type=float, default=USUAL.eager[0])
    command = commands.add_parser("check")
    command.set_defaults(does=check)
    command.add_argument("--games", type=int, default=5)
    command.add_argument("--seed", type=int, default=1)
    command.add_argument("--card", choices=tuple(CARDS), default="practice")
    command.add_argument("--bare", action="store_true", help="print the moves and nothing else")
    options = parser.parse_args()
    options.does(options)


if __name__ == "__main__":
    main()

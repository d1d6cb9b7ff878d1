"""What the tiles that come by passes tell: which sort of seats sits at the table, and how many tiles were one's own.

    python -m tests.bench.what_comes [--deals 200] [--seed 1]

Four softened greedy seats, then four quick coached ones, play the same fresh Charlestons on the practice card and on
the first release's. Before each pass we weigh the two sorts by the tiles that came before, as Bayes would: each sort's
tendency, found on other deals, says how likely they were. Printed is the mean weight of the sort that really sits
there; 1/2 is knowing nothing. Below it stands how many of the three tiles given at one pass come back by a later one.
"""

import argparse

import numpy as np

from shared.cards import Card
from shared.cards.shipped import practice_card
from shared.coach.chance import Floats
from shared.coach.distance import JOKER_INDEX, Counts, Patterns
from shared.coach.others import BOTH, SIX_PASSES, _charlestons, _least_missed, softened_greedy
from shared.coach.passes import PASS
from shared.coach.targets import SET
from shared.rules.steps import PASSES
from shared.rules.tiles import KINDS
from tests.bench.charlestons import deal
from tests.bench.first_release.release import card as first_card

SORTS = ("softened", "coached")


def played(patterns: Patterns, racks: Counts, coached: bool, seed: int) -> tuple[Counts, Counts]:
    """Return what every seat gave and what came to it, by pass, each of shape (6, deals, 4, 36)."""
    passed, gave, came = np.zeros_like(racks), [], []
    for number, direction in enumerate(SIX_PASSES):
        if coached:
            gives = _least_missed(patterns, racks, passed, PASS * (BOTH - number))
        else:
            gives = softened_greedy(patterns, racks.reshape(-1, len(KINDS)), (seed, number)).reshape(racks.shape)
        gave.append(gives)
        came.append(np.roll(gives, int(direction), axis=1))
        racks, passed = racks - gives + came[-1], passed + gives
    return np.array(gave), np.array(came)


def evidence(came: Counts, flows: tuple[Floats, Floats]) -> Floats:
    """Return by how much what came speaks for the first flow against the second, in logs, summed up by pass."""
    likely = [np.log(flow / (flow * SET[:JOKER_INDEX]).sum(axis=1, keepdims=True)) for flow in flows]
    each = came[..., :JOKER_INDEX] * (likely[0] - likely[1])[:, None, None, :]
    total: Floats = each.sum(axis=-1).cumsum(axis=0)
    return total


def told(name: str, card: Card, deals: int, seed: int) -> list[str]:
    """Return what one card tells, in lines."""
    patterns, lines = Patterns.of_card(card), []
    flows = [_charlestons(patterns, coached=coached)[0] for coached in (False, True)]
    racks = deal(np.random.Generator(np.random.PCG64(seed)), deals)
    for coached, sort in enumerate(SORTS):
        gave, came = played(patterns, racks, bool(coached), seed)
        weight = (1 / (1 + np.exp(-evidence(came, (flows[coached], flows[1 - coached]))))).mean(axis=(1, 2))
        lines.append(f"{name}, {sort} seats: weight after each pass {' '.join(f'{each:.2f}' for each in weight)}")
        for at in range(1, BOTH):
            back = [np.minimum(gave[given], came[at]).sum(axis=2).mean() for given in range(at)]
            lines.append(f"  {PASSES[at]}: {', '.join(f'{tiles:.2f} of {PASSES[n]}' for n, tiles in enumerate(back))}")
    return lines


def main() -> None:
    """Play and print."""
    parser = argparse.ArgumentParser(description="What the tiles that come by passes tell.")
    parser.add_argument("--deals", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    for name, card in (("practice card", practice_card()), ("first release's card", first_card())):
        print("\n".join(told(name, card, options.deals, options.seed)))


if __name__ == "__main__":
    main()

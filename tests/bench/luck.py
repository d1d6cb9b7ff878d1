"""How even luck is at a table of bots: seeded heats, reviewed at all four seats, by each skill that bots can have.

    python -m tests.bench.luck [--heats 12]

Luck is what a pass brought less what the coach had reckoned; over many heats a fair reckoning comes out at none. The
four seats of a heat share a wall, so the error is that of the heats' means. The processor's time is two to three
seconds a heat and skill.
"""

import argparse
from collections import defaultdict
from typing import get_args

import numpy as np

from client.hosting.table import play_bots
from shared.cards.play import shipped_text
from shared.coach.heats import review_heat, to_review
from shared.coach.review import Review
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import SEATS
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

SEED = 20_260


def reviews(heat: SavedHeat) -> list[Review]:
    """Return a heat's reviews, one for each seat, with the numbers that a whole review has."""
    state, found = final_state(heat), []
    for seat in SEATS:
        *_, whole = review_heat(to_review(seat_heat(heat, state, seat)))
        found.append(whole)
    return found


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Luck at tables of bots, in points.")
    parser.add_argument("--heats", type=int, default=12)
    options = parser.parse_args()
    for skill in get_args(Settings.model_fields["bot_skill"].annotation):
        heats = [
            heat
            for number in range(options.heats)
            for heat in play_bots(Settings(seed=SEED + number, heats=1, bot_skill=skill), card=shipped_text())
        ]
        whole, steps = [], defaultdict[str, list[float]](list)
        for heat in heats:
            seats = reviews(heat)
            whole.append(np.mean([review.ledger.luck for review in seats if review.ledger]))
            for review in seats:
                for step in review.steps:
                    if step.verdict and step.verdict.luck is not None:
                        steps[step.lived.step.step].append(step.verdict.luck)
        error = np.std(whole, ddof=1) / len(whole) ** 0.5
        print(f"{skill}: {np.mean(whole):+.2f} +- {error:.2f} a heat, {len(whole)} heats at four seats")
        for name in STEP_NAMES:
            if luck := steps[name]:
                print(f"  {name:<16}{np.mean(luck):+6.2f} +- {np.std(luck, ddof=1) / len(luck) ** 0.5:.2f}", flush=True)


if __name__ == "__main__":
    main()

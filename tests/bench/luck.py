"""How even luck is at a table of bots, and how they vote and offer: seeded heats, reviewed at all four seats.

    python -m tests.bench.luck FILE [--skill "coach, at a glance"] [--heats 4] [--parts 12] [--seed 1]

Luck is what a pass brought less what the coach had reckoned; over many heats a fair reckoning comes out at none. The
four seats of a heat share a wall, so the error is that of the heats' means. A run is kept part by part in FILE and goes
on where it stopped; it takes four to five seconds a heat.
"""

import argparse
from collections import Counter
from pathlib import Path
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
from tests.bench.game.parts import Part, run

SKILLS = get_args(Settings.model_fields["bot_skill"].annotation)


def reviews(heat: SavedHeat) -> list[Review]:
    """Return a heat's reviews, one for each seat, with the numbers that a whole review has."""
    state, found = final_state(heat), []
    for seat in SEATS:
        *_, whole = review_heat(to_review(seat_heat(heat, state, seat)))
        found.append(whole)
    return found


def measure(skill: str, heats: int, seed: int) -> Part:
    """Return what came of heats: luck by heat, step and seat, votes by heat, offers."""
    found: Part = {"luck": [], "votes": [], "offers": []}
    for number in range(heats):
        settings = Settings(seed=seed + number, heats=1, bot_skill=skill)  # type: ignore[arg-type]
        for heat in play_bots(settings, card=shipped_text()):
            steps = [step for review in reviews(heat) for step in review.steps]
            judged = [step for step in steps if step.verdict and step.verdict.luck is not None]
            found["luck"].append([(step.lived.step.step, step.verdict.luck) for step in judged if step.verdict])
            found["votes"].append([step.lived.step.vote for step in steps if step.lived.step.vote is not None])
            found["offers"] += [step.lived.step.offer for step in steps if step.lived.step.offer is not None]
    return found


def told(values: list[float]) -> str:
    """Return a mean and its standard error."""
    return f"{np.mean(values):+.2f} +- {np.std(values, ddof=1) / len(values) ** 0.5:.2f}"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Luck and manners at tables of bots; luck in points.")
    parser.add_argument("results", type=Path)
    parser.add_argument("--skill", choices=SKILLS, default="coach, at a glance")
    parser.add_argument("--heats", type=int, default=4, help="heats in a part")
    parser.add_argument("--parts", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    settings = {name: getattr(options, name) for name in ("skill", "heats", "seed")}

    def part(number: int) -> Part:
        return measure(options.skill, options.heats, 1_000 * options.seed + options.heats * number)

    parts = list(run(options.results, settings, options.parts, part))
    heats = [heat for each in parts for heat in each["luck"]]
    means = [sum(luck for _, luck in heat) / len(SEATS) for heat in heats]
    print(f"{options.skill}: luck {told(means)} a heat, {len(heats)} heats at four seats")
    for name in STEP_NAMES:
        by_heat = [[luck for step, luck in heat if step == name] for heat in heats]
        if there := [float(np.mean(luck)) for luck in by_heat if luck]:
            print(f"  {name:<16}{told(there)}")
    votes = [vote for each in parts for vote in each["votes"] if vote]
    stopped = sum(not all(vote) for vote in votes)
    against = sum(vote.count(False) for vote in votes)
    offers = Counter(offer for each in parts for offer in each["offers"])
    print(f"heats stopped by somebody: {stopped} of {len(votes)}; votes to stop: {against} of {sum(map(len, votes))}")
    print(f"offers: {', '.join(f'{number}: {offers[number]}' for number in sorted(offers))}")


if __name__ == "__main__":
    main()

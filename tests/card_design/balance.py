"""How often each hand of a card is the likeliest one after the passes, and how often it wins then.

    python -m tests.card_design.balance [--card FILE] [--deals 3000] [--seed 1] [--record] [--settle]

prints the table of the practice card, or of another. Every seat plays six passes by the softened greedy policy; then
the hand with which the coach gives it the greatest chance to win has the rack, and hands that tie share it.
--record keeps the table of the practice card for the test that compares the two; --settle first writes the values
that follow from the measurement into the card file.
"""

import argparse
import csv
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import shared.cards
from shared.cards import Card, read_card
from shared.cards.write import write_card
from shared.coach.aims import Aim, winning
from shared.coach.chance import Play, chances, odds_for, outlook_of
from shared.coach.distance import Counts, Patterns, away
from shared.coach.others import others
from shared.rules.tiles import COPIES, KINDS
from tests.bench.charlestons import Played
from tests.bench.charlestons import play as play_charlestons

PRACTICE = Path(shared.cards.__file__).with_name("practice.toml")
RECORD = Path(__file__).with_name("balance.csv")
NEAR = 4
"""Variants this much farther than the nearest one are measured too: none beyond has been seen to be the likeliest."""
MOST_OF_A_HAND, LEAST_OF_A_HAND = 0.08, 0.001
MOST_OF_A_SECTION, LEAST_OF_A_SECTION = 0.25, 0.05

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Balance:
    """What was measured, by hand in the order of the card, each of shape (hands,).

    Attributes:
        share: the part of all racks for which the hand is the likeliest.
        chance: its mean chance for those racks.
        racks: how many racks were looked at.
    """

    share: Floats
    chance: Floats
    racks: int

    def out_of_bounds(self, card: Card) -> list[str]:
        """Return a line for each hand and section that comes too often or too seldom."""
        lines = []
        for hand, share in zip(card.hands, self.share, strict=True):
            if not LEAST_OF_A_HAND <= share <= MOST_OF_A_HAND:
                lines.append(f"{hand.id} has {100 * share:.2f}% of the racks")
        for section, share in zip(card.sections, by_section(card, self.share), strict=True):
            if not LEAST_OF_A_SECTION <= share <= MOST_OF_A_SECTION:
                lines.append(f"{section.name} has {100 * share:.2f}% of the racks")
        return lines


def by_section(card: Card, share: Floats) -> Floats:
    """Return the shares of the sections from those of the hands."""
    index = np.repeat(np.arange(len(card.sections)), [len(section.hands) for section in card.sections])
    return np.bincount(index, share).astype(np.float64)


def value_of(share: float, chance: float) -> int:
    """Return a hand's points: five more each time it is half as often both the likeliest hand and finished.

    The chance alone would reward the wrong hands: one that is the likeliest only for a rack that is nearly complete
    has a high chance then, and comes up once in an evening.

    >>> value_of(0.04, 0.25), value_of(0.02, 0.25), value_of(0.02, 0.125)
    (35, 40, 45)
    """
    return 5 * round(-float(np.log2(max(share * chance, 1e-6))))


def measure(card: Card, seed: int, deals: int) -> Balance:
    """Return the balance of a card over seeded deals."""
    patterns = Patterns.of_card(card)
    played = play_charlestons(patterns, np.random.default_rng(seed), deals)
    return balance_of(hand_chances(patterns, coachs_aim(patterns), played))


def coachs_aim(patterns: Patterns) -> Aim:
    """Return what the coach aims at once both Charlestons are played."""
    return winning(others(patterns).draws[-1])


def balance_of(by_hand: Floats) -> Balance:
    """Return the balance from the chance of every hand for every rack, shape (racks, hands)."""
    best = by_hand.max(axis=1, keepdims=True)
    likeliest = np.isclose(by_hand, best, rtol=1e-6, atol=0.0)
    part = likeliest / likeliest.sum(axis=1, keepdims=True)
    share = part.mean(axis=0)
    chance = (part * best).sum(axis=0) / np.maximum(part.sum(axis=0), 1e-12)
    return Balance(share, chance, len(by_hand))


def hand_chances(patterns: Patterns, aim: Aim, played: Played, near: int = NEAR) -> Floats:
    """Return the chance to win by each hand for each rack, 0 for those far behind the nearest; shape (racks, hands)."""
    racks, unseen = played.racks.reshape(-1, len(KINDS)), unseen_after(played).reshape(-1, len(KINDS))
    by_hand = np.zeros((len(racks), int(patterns.hand[-1]) + 1))
    for start in range(0, len(racks), 1000):
        part = slice(start, start + 1000)
        distance = away(patterns, racks[part])
        rack, variant = np.nonzero(distance <= distance.min(axis=1, keepdims=True) + near)
        found = pair_chances(patterns, aim.play, variant, racks[part][rack], unseen[part][rack])
        np.maximum.at(by_hand[part], (rack, patterns.hand[variant]), aim.worth(found[:, None], 0))
    return by_hand


def pair_chances(patterns: Patterns, play: Play, variant: NDArray[np.intp], racks: Counts, unseen: Counts) -> Floats:
    """Return the chance of each pair of variant and rack; pairs with the same outlook are worked out together."""
    result = np.empty(len(variant))
    outlooks = np.stack([unseen[:, :-1].sum(axis=1), unseen[:, -1]], axis=1)
    kinds, which = np.unique(outlooks, axis=0, return_inverse=True)
    for index in range(len(kinds)):
        rows = np.flatnonzero(which == index)
        coming = odds_for(patterns, outlook_of(unseen[rows[0]], play, 0))
        result[rows] = chances(patterns, variant[rows], racks[rows], unseen[rows], coming)
    return result


def unseen_after(played: Played) -> Counts:
    """Return how many of each kind a seat has not had: neither in its rack nor, unless it came back, passed before."""
    copies = np.array([COPIES[kind] for kind in KINDS], dtype=int)
    unseen: Counts = np.maximum(copies - played.racks.astype(int) - played.passed, 0).astype(np.uint8)
    return unseen


def record(card: Card, balance: Balance) -> list[dict[str, str]]:
    """Return the table as rows to be kept beside the test: shares and chances in per cent with three decimals."""
    variants = np.bincount(Patterns.of_card(card).hand)
    return [
        {
            "hand": hand.id,
            "groups": hand.groups,
            "variants": str(count),
            "share": f"{100 * share:.3f}",
            "chance": f"{100 * chance:.3f}",
            "value": str(value_of(share, chance)),
        }
        for hand, count, share, chance in zip(card.hands, variants, balance.share, balance.chance, strict=True)
    ]


def settle(card: Card, balance: Balance) -> Card:
    """Return the card with the values that follow from the measurement."""
    values = map(value_of, balance.share, balance.chance)
    sections = tuple(
        replace(section, hands=tuple(replace(hand, value=next(values)) for hand in section.hands))
        for section in card.sections
    )
    return replace(card, sections=sections)


def table(card: Card, balance: Balance) -> list[str]:
    """Return the balance as lines: sections with their shares, hands with share, chance and value."""
    lines, index = [f"{'hand':<61}{'variants':>9}{'share':>8}{'chance':>9}{'value':>7}"], 0
    variants = np.bincount(Patterns.of_card(card).hand)
    for section in card.sections:
        span = slice(index, index + len(section.hands))
        lines.append(f"{section.name:<61}{variants[span].sum():>9}{100 * balance.share[span].sum():>8.2f}")
        for hand in section.hands:
            share, chance = 100 * balance.share[index], 100 * balance.chance[index]
            value = value_of(balance.share[index], balance.chance[index])
            lines.append(f"  {hand.id:<11}{hand.groups:<48}{variants[index]:>9}{share:>8.2f}{chance:>9.2f}{value:>7}")
            index += 1
    return lines


def main() -> None:
    """Print the table of a card."""
    parser = argparse.ArgumentParser(description="The balance of a card.")
    parser.add_argument("--card", type=Path, default=PRACTICE)
    parser.add_argument("--deals", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--record", action="store_true")
    parser.add_argument("--settle", action="store_true")
    options = parser.parse_args()
    card = read_card(options.card.read_bytes())
    if not isinstance(card, Card):
        raise SystemExit("\n".join(str(fault) for fault in card))
    began = time.perf_counter()
    balance = measure(card, options.seed, options.deals)
    print("\n".join(table(card, balance)))
    print(f"{options.deals} deals, seed {options.seed}, {balance.racks} racks; shares and chances in per cent")
    print(f"{time.perf_counter() - began:.0f} s")
    print("\n".join(balance.out_of_bounds(card)) or "every hand and section is within its bounds")
    if options.settle:
        options.card.write_text(write_card(settle(card, balance)), encoding="utf-8")
    if options.record:
        rows = record(card, balance)
        with RECORD.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()

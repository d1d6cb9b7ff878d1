"""Pick a balanced card out of all that the grammar offers: one hand an outline, by measured shares.

    python -m tests.card_design.design --seed 1 --rounds 6

Racks are played on the card of the round before; on them every offer is measured, and hands are exchanged as long as
the shares come closer together. The picked hands are printed with their shares, and everything follows from the seed.

The practice card came out of seed 1, 7 rounds, 500 deals. Then it was read with a player's eye: eighteen hands were
exchanged for ones with nicer counts, two of them on outlines that are new since, four hands got their own list of n,
and the whole was measured again. The test of the balance checks that every shipped hand is an offer of its section.
"""

import argparse
from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.cards import Card, Hand, Section, Variant, parse_groups
from shared.cards.expand import Counts, expand_groups
from shared.coach.distance import Patterns, away
from shared.rules.tiles import KINDS
from tests.bench.charlestons import Played, play
from tests.card_design.balance import pair_chances, unseen_after
from tests.card_design.grammar import IDEAS, offers

YEAR = 2026
FLOOR = 2e-4
"""Shares below this count as this much, so that a hand without a rack has a finite price."""
ALIKE = 3.0
"""Price of two hands of one section with the same set of counts, so that the shapes differ."""
SAME_FLOWERS = 1.0
"""Price of each hand beyond two of one section with as many flowers."""
MANY_VARIANTS, EACH_MORE = 1100, 0.03
"""Price of each variant beyond so many, because the coach measures a rack against every one of them."""
COMFORT = (0.003, 0.04)
"""Shares that are left alone after the first rounds: racks follow the card, so every exchange moves the others."""
ALL_FREE = 2
"""Rounds in which every hand may be exchanged."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A hand that could be picked: its outline, counted over all sections, and its groups."""

    idea: int
    outline: int
    groups: str
    variants: int

    @property
    def shape(self) -> tuple[str, ...]:
        """Its counts in order, with a mark on flowers."""
        return tuple(("F" if word[0] == "F" else "") + word.rpartition("^")[2] for word in self.groups.split())


def all_offers() -> list[Offer]:
    """Return everything the grammar offers, by section and outline."""
    found, outline = [], 0
    for number, idea in enumerate(IDEAS):
        for row in idea.outlines:
            found += [Offer(number, outline, groups, len(wanted(groups))) for groups in offers(idea, row)]
            outline += 1
    return found


def wanted(groups: str) -> tuple[Counts, ...]:
    """Return what each variant of the groups wants."""
    return expand_groups(parse_groups(groups)[0], None, YEAR)


def card_of(picked: list[Offer]) -> Card:
    """Return picked offers as a card with made-up ids and no values."""
    sections = []
    for number, idea in enumerate(IDEAS):
        mine = [offer.groups for offer in picked if offer.idea == number]
        hands = [Hand(f"{idea.name.lower()}-{n}", idea.name, groups, False, 0) for n, groups in enumerate(mine, 1)]
        sections.append(Section(idea.name, idea.about, tuple(hands)))
    return Card("Draft", YEAR, "", tuple(sections))


def offer_chances(pool: Patterns, card: Patterns, played: Played) -> NDArray[np.float32]:
    """Return the chance of each offer for each rack, 0 where it is three tiles behind the card's nearest hand."""
    racks, unseen = played.racks.reshape(-1, len(KINDS)), unseen_after(played).reshape(-1, len(KINDS))
    result = np.zeros((len(racks), int(pool.hand[-1]) + 1), dtype=np.float32)
    for start in range(0, len(racks), 200):
        part = slice(start, start + 200)
        nearest = away(card, racks[part]).min(axis=1, keepdims=True)
        rack, variant = np.nonzero(away(pool, racks[part]) <= nearest + 2)
        found = pair_chances(pool, variant, racks[part][rack], unseen[part][rack])
        np.maximum.at(result[part], (rack, pool.hand[variant]), found.astype(np.float32))
    return result


def price(shares: NDArray[np.float64], picked: list[Offer]) -> float:
    """Return how uneven the shares are, by hand and by section, plus the prices of repetition and of size."""
    by_hand = np.log(np.maximum(shares, FLOOR) * len(picked))
    by_idea = np.bincount([offer.idea for offer in picked], shares)
    by_idea = np.log(np.maximum(by_idea, FLOOR) * len(by_idea))
    shapes = {(offer.idea, tuple(sorted(offer.shape))) for offer in picked}
    flowers = Counter((offer.idea, offer.shape[0]) for offer in picked if offer.shape[0][0] == "F")
    repeated = sum(max(count - 2, 0) for count in flowers.values())
    uneven = float((by_hand**2).sum() + 4 * (by_idea**2).sum())
    size = EACH_MORE * max(sum(offer.variants for offer in picked) - MANY_VARIANTS, 0)
    return uneven + size + ALIKE * (len(picked) - len(shapes)) + SAME_FLOWERS * repeated


def exchange(
    offers_: list[Offer],
    picked: list[int],
    slots: NDArray[np.intp],
    chance: NDArray[np.float32],
    rng: np.random.Generator,
) -> list[int]:
    """Return better picks: in each of the slots the offer with the lowest price, until nothing changes."""
    picked = list(picked)
    for _ in range(6):
        before = list(picked)
        for slot in rng.permutation(slots):
            others = chance[:, picked].copy()
            others[:, slot] = -1.0
            best, winner = others.max(axis=1), others.argmax(axis=1)
            rivals = [i for i, offer in enumerate(offers_) if offer.outline == offers_[picked[slot]].outline]
            prices = []
            for rival in rivals:
                now = np.where(chance[:, rival] > best, slot, winner)
                shares = np.bincount(now, minlength=len(picked)) / len(now)
                prices.append(price(shares, [offers_[rival if i == slot else p] for i, p in enumerate(picked)]))
            picked[slot] = rivals[int(np.argmin(prices))]
        if picked == before:
            break
    return picked


def main() -> None:
    """Design a card and print it."""
    parser = argparse.ArgumentParser(description="Design a balanced card.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=6)
    parser.add_argument("--deals", type=int, default=500)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    pool = all_offers()
    pool_patterns = Patterns.of_variants(
        [Variant(index, *counts) for index, offer in enumerate(pool) for counts in wanted(offer.groups)]
    )
    print(f"{len(pool)} offers, {len(pool_patterns)} variants")
    outlines = np.array([offer.outline for offer in pool])
    picked = [int(rng.choice(np.flatnonzero(outlines == outline))) for outline in np.unique(outlines)]
    for round_ in range(options.rounds + 1):
        card = card_of([pool[index] for index in picked])
        patterns = Patterns.of_card(card)
        played = play(patterns, rng, options.deals)
        chance = offer_chances(pool_patterns, patterns, played)
        shares = np.bincount(chance[:, picked].argmax(axis=1), minlength=len(picked)) / len(chance)
        print(
            f"round {round_}: {len(patterns)} variants, price {price(shares, [pool[i] for i in picked]):.1f}, "
            f"hands {shares.min():.4f}-{shares.max():.4f}, under 0.1%: {(shares < 0.001).sum()}",
            flush=True,
        )
        if round_ < options.rounds:
            free = (shares < COMFORT[0]) | (shares > COMFORT[1]) | (round_ < ALL_FREE)
            picked = exchange(pool, picked, np.flatnonzero(free), chance, rng)
    for index, share in zip(picked, shares, strict=True):
        print(f"{IDEAS[pool[index].idea].name:<10}{100 * share:7.2f}  {pool[index].groups}")


if __name__ == "__main__":
    main()

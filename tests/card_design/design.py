"""Pick a balanced card out of all that the grammar offers: one hand an outline, by measured shares.

    python -m tests.card_design.design --seed 1 --rounds 6

Racks are played on the card of the round before; on them every offer is measured, and hands are exchanged as long as
the shares come closer together. The picked hands are printed with their shares, and everything follows from the seed.

The practice card came out of seed 1, 6 rounds, 400 deals. Then it was read with a player's eye: fourteen hands were
exchanged for ones with plainer counts, five of them on outlines that are new since, one outline was dropped, and the
whole was measured again until every hand was within its limits. When the coach began to judge by the chance to
win, five hands had left their limits and were exchanged for other offers. The test of the balance checks that every
shipped hand is an offer of its section.
"""

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from shared.cards import Card, Hand, Section, Variant
from shared.cards.expand import expand_hand
from shared.cards.hand_names import bare_name
from shared.cards.write import write_card
from shared.coach.distance import Patterns, away
from shared.rules.tiles import KINDS
from tests.bench.charlestons import Played, play
from tests.card_design.balance import coachs_aim, pair_chances, unseen_after
from tests.card_design.grammar import IDEAS, offers, reads_well

YEAR = 2026
FLOOR = 2e-4
"""Shares below this count as this much, so that a hand without a rack has a finite price."""
ALIKE = 3.0
"""Price of two hands of one section with the same sizes, and of two hands that would be called the same."""
TOO_MANY_FLOWERS = 6.0
"""Price of each hand with flowers beyond half of the card, and of each with three or more beyond a fifth."""
MANY_VARIANTS, EACH_MORE = 1500, 0.04
"""Price of each variant beyond so many, because the coach measures a rack against every one of them."""
COMFORT = (0.003, 0.04)
"""Shares that are left alone after the first rounds: racks follow the card, so every exchange moves the others."""
ALL_FREE = 2
"""Rounds in which every hand may be exchanged."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A hand that could be picked: its idea and outline, counted over all sections, and how it would be called."""

    idea: int
    outline: int
    hand: Hand
    name: str
    variants: int
    flowers: int

    @property
    def shape(self) -> tuple[int, ...]:
        """The sizes of its groups, flowers apart."""
        words = self.hand.groups.split()
        return (self.flowers, *sorted(int(word.rpartition("^")[2]) for word in words if word[0] != "F"))


def all_offers() -> list[Offer]:
    """Return everything the grammar offers that reads well, by section and outline."""
    found, outline = [], 0
    for number, idea in enumerate(IDEAS):
        for row in idea.outlines:
            for candidate in offers(idea, row):
                hand = candidate.as_hand("h", idea.name)
                if reads_well(hand, YEAR):
                    name, size = bare_name(hand, YEAR), len(expand_hand(hand, YEAR))
                    found.append(Offer(number, outline, hand, name, size, flowers_of(hand)))
            outline += 1
    return found


def flowers_of(hand: Hand) -> int:
    """Return how many flowers a hand wants."""
    return sum(int(word.rpartition("^")[2]) for word in hand.groups.split() if word.startswith("F^"))


def card_of(picked: list[Offer]) -> Card:
    """Return picked offers as a card with made-up ids and no values of their own."""
    sections = []
    for number, idea in enumerate(IDEAS):
        mine = [offer.hand for offer in picked if offer.idea == number]
        hands = [replace(hand, id=f"h{number}-{n}", section=idea.name) for n, hand in enumerate(mine)]
        sections.append(Section(idea.name, idea.about, tuple(hands)))
    return Card("Draft", YEAR, "", tuple(sections), share=True)


def offer_chances(pool: Patterns, card: Patterns, played: Played) -> NDArray[np.float32]:
    """Return the chance of each offer for each rack, 0 where it is three tiles behind the card's nearest hand."""
    racks, unseen = played.racks.reshape(-1, len(KINDS)), unseen_after(played).reshape(-1, len(KINDS))
    result = np.zeros((len(racks), int(pool.hand[-1]) + 1), dtype=np.float32)
    game = coachs_aim(card).play
    for start in range(0, len(racks), 200):
        part = slice(start, start + 200)
        nearest = away(card, racks[part]).min(axis=1, keepdims=True)
        rack, variant = np.nonzero(away(pool, racks[part]) <= nearest + 2)
        found = pair_chances(pool, game, variant, racks[part][rack], unseen[part][rack])
        np.maximum.at(result[part], (rack, pool.hand[variant]), found.astype(np.float32))
    return result


def price(shares: NDArray[np.float64], picked: list[Offer]) -> float:
    """Return how uneven the shares are, by hand and by section, plus the prices of repetition, flowers and size."""
    by_hand = np.log(np.maximum(shares, FLOOR) * len(picked))
    by_idea = np.bincount([offer.idea for offer in picked], shares)
    by_idea = np.log(np.maximum(by_idea, FLOOR) * len(by_idea))
    uneven = float((by_hand**2).sum() + 4 * (by_idea**2).sum())
    shapes = len(picked) - len({(offer.idea, offer.shape) for offer in picked})
    names = len(picked) - len({offer.name for offer in picked})
    flowers = max(sum(offer.flowers > 0 for offer in picked) - len(picked) // 2, 0)
    many = max(sum(offer.flowers > 2 for offer in picked) - len(picked) // 5, 0)
    size = max(sum(offer.variants for offer in picked) - MANY_VARIANTS, 0)
    return uneven + EACH_MORE * size + ALIKE * (shapes + names) + TOO_MANY_FLOWERS * (flowers + many)


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
    parser.add_argument("--write", type=Path, help="a file for the card, to be read and settled")
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    pool = all_offers()
    pool_patterns = Patterns.of_variants(
        [Variant(index, *counts) for index, offer in enumerate(pool) for counts in expand_hand(offer.hand, YEAR)],
        [index for index, offer in enumerate(pool) if offer.hand.concealed],
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
        print(f"{IDEAS[pool[index].idea].name:<14}{100 * share:7.2f}  {pool[index].name:<33}{pool[index].hand.groups}")
    if options.write:
        options.write.write_text(write_card(card_of([pool[index] for index in picked])), encoding="utf-8")


if __name__ == "__main__":
    main()

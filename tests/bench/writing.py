"""How many keys it takes to write a hand of one's own: its tiles, a choice, and turns where no proposal is right.

    python -m tests.bench.writing [--seed 1]

The sixty hands of invented.toml are written through the model of the card writer: a random example is typed letter by
letter, the right proposal is chosen (one key for each step down the list, one to take it), and where none is right the
shortest way of turning groups is looked for (one key to go to a group, one for each turn). A screen can need more.
"""

import argparse
import random
from collections import deque

from shared.cards.card import Card, Hand
from shared.cards.draft import Draft
from shared.cards.expand import Counts, Pattern, counts_of, expand_pattern, instances, is_possible, pattern_of
from shared.cards.picture import draw
from shared.cards.writer import Writer
from tests.bench.guessing import INVENTED, load

MOST_TRIED = 1_500
MOST_TURNED = 12
ENTER = 1


def keys_of(hand: Hand, card: Card, dice: random.Random) -> int | None:
    """Return how many keys a hand takes; None if its example does not lead to it."""
    pattern, total = pattern_of(hand), 0
    for number, row in enumerate(pattern.rows):
        sizes = tuple(group.count for group in row)
        every = [
            tiles
            for tiles in instances(row, pattern.n, card.year, pattern.m)
            if is_possible(counts_of(tiles, sizes, pattern.jokers))
        ]
        line = draw(row, dice.choice(every), card.year).text(between=" ")
        writer = Writer(Draft("Pier", card.year)).type(line)
        writer = writer if pattern.jokers else writer.turn_jokers()
        wanted = frozenset(expand_pattern(Pattern((row,), pattern.n, pattern.m, pattern.jokers), card.year))
        found = steps(writer, wanted)
        if found is None:
            return None
        total += len(line) + found + ENTER + (not pattern.jokers) + (number > 0)
    more = (hand.concealed, hand.value != 25 or hand.values)
    return (
        total
        + sum(map(bool, more))
        + (len(str(hand.value)) if more[1] else 0)
        + (len(hand.note) + 1 if hand.note else 0)
    )


def steps(writer: Writer, wanted: frozenset[Counts]) -> int | None:
    """Return how many keys lead from the typed example to what is wanted: choosing, then turning."""
    chosen = [writer.choose(place) for place in range(len(writer.proposals))]
    for place, each in enumerate(chosen):
        if wants(each) == wanted:
            return place + ENTER
    tried: set[object] = set()
    ways = deque((each, place + ENTER) for place, each in enumerate(chosen))
    while ways and len(tried) < MOST_TRIED:
        here, cost = ways.popleft()
        shown = here.here_row.chosen if here.here_row else None
        if shown is None or shown.groups in tried or cost > MOST_TURNED:
            continue
        tried.add(shown.groups)
        if wants(here) == wanted:
            return cost
        for group in range(len(shown.groups)):
            there = here.to_group(group - here.group)
            ways.extend((there.turn(what), cost + (group != here.group) + 1) for what in there.turns)
    return None


def wants(writer: Writer) -> frozenset[Counts]:
    """Return the variants of the line being written."""
    pattern = writer.here.pattern if writer.here else None
    return frozenset(expand_pattern(pattern, writer.draft.year)) if pattern else frozenset()


def main() -> None:
    """Print the keys of each hand, and their median."""
    parser = argparse.ArgumentParser(description="How many keys it takes to write a hand.")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    card, dice = load(INVENTED), random.Random(options.seed)
    counted = []
    for hand in card.hands:
        keys = keys_of(hand, card, dice)
        counted.append(keys)
        print(f"{keys if keys is not None else 'none':>5}  {hand.groups}")
    known = sorted(keys for keys in counted if keys is not None)
    print(f"{len(known)} of {len(counted)} hands written; keys: median {known[len(known) // 2]}, most {known[-1]}")


if __name__ == "__main__":
    main()

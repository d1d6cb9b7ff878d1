"""How often the freedom that a hand has is among the first guesses from a random example of it.

    python -m tests.bench.guessing [--card FILE] [--examples 60] [--seed 1]

Without --card two sets are measured: the practice card, with which the order of the guesses was made, and the hands of
invented.toml, which had no part in it. An example is a random variant, typed in the order of the hand's groups.
"""

import argparse
import random
from collections import Counter
from pathlib import Path

from shared.cards import Card, Section, practice_card, read_card
from shared.cards.expand import counts_of, expand_groups, instances, is_possible, pattern_of
from shared.cards.faces import Groups, YearDigit
from shared.cards.guess import guess

INVENTED = Path(__file__).with_name("invented.toml")


def place_of(row: Groups, tiles: tuple[str, ...], card: Card, hand: int) -> int:
    """Return at which place, from 1, the guesses from one example have the row itself; 0 if they do not."""
    pattern = pattern_of(card.hands[hand])
    true = frozenset(expand_groups(row, pattern.n, card.year, pattern.m, pattern.jokers))
    typed = [(tile, group.count) for tile, group in zip(tiles, row, strict=True)]
    proposals = guess(typed, card.year, years_in(row), pattern.jokers)  # type: ignore[arg-type]
    for place, proposal in enumerate(proposals, 1):
        guessed = proposal.pattern
        if frozenset(expand_groups(guessed.rows[0], guessed.n, card.year, guessed.m, guessed.jokers)) == true:
            return place
    return 0


def years_in(row: Groups) -> tuple[int, ...]:
    """Return where the four digits of the year stand one after another, as somebody types them together."""
    places = [group.face.place if isinstance(group.face, YearDigit) and group.count == 1 else 0 for group in row]
    return tuple(at for at in range(len(places)) if places[at : at + 4] == [1, 2, 3, 4])


def measure(card: Card, examples: int, seed: int) -> list[Counter[int]]:
    """Return for each hand how often its own freedom stood at which place of the guesses."""
    dice = random.Random(seed)
    result = []
    for number, hand in enumerate(card.hands):
        pattern, places = pattern_of(hand), Counter[int]()
        for row in pattern.rows:
            sizes = tuple(group.count for group in row)
            every = [
                tiles
                for tiles in instances(row, pattern.n, card.year, pattern.m)
                if is_possible(counts_of(tiles, sizes, pattern.jokers))
            ]
            for _ in range(examples // len(pattern.rows)):
                places[place_of(row, dice.choice(every), card, number)] += 1
        result.append(places)
    return result


def among(places: Counter[int], first: int) -> float:
    """Return the share of examples with the true freedom among the first so many guesses."""
    return sum(count for place, count in places.items() if 0 < place <= first) / places.total()


def show(title: str, sections: tuple[Section, ...], found: list[Counter[int]], each: bool) -> None:
    """Print the shares of a set of hands: all of them, each section, and the hands below 95%."""
    total: Counter[int] = Counter()
    at = 0
    print(f"{title:<40}{'hands':>6}{'first':>8}{'first 4':>9}{'first 8':>9}")
    for section in sections:
        mine = sum(found[at : at + len(section.hands)], Counter())
        total += mine
        if each:
            row(f"  {section.name}", len(section.hands), mine)
        for hand, places in zip(section.hands, found[at:], strict=False):
            if each and among(places, 4) < 0.95:
                print(f"      {100 * among(places, 4):3.0f}%  {hand.groups}  {hand.n or ''}")
        at += len(section.hands)
    row("  all", at, total)


def row(title: str, hands: int, places: Counter[int]) -> None:
    """Print one row of shares."""
    print(f"{title:<40}{hands:>6}{among(places, 1):>8.1%}{among(places, 4):>9.1%}{among(places, 8):>9.1%}")


def load(path: Path) -> Card:
    """Return the card in a file."""
    card = read_card(path.read_bytes())
    if not isinstance(card, Card):
        raise SystemExit("\n".join(map(str, card)))
    return card


def main() -> None:
    """Print how good the guesses are."""
    parser = argparse.ArgumentParser(description="How good the guesses of a hand's freedom are.")
    parser.add_argument("--card", type=Path)
    parser.add_argument("--examples", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    cards = [load(options.card)] if options.card else [practice_card(), load(INVENTED)]
    for card in cards:
        found = measure(card, options.examples, options.seed)
        show(card.title, card.sections, found, each=True)
        if card.title == "Pier evening":
            plain = sum(len(section.hands) for section in card.sections[:8])
            show("  of these, what any card says", card.sections[:8], found[:plain], each=False)
            show("  and what few cards say", card.sections[8:], found[plain:], each=False)


if __name__ == "__main__":
    main()

"""A card as plain lines for a terminal of 80 columns or a sheet of paper. No colour, no screen, no file."""

from textwrap import wrap

from shared.cards.card import Card, Hand
from shared.cards.expand import expand_hand
from shared.rules.tiles import KINDS

WIDTH = 80

LEGEND = (
    "A group is a face, ^ and how many of it.",
    "5.p        rank 5 in a suit; p, q and r are different suits of your choice",
    "n.p n+2.q  a rank of your choice, and one two higher",
    "D(p)       the dragon that goes with suit p: bam green, crak red, dot white",
    "R G O      red, green, white dragon; white is also the zero of a year",
    "N E W S    a wind; X and Z are two different winds of your choice",
    "Y1.p       the first digit of the year in suit p, and so on to Y4",
    "F          flower",
    "Jokers fill groups of three and more, never a single or a pair.",
    "C          concealed: nothing may be shown before the hand is complete",
)


def show(card: Card) -> list[str]:
    """Return the card as lines of at most 80 characters: each hand's notation, value, id and one example."""
    lines = [
        f"{card.title}, {card.year}",
        "=" * len(f"{card.title}, {card.year}"),
        *wrap(card.note, WIDTH),
        "",
    ]
    lines += LEGEND
    for section in card.sections:
        lines += ["", section.name, "-" * len(section.name), *wrap(section.about, WIDTH)]
        for hand in section.hands:
            lines += ["", *_show_hand(hand, card.year)]
    return lines


def _show_hand(hand: Hand, year: int) -> list[str]:
    lines = wrap(hand.groups, 60, initial_indent="  ", subsequent_indent="    ")
    lines[0] = f"{lines[0]:<62}value {hand.value:>3}" + (" C" if hand.concealed else "")
    own_n = [f"n = {', '.join(map(str, hand.n))}"] if hand.n else []
    facts = [hand.id, *own_n, f"such as {example(hand, year)}"]
    return [*lines, *wrap("; ".join(facts), WIDTH, initial_indent="    ", subsequent_indent="    ")]


def example(hand: Hand, year: int) -> str:
    """Return the hand's first variant in tile codes, each kind once with its count: "2F 3x1b 4x2b 5x3b"."""
    pairs, larger = expand_hand(hand, year)[0]
    return " ".join(
        f"{kind}x{pair + group}" for kind, pair, group in zip(KINDS, pairs, larger, strict=True) if pair + group
    )

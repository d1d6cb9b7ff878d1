"""A card as plain lines for a terminal of 80 columns or a sheet of paper. No colour, no screen, no file."""

from textwrap import wrap

from shared.cards.card import Card, Hand
from shared.cards.tell import ToldHand, tell

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
)

FILE_LEGEND = (
    "m.p 10-n.p n+m.q   a second free rank, two ranks that add up to 10, a sum",
    "x y  b c d         a suit that may be any other's too, a suit called by name",
    "A B C  D(-p)       some dragon; a dragon that does not go with suit p",
    "or                 stands between two ways to play one hand",
    "",
    "A card's file is TOML. A hand is a text, or a table with whatever else it has:",
    "",
    "    [card]",
    '    title = "Pier evening"',
    "    year = 2026",
    "",
    "    [[section]]",
    '    name = "Waves"',
    "    hand = [",
    '        "F^4 n.p^3 n+1.p^4 n+2.p^3",',
    '        {groups = "F^6 n.p^4 n.q^4", n = [2, 4], value = 30, concealed = true},',
    "    ]",
    "",
    "Other fields: jokers = false, note, m; a section can have about, a card note.",
)


def show(card: Card, notation: bool = False) -> list[str]:
    """Return the card as lines of at most 80 characters: each hand's name, value, tiles and words.

    With notation the id and the groups of each hand follow, as a card's file writes them.
    """
    heading = f"{card.title}, {card.year}"
    lines = [heading, "=" * len(heading), *wrap(card.note, WIDTH)]
    if notation:
        lines += ["", *LEGEND, *FILE_LEGEND]
    tellings = iter(tell(card))
    for section in card.sections:
        lines += ["", section.name, "-" * len(section.name), *wrap(section.about, WIDTH)]
        for hand in section.hands:
            lines += ["", *_shown(hand, next(tellings)), *(_notation(hand) if notation else ())]
    return lines


def _shown(hand: Hand, telling: ToldHand) -> list[str]:
    values = " or ".join(dict.fromkeys(str(row.value) for row in telling.rows))
    more = ["concealed"] * hand.concealed + ([hand.note] if hand.note else [])
    return [
        f"  {telling.name:<{WIDTH - 20}}value {values:>3}",
        *(f"    {line}" for line in telling.lines(WIDTH - 4)),
        *_indented(", ".join(more)),
    ]


def _notation(hand: Hand) -> list[str]:
    free = [f"{letter} = {', '.join(map(str, ranks))}" for letter, ranks in (("n", hand.n), ("m", hand.m)) if ranks]
    return _indented("; ".join([hand.id, hand.groups, *free]))


def _indented(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent="    ", subsequent_indent="      ", break_on_hyphens=False)

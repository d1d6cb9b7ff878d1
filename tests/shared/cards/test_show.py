"""A card on a terminal or on paper: every hand, in plain lines of at most 80 characters."""

import pytest

from shared.cards import Card, Hand, Section, first_evening_card, practice_card, show
from shared.cards.show import example

CARDS = [practice_card(), first_evening_card()]


@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_every_line_fits_eighty_columns_of_plain_ascii(card: Card) -> None:
    assert all(len(line) <= 80 and line.isascii() and (line == "" or line.isprintable()) for line in show(card))


@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_every_hand_stands_under_its_section_with_its_value(card: Card) -> None:
    lines = show(card)
    for section in card.sections:
        heading = lines.index(section.name)
        for hand in section.hands:
            mark = " C" if hand.concealed else ""
            rows = [i for i, line in enumerate(lines) if line.split("  ")[1:2] == [hand.groups]]
            assert len(rows) == 1
            assert rows[0] > heading
            assert lines[rows[0]].endswith(f"value {hand.value:>3}{mark}")
            assert lines[rows[0] + 1].startswith(f"    {hand.id}; ")


def test_a_hand_with_its_own_n_and_a_long_line_says_so() -> None:
    groups = "n+1.p^1 n+2.p^1 n+3.p^1 n+4.p^1 n+5.p^1 n+6.p^1 n+1.q^1 n+2.q^1 n+3.q^1 n+4.q^1 n+5.q^1 n+6.q^1 F^2"
    hand = Hand("long", "One", groups, True, 60, (1, 3))
    lines = show(Card("Boathouse", 2026, "", (Section("One", "Invented.", (hand,)),)))
    at = next(i for i, line in enumerate(lines) if line.endswith("value  60 C"))
    assert " ".join(line.split("  value  60")[0].strip() for line in lines[at : at + 2]) == groups
    assert lines[at + 2].strip().startswith("long; n = 1, 3; such as 2bx1 3bx1")


def test_the_example_is_a_variant_in_tile_codes() -> None:
    hand = Hand("a", "One", "F^2 n.p^3 n+1.p^4 D(p)^5", False, 25)
    assert example(hand, 2026) == "1bx3 2bx4 Gx5 Fx2"

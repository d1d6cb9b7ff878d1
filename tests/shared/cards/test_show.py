"""A card on a terminal or on paper: every hand by name, tiles and words, in plain lines of at most 80 characters."""

import re

import pytest

from shared.cards import Card, Hand, Section, first_evening_card, practice_card, read_card, show, tell

CARDS = [practice_card(), first_evening_card()]
NOTATION = re.compile(r"\^|\b[nm][+-]?\d?\.[pqr]|\b[pqr]\^|D\(")


@pytest.mark.parametrize("notation", [False, True])
@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_every_line_fits_eighty_columns_of_plain_ascii(card: Card, notation: bool) -> None:
    lines = show(card, notation)
    assert all(len(line) <= 80 and line.isascii() and (line == "" or line.isprintable()) for line in lines)


@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_every_hand_stands_under_its_section_with_value_tiles_and_words(card: Card) -> None:
    lines, tellings = show(card), iter(tell(card))
    for section in card.sections:
        heading = lines.index(section.name)
        for hand in section.hands:
            telling = next(tellings)
            row = next(
                number
                for number, line in enumerate(lines)
                if re.fullmatch(rf"  {re.escape(telling.name)} +value .*", line)
            )
            assert row > heading
            assert lines[row].endswith(f"value {hand.value:>3}")
            assert lines[row + 1].strip() == telling.tiles
            words = " ".join(line.strip() for line in lines[row + 2 : row + 5])
            assert words.startswith(f"{telling.words} concealed" if hand.concealed else telling.words)


@pytest.mark.parametrize("card", CARDS, ids=lambda card: card.title)
def test_notation_and_ids_stand_only_where_they_are_asked_for(card: Card) -> None:
    plain, whole = "\n".join(show(card)), "\n".join(show(card, notation=True))
    assert not NOTATION.search(plain)
    assert not any(re.search(rf"\b{re.escape(hand.id)}\b", plain) for hand in card.hands)
    flat = " ".join(whole.split())
    assert all(f"{hand.id}; {hand.groups}" in flat for hand in card.hands)


def test_ways_notes_and_free_ranks_are_tell() -> None:
    groups = "F^4 n.p^3 n+1.p^4 n+2.p^3 or F^4 n.p^3 n+1.q^4 n+2.r^3"
    hand = Hand("wave", "One", groups, concealed=True, value=60, n=(1, 3), note="Pier rules.")
    card = Card("Boathouse", 2026, "", (Section("One", "Invented.", (hand,)),))
    lines = show(card, notation=True)
    assert [line.strip() for line in lines if "FFFF" in line] == [
        "FFFF  111b  2222b  333b",
        "or  FFFF  111b  2222c  333d",
    ]
    assert "concealed, Pier rules." in " ".join(lines)
    assert "n = 1, 3" in " ".join(" ".join(lines).split())


def test_the_example_of_a_file_is_a_card_that_can_be_read() -> None:
    lines = [line.removeprefix("    ") for line in show(practice_card(), notation=True) if line.startswith("    ")]
    start = lines.index("[card]")
    example = "\n".join(lines[start : lines.index("]", start) + 1])
    card = read_card(example.encode())
    assert isinstance(card, Card), card
    assert [hand.value for hand in card.hands] == [25, 30]

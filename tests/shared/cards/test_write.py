"""Cards as text: what is written is read again, a plain hand is one line, and a draft keeps what is open."""

from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, Hand, Section, first_evening_card, practice_card, read_card
from shared.cards.draft import Draft, DraftLine, DraftRow, DraftSection, draft_of, read_draft, text_of
from shared.cards.write import quoted, write_card
from tests.bench.guessing import INVENTED, load
from tests.shared.cards.random_hands import YEAR, hands
from tests.shared.cards.test_hand_names import card_of

cards = st.integers(0, 2**32).map(lambda seed: card_of(list(islice(hands(seed), 6))))
HEAD = '[card]\ntitle = "Pier"\nyear = 2026\nshare = false\n'


@settings(max_examples=30, deadline=None)
@given(cards)
def test_a_card_that_is_written_is_read_again(card: Card) -> None:
    assert read_card(write_card(card).encode()) == Card(
        card.title,
        card.year,
        card.note,
        tuple(
            Section(
                section.name,
                section.about,
                tuple(Hand(**{**fields(hand), "section": section.name}) for hand in section.hands),  # type: ignore[arg-type]
            )
            for section in card.sections
        ),
        card.share,
    )


def fields(hand: Hand) -> dict[str, object]:
    return {name: getattr(hand, name) for name in Hand.__dataclass_fields__}


@pytest.mark.parametrize("card", [practice_card(), first_evening_card(), load(INVENTED)], ids=lambda card: card.title)
def test_whole_cards_come_back_and_so_do_their_drafts(card: Card) -> None:
    assert read_card(write_card(card).encode()) == card
    draft = draft_of(card)
    assert draft.open() == {}
    assert draft.card() == card
    assert read_draft(text_of(draft).encode()) == draft


def test_a_plain_hand_is_one_line() -> None:
    section = Section("Waves", "", ())
    card = read_card(
        (HEAD + '\n[[section]]\nname = "Waves"\nhand = ["F^2 n.p^3 n+1.p^4 n+2.p^5", "F^8 N^6"]\n').encode()
    )
    assert isinstance(card, Card)
    text = write_card(card)
    assert section.name in text
    assert text.endswith('hand = [\n    "F^2 n.p^3 n+1.p^4 n+2.p^5",\n    "F^8 N^6",\n]\n')


@given(st.text(max_size=60))
def test_any_text_can_stand_in_a_file(note: str) -> None:
    import tomllib

    assert tomllib.loads(f"note = {quoted(note)}") == {"note": note}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.text(st.characters(exclude_categories=["C", "Z"]), max_size=30), max_size=4), cards)
def test_lines_that_are_open_are_kept_where_they_stand(typed: list[str], card: Card) -> None:
    lines = list(draft_of(card).sections[0].lines)
    for number, text in enumerate(typed):
        lines.insert(2 * number, DraftLine((DraftRow(text),)))
    draft = Draft("Pier", YEAR, "", False, (DraftSection("One", "", tuple(lines)),))
    read = read_draft(text_of(draft).encode())
    assert isinstance(read, Draft)
    assert [[row.typed for row in line.rows] for line in read.sections[0].lines] == [
        [row.typed for row in line.rows] for line in lines
    ]
    assert [line.pattern for line in read.sections[0].lines] == [line.pattern for line in lines]


def test_a_card_with_open_lines_is_no_card_yet_and_says_which_they_are() -> None:
    draft = Draft("Pier", 2026, "", False, (DraftSection("One", "", (DraftLine((DraftRow("FFFF 11b"),)),)),))
    assert draft.card() is None
    read = read_card(text_of(draft).encode())
    assert not isinstance(read, Card)
    assert [str(fault) for fault in read] == [
        "section One: Line 1 is open: 'FFFF 11b'. Finish it with the card writer, or delete it."
    ]
    assert draft.open() == {(0, 0): ("There are 6 of 14 tiles. Type the others.",)}


def test_faults_in_a_file_edited_by_hand_stand_at_their_hands() -> None:
    broken = HEAD + '\n[[section]]\nname = "One"\nhand = ["F^2 k^12"]\nopen = [{line = 0, tiles = 3}]\n'
    read = read_draft(broken.encode())
    assert not isinstance(read, Draft)
    assert [fault.place for fault in read] == ["section One", "section One", "section One, hand #1, column 5"]

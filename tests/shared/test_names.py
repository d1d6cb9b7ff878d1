"""A name is short plain text, whatever somebody types into it."""

import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from rich.cells import cell_len

from shared.names import NAME_CELLS, cell_width, clean_name, skeleton, too_long

ANYTHING = st.text(st.characters(), max_size=200)
NASTY = st.text(
    st.sampled_from(
        "aZ \t\n\r\x00\x1b\x7f\x9b[]/\\漢字👩🏽é한\u0301\u0327\u200b\u200d\u202e\u2066\ufeff\ufe0f\u3164\ue000\ud800"
    ),
    max_size=60,
)


@given(ANYTHING | NASTY)
@example("\x1b]0;title\x07\x1b[2J")
@example("a" + "\u0301" * 50)
@example("\u0301\u0301 \u0301x")
def test_no_character_of_a_name_can_act_or_hide(text: str) -> None:
    name = clean_name(text)
    assert not any(unicodedata.category(char).startswith(("C", "Zl", "Zp")) for char in name)
    assert all(char == " " or not char.isspace() for char in name)
    assert "  " not in name
    assert name == name.strip()


@given(ANYTHING | NASTY)
@example("Annabelle of the Boathouse")
@example("\u754c" * 20)
def test_a_name_takes_at_most_sixteen_cells_also_by_the_screens_own_count(text: str) -> None:
    name = clean_name(text)
    assert sum(map(cell_width, name)) <= NAME_CELLS
    assert cell_len(name) <= NAME_CELLS


@given(ANYTHING | NASTY)
def test_cleaning_a_clean_name_changes_nothing(text: str) -> None:
    once = clean_name(text)
    assert clean_name(once) == once
    assert unicodedata.is_normalized("NFC", once)


@given(ANYTHING | NASTY)
@example("a" + "\u0301\u0327" * 9)
def test_marks_never_pile_up(text: str) -> None:
    marks = 0
    for char in clean_name(text):
        marks = marks + 1 if unicodedata.category(char) in ("Mn", "Me") else 0
        assert marks <= 2


@given(st.text(st.characters(categories=["Lu", "Ll"], max_codepoint=0x24F), min_size=1, max_size=16))
def test_an_ordinary_name_stays_as_it_is(text: str) -> None:
    assert clean_name(text) == unicodedata.normalize("NFC", text)


@pytest.mark.parametrize("text", ["", "   ", "\x00\x1b", "\u200b\u200d", "\u0301", "\u3164\u2800", "\ue000"])
def test_nothing_left_becomes_what_the_caller_says(text: str) -> None:
    assert clean_name(text, "Guest") == "Guest"


def test_markup_stays_text() -> None:
    assert clean_name("[red]Ann[/red]") == "[red]Ann[/red]"


def test_wide_letters_take_two_cells_and_fill_a_name_all_the_same() -> None:
    assert clean_name("界" * 20) == "界" * 8
    assert clean_name("a" + "界" * 20) == "a" + "界" * 7


@pytest.mark.parametrize("selector", ["\ufe00", "\ufe0f", "\U000e0100", "\U000e01ef"])
def test_what_chooses_another_picture_for_a_letter_is_dropped(selector: str) -> None:
    assert clean_name(f"A{selector}nn") == "Ann"


@pytest.mark.parametrize("text", ["Ann", " Ann  of the  Boat", "Zoe", "界" * 8])
def test_a_name_that_has_room_is_not_told_that_it_would_be_cut(text: str) -> None:
    assert too_long(text) == ""


@pytest.mark.parametrize("text", ["Ann of the Boathouse", "界" * 9])
def test_a_name_that_would_be_cut_is_told_what_would_be_left(text: str) -> None:
    assert f'"{clean_name(text)}"' in too_long(text)


def test_accents_case_and_punctuation_make_no_other_name_but_letters_do() -> None:
    assert skeleton("Ánn") == skeleton("a.N n") == skeleton("Ann")
    assert skeleton("Ann") != skeleton("Nan")
    assert skeleton("Hob") != skeleton("Bob")

"""No text is taken for a formula, whichever of the signs that look alike it begins with."""

import csv
import io
import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from client.reports.csv_cell import safe_cell

SIGNS = "=+-@"
ALIKE = [char for char in map(chr, range(0x110000)) if unicodedata.normalize("NFKC", char)[:1] in (*SIGNS, "\u2212")]
"""Every character of Unicode that compatibility makes a sign or the mathematical minus."""
NAMED = "\ufe66\uff1d\uff0b\uff0d\uff20\u2212\ufe62\ufe63\ufe6b\u2010\u2011\u2013\u2014"
UNSEEN = ["", " ", "\t", "\r", "\n", "\u00a0", "\u3000", "\u200b", "\ufeff", "\u202e", "\x00", "\u0301"]
ordinary = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=8)


def test_the_signs_that_are_known_to_be_alike_are_among_those_that_are_tried() -> None:
    assert {*SIGNS, *"\ufe66\uff1d\uff0b\uff0d\uff20\u2212"} <= set(ALIKE)
    assert len(ALIKE) > 15


@pytest.mark.parametrize("char", sorted({*ALIKE, *NAMED}))
@pytest.mark.parametrize("before", UNSEEN)
def test_a_sign_gets_an_apostrophe_whatever_unseen_stands_before_it(char: str, before: str) -> None:
    assert safe_cell(f"{before}{char}1+1").startswith("'")


@given(st.text(max_size=20) | st.text([*ALIKE, *UNSEEN[1:], "'", "a"], max_size=8))
@example("\t=1")
@example("'=1")
def test_no_cell_begins_with_a_sign_a_tab_or_an_end_of_a_line(text: str) -> None:
    cell = safe_cell(text)
    written = io.StringIO(newline="")
    csv.writer(written).writerow([cell, "end"])
    assert next(csv.reader(io.StringIO(written.getvalue(), newline=""))) == [cell, "end"]
    shown = unicodedata.normalize("NFKC", cell)
    assert not cell or cell[0].isprintable()
    assert shown[:1] not in {*SIGNS, "\u2212", "\t", "\r", "\n"}


@given(ordinary, st.text(max_size=8))
def test_text_that_begins_with_a_letter_or_a_digit_gets_no_apostrophe(start: str, rest: str) -> None:
    assert not safe_cell(start + rest).startswith("'")


def test_an_apostrophe_of_ones_own_is_told_apart_from_the_guards() -> None:
    assert safe_cell("'=1") != safe_cell("=1")

"""Dots in cells, and round numbers for an axis."""

import unicodedata
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.reports.dots import Dots, ticks


@given(st.integers(0, 3), st.integers(0, 7))
def test_a_dot_is_the_one_that_unicode_names(x: int, y: int) -> None:
    dots = Dots(2, 2, plain=False)
    dots.put(x, y)
    number = (1, 2, 3, 7, 4, 5, 6, 8)[x % 2 * 4 + y % 4]
    cells = dots.rows()
    assert unicodedata.name(cells[y // 4][x // 2]) == f"BRAILLE PATTERN DOTS-{number}"
    assert sum(cell != " " for row in cells for cell in row) == 1


@pytest.mark.parametrize(("count", "mark"), [(0, " "), (1, "."), (2, "o"), (3, "8"), (4, "@"), (9, "@")])
def test_in_ascii_a_mark_counts(count: int, mark: str) -> None:
    dots = Dots(1, 1, plain=True)
    for _ in range(count):
        dots.put(0, 0)
    assert dots.rows() == [[mark]]


@given(st.tuples(st.integers(0, 99), st.integers(0, 99)), st.tuples(st.integers(0, 99), st.integers(0, 99)))
def test_a_line_has_both_its_ends_and_as_many_dots_as_its_longer_side(
    start: tuple[int, int], end: tuple[int, int]
) -> None:
    dots = Dots(100, 100, plain=True)
    dots.line(start, end)
    cells = dots.rows()
    assert cells[start[1]][start[0]] != " " != cells[end[1]][end[0]]
    longer = max(abs(start[0] - end[0]), abs(start[1] - end[1]))
    assert sum(cell != " " for row in cells for cell in row) == longer + 1


@given(st.floats(0, 500), st.floats(0.1, 500), st.integers(1, 12))
def test_an_axis_has_few_numbers_all_on_it_and_evenly_apart(low: float, span: float, most: int) -> None:
    found = ticks(low, low + span, most)
    assert len(found) <= most + 1
    assert all(low - 1e-5 <= value <= low + span + 1e-5 for value in found)
    gaps = [after - before for before, after in pairwise(found)]
    assert all(gap == pytest.approx(gaps[0]) for gap in gaps)

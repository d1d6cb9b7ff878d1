"""Lengths of time, written and read."""

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared import times
from shared.times import read_time_ms, write_seconds, write_time


@given(st.integers(0, 9_999 * 60_000 + 59_999))
def test_what_is_written_is_read_back(ms: int) -> None:
    assert read_time_ms(write_time(ms)) == ms


@given(st.text(max_size=12))
def test_no_text_breaks_the_reading(text: str) -> None:
    read = read_time_ms(text)
    assert read is None or read >= 0


@pytest.mark.parametrize("text", ["", "3:", ":30", "1:60", "1:2:3", "-5", "1e3", "٣:00", "3.1234", "12345:00"])
def test_what_is_no_time_is_none(text: str) -> None:
    assert read_time_ms(text) is None


def test_a_part_of_a_second_is_told_as_a_whole_one() -> None:
    assert [write_seconds(ms) for ms in (0, 1, 1_000, 1_001)] == ["0 s", "1 s", "1 s", "2 s"]


def test_the_examples_are_true() -> None:
    assert doctest.testmod(times).failed == 0

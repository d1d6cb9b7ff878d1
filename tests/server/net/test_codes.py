"""Word codes can be said, typed with any gaps, and do not repeat."""

from hypothesis import given
from hypothesis import strategies as st

from server.net.codes import WORDS, make_code, same_code


def test_there_are_256_different_plain_words() -> None:
    assert len(set(WORDS)) == len(WORDS) == 256
    assert all(word.isascii() and word.islower() and word.isalpha() and len(word) <= 8 for word in WORDS)


@given(st.binary(min_size=16, max_size=32))
def test_a_code_is_two_words_and_two_digits(random: bytes) -> None:
    first, second, number = make_code(random).split("-")
    assert first in WORDS
    assert second in WORDS
    assert len(number) == 2
    assert number.isdecimal()


def test_codes_of_different_bytes_rarely_meet() -> None:
    codes = {make_code(number.to_bytes(16, "big")) for number in range(2_000)}
    # 2000 draws of 6.5 million: 0.3 meetings are expected.
    assert len(codes) >= 1_995


def test_case_spaces_and_dashes_do_not_count() -> None:
    assert same_code(" Maple otterLemon07", "maple-otter-lemon-07")
    assert not same_code("maple-otter-lemon-08", "maple-otter-lemon-07")
    assert not same_code("", "maple-otter-lemon-07")
    assert not same_code("mäple-kettle-07", "maple-otter-lemon-07")

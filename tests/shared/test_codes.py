"""The list of code words keeps its promises, and codes can be typed in any hurry."""

import itertools
import re

from hypothesis import given
from hypothesis import strategies as st

from shared.codes import FIRST_LETTERS, WORDS, bare, one_reading, readings

SOUNDS = (
    (r"^(kn|gn)", "n"), (r"^wr", "r"), (r"^x", "s"), (r"ph", "f"), (r"gh", "g"), (r"c(?=[eiy])", "s"), (r"ck|c|q", "k"),
    (r"x", "ks"), (r"z", "s"), (r"dge|j", "g"), (r"(.)\1", r"\1"), (r"(?<=.)e$", ""), (r"ai|ay|ei", "a"),
    (r"ee|ea|ie|y", "i"), (r"oo|ou|ow|oa", "o"), (r"b", "p"), (r"d", "t"), (r"g", "k"), (r"v", "f"),
)  # fmt: skip
"""A coarse ear of our own: spellings that are said alike, and pairs of sounds that are heard alike."""
WORD = st.sampled_from(WORDS)
GAP = st.sampled_from(("", " ", "-", "  ", " - ", "."))


def heard(word: str) -> str:
    for said, sound in SOUNDS:
        word = re.sub(said, sound, word)
    return word


def test_there_are_1024_words_of_three_to_eight_letters_in_order() -> None:
    assert len(set(WORDS)) == len(WORDS) == 1_024
    assert list(WORDS) == sorted(WORDS)
    assert all(re.fullmatch("[a-z]{3,8}", word) for word in WORDS)


def test_no_two_words_begin_with_the_same_four_letters_or_with_one_another() -> None:
    assert len({word[:FIRST_LETTERS] for word in WORDS}) == len(WORDS)
    assert not [pair for pair in itertools.permutations(WORDS, 2) if pair[0].startswith(pair[1])]


def test_no_two_words_sound_alike_even_to_a_coarse_ear() -> None:
    assert heard("knight") == heard("night") != heard("mice")
    assert heard("beach") == heard("peach") != heard("perch")
    by_ear = {word: heard(word) for word in WORDS}
    assert len(set(by_ear.values())) == len(WORDS), sorted(WORDS, key=heard)


@given(st.tuples(WORD, WORD, WORD), st.integers(0, 99), GAP, st.booleans())
def test_whole_words_are_read_with_any_gaps_and_in_any_case(
    words: tuple[str, ...], number: int, gap: str, loud: bool
) -> None:
    code = f"{'-'.join(words)}-{number:02}"
    typed = gap.join((*words, f"{number:02}"))
    assert bare(code) in readings(typed.upper() if loud else typed)
    assert one_reading(f" {typed.title()} ") == bare(code)


@given(st.tuples(WORD, WORD, WORD), st.tuples(*[st.integers(FIRST_LETTERS, 8)] * 3), st.integers(0, 99), st.booleans())
def test_four_letters_of_a_word_are_enough(
    words: tuple[str, ...], lengths: tuple[int, ...], number: int, is_misspelt: bool
) -> None:
    code = f"{'-'.join(words)}-{number:02}"
    cut = [word[:length] + "q" * is_misspelt * (len(word) > 3) for word, length in zip(words, lengths, strict=True)]
    assert one_reading(f"{' '.join(cut)} {number:02}") == bare(code)
    if not is_misspelt:
        assert bare(code) in readings("".join(cut) + f"{number:02}")


@given(st.text(max_size=200))
def test_any_text_is_read_in_a_moment_and_most_of_it_as_nothing(text: str) -> None:
    assert all(re.fullmatch("[a-z]+[0-9]{2}", code) for code in readings(text))
    assert re.fullmatch("[a-z0-9]*", one_reading(text))


def test_what_is_no_code_of_ours_is_compared_by_its_letters() -> None:
    assert one_reading(" Maple kettle07") == "maplekettle07"
    assert readings("maple-otter-07") == readings("maple-otter-lemon-7") == readings("maple-otter-lemon-007") == set()
    assert readings("mäple-otter-lemon-07") == set()
    assert readings("maple-otter-lemon-07" + "-" * 100) == set()

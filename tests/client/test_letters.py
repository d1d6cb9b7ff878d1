"""Large letters have exact sizes and come out of shapes, not of a font."""

import pytest

from client.tui.widgets.big_text import STEP_WORDS
from client.tui.widgets.letters import letters

EVERY = [text for pair in STEP_WORDS.values() for text in pair]
EVERY += ["READY?", "HEAT 12", "PAUSED", "DONE", "-0:123456789"]


@pytest.mark.parametrize("scale", [1, 2, 3, 4])
@pytest.mark.parametrize("text", EVERY)
def test_every_word_has_letters_and_all_rows_are_equally_wide(text: str, scale: int) -> None:
    rows = letters(text, scale)
    assert len(rows) == (7 * scale + 1) // 2
    assert len({len(row) for row in rows}) == 1
    assert set("".join(rows)) <= set("█▀▄ ")


@pytest.mark.parametrize("scale", [2, 3, 4])
def test_plain_letters_are_ascii(scale: int) -> None:
    assert set("".join(letters("ACROSS ^", scale, plain=True))) == {"#", " "}


def test_no_two_signs_look_the_same() -> None:
    signs = "ABCDEFGHILMNOPRSTUVWXY0123456789:-?!<>^"
    assert len({letters(sign, 2) for sign in signs}) == len(signs) - 1, "only the letter O and the figure 0 agree"
    assert letters("O", 2) == letters("0", 2)


def test_two_points_high_make_one_cell() -> None:
    assert letters("I", 2) == ("██████", "  ██  ", "  ██  ", "  ██  ", "  ██  ", "  ██  ", "██████")
    assert letters("I", 1) == ("▀█▀", " █ ", " █ ", "▀▀▀")

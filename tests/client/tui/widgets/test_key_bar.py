from hypothesis import given
from hypothesis import strategies as st

from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.key_bar import Keys, Note, fitting

keys = st.lists(st.tuples(st.text("ab", min_size=1, max_size=8), st.text("cd ", max_size=20), st.just("")), max_size=6)


@given(keys.map(tuple), st.integers(0, 100))
def test_what_is_shown_fits_or_is_a_single_key(given_keys: Keys, width: int) -> None:
    shown = fitting(given_keys, width)
    assert set(shown) <= set(given_keys)
    length = sum(len(f"{key} {does}") + 3 for key, does, _ in shown) - 3
    assert length <= width or len(shown) <= 1


def test_help_and_the_way_out_stay_longest() -> None:
    given_keys: Keys = (("a", "one", ""), ("b", "two", ""), ("?", "help", "?"), ("q", "leave", "q"))
    assert fitting(given_keys, 100) == given_keys
    assert fitting(given_keys, 18) == given_keys[-2:]


def test_words_take_three_rows_at_most_and_say_at_their_end_that_there_are_more() -> None:
    said = {
        "short": ["  short"],
        "a word or two": [" a word", " or two"],
        "a word or two and then a third": [" a word", " or two", "and ..."],
        "中中中中 中中中中 中中中中 中中中中": ["中中中中", "中中中中", "中中 ..."],
    }
    for text, shown in said.items():
        canvas = Canvas(9 if text == "short" else 8, len(shown), Look())
        Note(lambda text=text: text).draw(canvas)
        assert [canvas.strip(row).text.rstrip() for row in range(len(shown))] == shown

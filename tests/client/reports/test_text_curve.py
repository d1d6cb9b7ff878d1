"""The line of a heat's luck and loss: exact in size, and where its marks stand."""

from hypothesis import given
from hypothesis import strategies as st

from client.reports.text_curve import Turn, running_line

POINTS = st.floats(0, 100)
TURNS = st.lists(st.tuples(POINTS, POINTS), min_size=1, max_size=9)


def turns_of(pairs: list[tuple[float, float]]) -> list[Turn]:
    return [Turn(f"step {number}", max(pair), max(pair) - min(pair)) for number, pair in enumerate(pairs)]


@given(TURNS, st.none() | POINTS, st.integers(40, 120), st.integers(4, 25), st.booleans())
def test_it_has_as_many_lines_as_asked_for_and_none_is_too_wide(
    pairs: list[tuple[float, float]], end: float | None, width: int, height: int, plain: bool
) -> None:
    lines = running_line(turns_of(pairs), end, width, height, plain)
    assert len(lines) == height
    assert all(len(text) <= width for text, _ in lines)
    assert not plain or all(text.isascii() for text, _ in lines)


def column(lines: list[tuple[str, bool]], mark: str, nth: int = 0) -> tuple[int, int]:
    """Return row and column of a mark, counted from the left."""
    found = sorted(
        (at, row) for row, (text, _) in enumerate(lines[:-2]) for at, sign in enumerate(text) if sign == mark
    )
    return found[nth][1], found[nth][0]


def test_a_loss_goes_down_and_luck_leads_to_the_next_step() -> None:
    lines = running_line([Turn("right", 50.0, 20.0), Turn("across", 60.0, 0.0)], 10.0, 60, 14, plain=True)
    before, after, following, end = (
        column(lines, "o"),
        column(lines, "x"),
        column(lines, "o", 1),
        column(lines, "o", 2),
    )
    assert after[0] > before[0]
    assert following[0] < before[0]
    assert end[0] == len(lines) - 3
    assert before[1] < after[1] < following[1] < end[1]


def test_the_ends_of_the_scale_are_the_greatest_and_the_least() -> None:
    lines = running_line([Turn("right", 50.0, 20.0)], 42.0, 60, 8)
    assert "50.0" in lines[0][0]
    assert "30.0" in lines[5][0]


def test_in_braille_the_line_runs_from_mark_to_mark_without_a_gap() -> None:
    lines = running_line([Turn("right", 50.0, 20.0), Turn("across", 60.0, 0.0)], 10.0, 60, 14)
    first, last = column(lines, "●"), column(lines, "●", 2)
    drawn = [text[first[1] : last[1] + 1].ljust(last[1] + 1 - first[1]) for text, _ in lines[:-2]]
    assert all(any(cell != " " for cell in cells) for cells in zip(*drawn, strict=True))


def test_a_name_without_room_ends_in_a_mark() -> None:
    turns = [Turn("right", 50.0, 20.0)] * 9
    assert "ri…" in running_line(turns, 42.0, 50, 8)[-2][0]
    assert "ri." in running_line(turns, 42.0, 50, 8, plain=True)[-2][0]


def test_the_words_under_it_fit_into_a_small_screen() -> None:
    legend = running_line([Turn("right", 50.0, 20.0)], None, 78, 8)[-1][0]
    assert legend.endswith("luck")
    assert running_line([Turn("right", 50.0, 20.0)], None, 58, 8)[-1][0].endswith("loss")

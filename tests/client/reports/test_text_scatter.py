"""Points as characters."""

from hypothesis import given
from hypothesis import strategies as st

from client.reports.text_scatter import scatter

POINTS = st.lists(st.tuples(st.floats(0, 600), st.floats(0, 100)), min_size=1, max_size=400)


@given(POINTS, st.integers(16, 120), st.integers(4, 40), st.booleans())
def test_a_plot_never_leaves_its_frame(points: list[tuple[float, float]], width: int, height: int, plain: bool) -> None:
    lines = scatter(points, width, height, plain)
    assert len(lines) == height
    assert max(map(len, lines)) <= width
    assert not plain or all(line.isascii() for line in lines)


def test_corners_lie_in_the_corners_and_marks_tell_how_many_lie_together() -> None:
    assert scatter([(0, 0), (10, 4), (10, 0), (10, 0)], 16, 5, plain=True) == [
        "4 +            .",
        "2 +",
        "0 +.           o",
        "  ++-----------+",
        "   0          10",
    ]


def test_braille_puts_the_corners_into_the_corners_of_their_cells() -> None:
    assert scatter([(0, 0), (10, 4), (10, 0)], 16, 5) == [
        "4 ┤            ⠈",
        "2 ┤",
        "0 ┤⡀           ⢀",
        "  └┴───────────┴",
        "   0          10",
    ]


def test_no_points_no_lines() -> None:
    assert scatter([], 40, 10) == []

"""The notation: what is written comes back, and what is wrong is said at its column."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards.notation import (
    Fixed,
    Group,
    Ranked,
    Relative,
    SomeWind,
    SuitDragon,
    YearDigit,
    format_groups,
    parse_groups,
)

suits = st.sampled_from("pqr")
faces = st.one_of(
    st.builds(Ranked, st.integers(1, 9), suits),
    st.builds(Relative, st.integers(0, 8), suits),
    st.builds(YearDigit, st.integers(1, 4), suits),
    st.builds(SuitDragon, suits),
    st.builds(SomeWind, st.sampled_from("XZ")),
    st.builds(Fixed, st.sampled_from(("N", "E", "W", "S", "R", "G", "O", "F"))),
)


@st.composite
def patterns(draw: st.DrawFn) -> tuple[Group, ...]:
    """Groups that add up to fourteen tiles; whether the set can fill them is another matter."""
    cuts = sorted(draw(st.sets(st.integers(1, 13), max_size=9)))
    counts = [after - before for before, after in zip([0, *cuts], [*cuts, 14], strict=True)]
    return tuple(Group(draw(faces), count) for count in counts)


@settings(deadline=None)
@given(patterns())
def test_any_pattern_comes_back_as_it_was_written(groups: tuple[Group, ...]) -> None:
    assert parse_groups(format_groups(groups)) == (groups, ())


@settings(deadline=None)
@given(st.text())
def test_any_text_is_either_a_pattern_or_has_a_fault_within_it(text: str) -> None:
    groups, faults = parse_groups(text)
    assert faults or sum(group.count for group in groups) == 14
    assert all(1 <= fault.column <= len(text) + 1 for fault in faults)
    assert all(fault.text.isascii() and fault.text.isprintable() for fault in faults)


@settings(deadline=None)
@given(st.lists(st.sampled_from("Fpqrnxs.^+()0123459YDXZNEWSRGO \t\n"), max_size=60))
def test_text_that_is_almost_notation_does_no_harm(letters: list[str]) -> None:
    text = "".join(letters)
    groups, faults = parse_groups(text)
    if not faults:
        assert parse_groups(format_groups(groups)) == (groups, ())


def test_every_bad_group_is_reported_at_its_own_column() -> None:
    _, faults = parse_groups("F^2  n.p^3 k^2 n+1.s^4 10.p^5")
    assert [fault.column for fault in faults] == [12, 16, 24]


@pytest.mark.parametrize(
    ("groups", "column", "sentence"),
    [
        (
            "F^2 H^12",
            5,
            "'H^12' has an unknown face. Write 5.p, n.p, n+2.q, Y1.p, D(p), R, G, O, N, E, W, S, X, Z or F "
            "before the ^.",
        ),
        ("J^14", 1, "'J^14' has an unknown face."),
        ("n+0.p^14", 1, "'n+0.p^14' has an unknown face."),
        ("F^2 5.p", 5, "'5.p' has no count. Write a face, ^ and a count, as in 5.p^3."),
        (
            "F^0 5.p^14",
            1,
            "The count of 'F^0' is no number from 1 to 14. Write it after the ^, as in 5.p^3.",
        ),
        ("F^2 5.p^15", 5, "The count of '5.p^15' is no number from 1 to 14."),
        (
            "F^2 0.p^12",
            5,
            "The rank of '0.p^12' is out of range. Ranks go from 1 to 9; write O for white as zero.",
        ),
        ("F^2 10.p^12", 5, "The rank of '10.p^12' is out of range."),
        ("F^2 n+9.p^12", 5, "The rank of 'n+9.p^12' is out of range for every n. Write n+8 at most."),
        (
            "F^2 1.p^3 2.q^3 3.r^3 4.s^3",
            23,
            "'4.s^3' asks for a fourth suit. The set has three, so write p, q or r.",
        ),
        ("F^2 D(t)^12", 5, "'D(t)^12' asks for a fourth suit."),
        ("F^2 5.p^4 6.p^4", 16, "The counts add up to 10, not 14. Add 4 tiles."),
        ("F^4 5.p^4 6.p^4 7.p^3", 17, "The counts add up to 15, not 14. Take 1 tile away."),
        ("", 1, "The counts add up to 0, not 14. Add 14 tiles."),
        ("F^2 " * 51, 1, "The groups are longer than 200 characters. Write fewer."),
    ],
)
def test_the_first_fault_says_where_it_is_and_how_to_mend_it(groups: str, column: int, sentence: str) -> None:
    _, faults = parse_groups(groups)
    assert faults[0].column == column
    assert faults[0].text.startswith(sentence)

"""The notation: what is written comes back, and what is wrong is said at its column."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shared.cards.faces import (
    ANY_SUIT_LETTERS,
    DRAGON_LETTERS,
    SUIT_LETTERS,
    WIND_LETTERS,
    Fixed,
    Group,
    OtherDragon,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.cards.notation import format_groups, format_hand, parse_groups, parse_hand

free_suits = st.sampled_from(SUIT_LETTERS) | st.sampled_from(ANY_SUIT_LETTERS)
relative = st.one_of(
    st.builds(Relative, st.integers(-8, 8), free_suits),
    st.builds(Relative, st.integers(-8, 8), free_suits, st.just(0), st.just(1)),
    st.builds(Relative, st.integers(2, 18), free_suits, st.just(-1)),
    st.builds(Relative, st.integers(2, 18), free_suits, st.just(0), st.just(-1)),
    st.builds(Relative, st.integers(-16, 6), free_suits, st.just(1), st.just(1)),
    st.builds(Relative, st.integers(4, 26), free_suits, st.just(-1), st.just(-1)),
)
faces = st.one_of(
    st.builds(Ranked, st.integers(1, 9), free_suits),
    st.builds(Relative, st.integers(0, 8), st.sampled_from("pqr")),
    relative,
    st.builds(YearDigit, st.integers(1, 4), free_suits),
    st.builds(SuitDragon, free_suits),
    st.builds(OtherDragon, free_suits),
    st.builds(SomeDragon, st.sampled_from(DRAGON_LETTERS)),
    st.builds(SomeWind, st.sampled_from(WIND_LETTERS)),
    st.builds(Fixed, st.sampled_from(("N", "E", "W", "S", "R", "G", "O", "F"))),
)
named_faces = st.one_of(
    st.builds(Ranked, st.integers(1, 9), st.sampled_from("bcdp")),
    st.builds(Relative, st.integers(0, 4), st.sampled_from("bcdx")),
)


@st.composite
def patterns(draw: st.DrawFn) -> tuple[Group, ...]:
    """Groups that add up to fourteen tiles; whether the set can fill them is another matter."""
    cuts = sorted(draw(st.sets(st.integers(1, 13), max_size=9)))
    counts = [after - before for before, after in zip([0, *cuts], [*cuts, 14], strict=True)]
    drawn = named_faces | faces if draw(st.booleans()) else faces
    groups = tuple(Group(draw(drawn), count) for count in counts)
    assume(not parse_groups(format_groups(groups))[1])
    return groups


@settings(deadline=None)
@given(patterns())
def test_any_pattern_comes_back_as_it_was_written(groups: tuple[Group, ...]) -> None:
    assert parse_groups(format_groups(groups)) == (groups, ())


@settings(deadline=None)
@given(st.lists(patterns(), min_size=1, max_size=4))
def test_the_rows_of_a_hand_come_back_as_they_were_written(alternatives: list[tuple[Group, ...]]) -> None:
    assert parse_hand(format_hand(tuple(alternatives))) == (tuple(alternatives), ())


@settings(deadline=None)
@given(st.text())
def test_any_text_is_either_a_pattern_or_has_a_fault_within_it(text: str) -> None:
    groups, faults = parse_groups(text)
    parse_hand(text)
    assert faults or sum(group.count for group in groups) == 14
    assert all(1 <= fault.column <= len(text) + 1 for fault in faults)
    assert all(fault.text.isascii() and fault.text.isprintable() for fault in faults)


@settings(deadline=None)
@given(st.lists(st.sampled_from("Fpqrnmxbs.^+-()0123459YDXZABNEWSRGO \t\n"), max_size=60))
def test_text_that_is_almost_notation_does_no_harm(letters: list[str]) -> None:
    text = "".join(letters)
    groups, faults = parse_groups(text)
    if not faults:
        assert parse_groups(format_groups(groups)) == (groups, ())


def test_every_bad_group_is_reported_at_its_own_column() -> None:
    _, faults = parse_groups("F^2  n.p^3 k^2 n+1.s^4 10.p^5")
    assert [fault.column for fault in faults] == [12, 16, 24]


def test_every_row_is_told_its_own_faults_at_columns_of_the_whole_text() -> None:
    _, faults = parse_hand("F^2 k^12 or F^8 N^5 or ")
    assert [(fault.column, fault.text) for fault in faults[1:]] == [
        (20, "The counts add up to 13, not 14. Add 1 tile."),
        (23, 'There are no groups beside this "or". Write some, or delete "or".'),
    ]
    assert faults[0].column == 5
    _, faults = parse_hand(" or ".join(["F^14"] * 7))
    assert [(fault.column, fault.text) for fault in faults] == [
        (49, "The hand has 7 rows, more than 6. Make two hands of it.")
    ]


@pytest.mark.parametrize(
    ("groups", "column", "sentence"),
    [
        (
            "F^2 H^12",
            5,
            "'H^12' has an unknown face. Write 5.p, n.p, n+2.q, m.q, 10-n.p, n+m.p, Y1.p, D(p), D(-p), R, G, O, "
            "A, B, C, N, E, W, S, X, Z, V, U or F before the ^.",
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
        ("F^2 n+m+9.p^12", 5, "The rank of 'n+m+9.p^12' is out of range for every n and m. Write a smaller number."),
        ("F^2 20-m.p^12", 5, "The rank of '20-m.p^12' is out of range for every m. Write a smaller number."),
        ("F^2 D(b)^12", 5, "'D(b)^12' is always the green dragon. Write G instead."),
        (
            "F^2 D(-c)^12",
            5,
            "'D(-c)^12' is one of two dragons. Write two rows of groups with \"or\": one with G, one with O.",
        ),
        ("F^2 1.b^3 2.p^3 3.q^3 4.r^3", 23, "'4.r^3' asks for a fourth suit."),
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

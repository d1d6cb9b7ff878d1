"""An evening's standings: hand-computed, and the same whoever counts first."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.measures.standings import Played, Reviewed, StandingsRow, from_seat_heat, matchpoints, standings
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.settings import Settings

PEOPLE = ("Ada", "Ben", "Cleo", "Dov", "Elif", "Finn")


def played(
    person: str,
    *,
    heat: int = 1,
    table: str = "1",
    seat: int = 0,
    seconds: float = 90,
    timeouts: int = 0,
    bot: bool = False,
    loss: float | None = None,
    unforced: int = 0,
    points: float | None = None,
) -> Played:
    """A seat's heat at a level of two minutes, everything else as the test says; invented."""
    return Played(
        heat=heat,
        table=table,
        seat=seat,
        person=person,
        name=person.capitalize(),
        bot=bot,
        total_ms=round(seconds * 1000),
        level_ms=120_000,
        timeouts=timeouts,
        loss=loss,
        unforced=unforced,
        points=points,
        deal=f"deal {heat}",
    )


@st.composite
def evenings(draw: st.DrawFn) -> list[Played]:
    """One to three rounds at one to four tables, one person in each of two seats, with ties, bots and gaps."""
    tables, heats = draw(st.integers(1, 4)), draw(st.integers(1, 3))
    return [
        played(
            draw(st.sampled_from(("", *PEOPLE))),
            heat=heat + 1,
            table=str(table),
            seat=seat,
            seconds=draw(st.sampled_from((60, 90, 119.999, 120, 150))),
            timeouts=draw(st.integers(0, 2)),
            bot=draw(st.booleans()),
            loss=draw(st.none() | st.sampled_from((0.0, 1.5, 6.0))),
            unforced=draw(st.integers(0, 7)),
            points=draw(st.none() | st.sampled_from((10.0, 20.0, 20.0000001, 30.0))),
        )
        for heat in range(heats)
        for table in range(tables)
        for seat in range(2)
    ]


def places(lines: tuple[StandingsRow, ...]) -> list[tuple[int, bool, str]]:
    return [(line.place, line.tied, line.person) for line in lines]


@given(evenings(), st.randoms(use_true_random=False))
def test_the_order_in_which_tables_report_changes_nothing(evening: list[Played], dice: random.Random) -> None:
    shuffled = evening[:]
    dice.shuffle(shuffled)
    assert standings(shuffled) == standings(evening)


@given(evenings(), st.permutations(range(4)))
def test_the_numbers_of_the_tables_change_no_place(evening: list[Played], order: list[int]) -> None:
    renumbered = [one.model_copy(update={"table": str(order[int(one.table)])}) for one in evening]
    before, after = standings(evening), standings(renumbered)
    assert (after.speed, after.loss, after.points) == (before.speed, before.loss, before.points)


@given(evenings())
def test_n_seats_compared_with_each_other_share_n_times_n_less_one_halves(evening: list[Played]) -> None:
    shared: dict[tuple[str, int], list[Fraction]] = {}
    for one, matched in matchpoints(evening).items():
        shared.setdefault((one.deal, one.seat), []).append(matched.scored)
        assert 0 <= matched.scored <= matched.most
    for scores in shared.values():
        assert sum(scores) == Fraction(len(scores) * (len(scores) - 1), 2)


@given(evenings())
def test_places_follow_from_values_and_equal_values_share_them(evening: list[Played]) -> None:
    result = standings(evening)
    for lines, sign in ((result.speed, 1), (result.loss, 1), (result.points, -1)):
        for line in lines:
            better = [other for other in lines if sign * other.value < sign * line.value]
            assert line.place == len(better) + 1
            assert line.tied == (sum(other.value == line.value for other in lines) > 1)


@given(evenings(), st.integers(0, 1000))
def test_what_a_bot_did_counts_for_nobody_and_against_nobody(evening: list[Played], points: int) -> None:
    better_bots = [
        one.model_copy(update={"points": float(points), "total_ms": 1}) if one.bot else one for one in evening
    ]
    before, after = standings(evening), standings(better_bots)
    assert (after.speed, after.loss, after.points) == (before.speed, before.loss, before.points)


def test_speed_is_the_part_of_the_level_used_and_a_heat_outside_counts_as_the_whole_level() -> None:
    result = standings(
        [
            played("ada", heat=1, seconds=60),
            played("ada", heat=2, seconds=90),  # (60 + 90) / 240
            played("ben", heat=1, seconds=40, timeouts=1, table="2"),  # 120, for a clock ran out
            played("ben", heat=2, seconds=60, table="2"),  # (120 + 60) / 240
            played("cleo", heat=1, seconds=150, table="3"),  # 150 / 120: slower than the level
            played("dov", heat=2, seconds=75, table="3"),  # 75 / 120 = 150 / 240, ada's value
        ]
    )
    assert [(line.person, line.value) for line in result.speed] == [
        ("ada", Fraction(150, 240)),
        ("dov", Fraction(150, 240)),
        ("ben", Fraction(180, 240)),
        ("cleo", Fraction(150, 120)),
    ]
    assert places(result.speed) == [(1, True, "ada"), (1, True, "dov"), (3, False, "ben"), (4, False, "cleo")]
    assert [(guest.person, guest.heats, guest.in_time, guest.timeouts) for guest in result.guests] == [
        ("ada", 2, 2, 0),
        ("ben", 2, 1, 1),
        ("cleo", 1, 0, 0),
        ("dov", 1, 1, 0),
    ]


def test_exactly_the_level_is_inside_it_and_a_millisecond_more_is_not() -> None:
    assert played("ada", seconds=120).in_time
    assert not played("ada", seconds=120.001).in_time


def test_loss_is_weighed_by_unforced_passes_and_waits_for_the_coach() -> None:
    result = standings(
        [
            played("ada", heat=1, loss=6.0, unforced=6),
            played("ada", heat=2, loss=3.0, unforced=3),  # 9 points in 9 passes
            played("ben", heat=1, loss=0.5, unforced=1, table="2"),
            played("ben", heat=2, loss=None, unforced=0, table="2"),  # not reviewed: 0.5 in 1
            played("cleo", heat=1, loss=0.0, unforced=0, table="3"),  # every pass was forced: nothing to judge
        ]
    )
    assert [(line.place, line.person, line.heats, line.value / 1000) for line in result.loss] == [
        (1, "ben", 1, Fraction(1, 2)),
        (2, "ada", 2, Fraction(1)),
    ]


def test_matchpoints_are_tables_beaten_and_half_of_those_tied() -> None:
    # Four tables, same seat, same deal: 30, 20, 20 and 10 points score 3, 1 1/2, 1 1/2 and 0 of 3.
    evening = [
        played("ada", table="1", points=30.0),
        played("ben", table="2", points=20.0),
        played("cleo", table="3", points=20.0),
        played("dov", table="4", points=10.0),
        played("elif", table="1", seat=1, points=99.0),  # nobody else in that seat: compared with nobody
        played("finn", table="5", points=50.0, bot=True),  # a bot sat in: beats nobody, and nobody is beaten by it
    ]
    result = standings(evening)
    assert [(line.place, line.tied, line.person, line.amount, line.of) for line in result.points] == [
        (1, False, "ada", Fraction(3), Fraction(3)),
        (2, True, "ben", Fraction(3, 2), Fraction(3)),
        (2, True, "cleo", Fraction(3, 2), Fraction(3)),
        (4, False, "dov", Fraction(0), Fraction(3)),
    ]
    finn = next(guest for guest in result.guests if guest.person == "finn")
    assert (finn.heats, finn.with_bot) == (1, 1)


def test_different_deals_are_never_compared() -> None:
    evening = [played("ada", points=1.0), played("ben", table="2", points=2.0).model_copy(update={"deal": "another"})]
    assert matchpoints(evening) == {}
    assert standings(evening).points == ()


def test_a_difference_below_a_thousandth_of_a_point_is_a_tie() -> None:
    evening = [played("ada", points=20.0), played("ben", table="2", points=20.000_000_1)]
    assert places(standings(evening).points) == [(1, True, "ada"), (1, True, "ben")]


def test_two_results_for_one_seat_are_a_bug() -> None:
    with pytest.raises(ValueError, match="two results"):
        standings([played("ada"), played("ben")])


def test_a_seats_own_heat_gives_its_times_without_the_plan_step() -> None:
    steps = (
        SeatStep(step="first right", length_ms=28_800, budget_ms=28_800, spent_ms=20_000, by="person"),
        SeatStep(step="first across", length_ms=16_800, budget_ms=25_600, spent_ms=25_600, by="timeout"),
        SeatStep(step="plan", length_ms=30_000, budget_ms=30_000, spent_ms=30_000, by="timeout"),
    )
    names = ("Ada", "Wren", "Ben", "Heron")
    heat = SeatHeat(
        commitment="c",
        table="Boathouse 1",
        number=7,
        played_at="2030-01-01T20:00:00Z",
        settings=Settings(level_ms=120_000),
        seat=2,
        names=names,
        sitters=("person", "bot", "person", "bot"),
        card="",
        dealt=(),
        steps=steps,
        final=(),
    )
    one = from_seat_heat(heat, "ben", "deal", 3)
    assert (one.name, one.heat, one.total_ms, one.level_ms, one.timeouts) == ("Ben", 3, 45_600, 45_600, 1)
    assert (one.loss, one.unforced, one.points, one.bot, one.in_time) == (None, 0, None, False, False)
    looked_at = one.with_review(Reviewed(loss=2.5, unforced=1, points=14.0))
    assert (looked_at.loss, looked_at.unforced, looked_at.points) == (2.5, 1, 14.0)
    assert looked_at.model_copy(update={"loss": None, "unforced": 0, "points": None}) == one
    assert [spent.spent_ms for spent in one.spent] == [20_000, 25_600]

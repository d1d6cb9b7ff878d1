"""What the coach adds to an evening's standings: whose heats it looks at and when, and who is told what it found."""

from fractions import Fraction

import pytest

from server.records import SeatKey, SeatReview
from shared.measures.standings import Reviewed, standings
from shared.rules.intents import ShowRack
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.wire.desk_intents import CloseTable, EndEvening, SeatPerson, StartAll, Unseat
from shared.wire.messages import TO_CLIENT
from tests.clubs import QUICK, SAME_DEAL, ClubEvening

CLOSED = QUICK.model_copy(update={"open_racks": False})
EIGHT = [f"P{number}" for number in range(1, 9)]


def owner(heat: SeatHeat) -> str:
    return heat.names[heat.seat]


def by_number(heat: SeatHeat) -> Reviewed:
    """P1 loses 1 point in 4 passes and ends with 10, P2 loses 2 and ends with 20, and so on."""
    number = int(owner(heat)[1:])
    return Reviewed(loss=float(number), unforced=4, points=10.0 * number)


def by_tiles(heat: SeatHeat) -> Reviewed:
    """Numbers that tell a rack from another."""
    return Reviewed(loss=sum(map(ord, "".join(heat.final))) / 1_000, unforced=1, points=len(set(heat.final)))


def one_heat(settings: Settings = SAME_DEAL, people: int = 8) -> ClubEvening:
    evening = ClubEvening(settings, tables=2, people=people)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT[:people])
    return evening


# ---- whose heats, and when


def test_every_person_is_looked_at_once_and_no_bot() -> None:
    evening = one_heat(people=6)  # P5 and P6 sit with two birds
    assert len(evening.club.left_to_look_at()) == 6
    seen: list[str] = []
    evening.look(lambda heat: (seen.append(owner(heat)), by_number(heat))[1])
    assert sorted(seen) == EIGHT[:6]
    assert evening.club.left_to_look_at() == ()


def test_the_coach_is_given_what_the_seat_lived_and_nothing_else() -> None:
    evening = one_heat()
    own = {name: next(file.heat for file in evening.files[name] if file.kind == "own heat") for name in EIGHT}
    given: list[SeatHeat] = []
    evening.look(lambda heat: (given.append(heat), by_number(heat))[1])
    assert {owner(heat): heat for heat in given} == own


def test_the_first_heat_comes_first() -> None:
    evening = one_heat(QUICK)
    evening.look(by_number, most=3)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT)
    assert [key.heat for key in evening.club.left_to_look_at()] == [1] * 5 + [2] * 8


def test_nothing_of_a_common_deal_is_looked_at_before_every_table_has_finished_it() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT[:4], pause_ms=100)
    assert evening.view("P1").phase == "between"
    assert evening.club.left_to_look_at() == ()
    evening.play(*EIGHT[4:], pause_ms=100)
    assert len(evening.club.left_to_look_at()) == 8


def test_the_last_table_that_held_a_deal_up_may_be_closed() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT[:4], pause_ms=100)
    evening.do(CloseTable(table=2))
    assert [key.table for key in evening.club.left_to_look_at()] == [1] * 4


@pytest.mark.parametrize("same_deal", [False, True])
def test_while_racks_stay_closed_nothing_is_looked_at(same_deal: bool) -> None:
    evening = one_heat(CLOSED.model_copy(update={"same_deal": same_deal}))
    assert evening.club.left_to_look_at() == ()
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT)
    assert evening.view("P1").phase == "over"
    assert len(evening.club.left_to_look_at()) == 16


def test_in_the_second_of_three_closed_heats_nothing_is_looked_at_either() -> None:
    evening = one_heat(CLOSED.model_copy(update={"heats": 3}))
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT)
    assert evening.club.left_to_look_at() == ()


def test_the_end_of_the_evening_opens_what_was_closed() -> None:
    evening = one_heat(CLOSED)
    evening.do(EndEvening())
    assert len(evening.club.left_to_look_at()) == 8
    evening.look(by_number)
    assert len(evening.view("P1").club.loss) == 8  # type: ignore[union-attr]


def test_a_new_set_takes_nothing_from_the_coach() -> None:
    evening = one_heat(CLOSED.model_copy(update={"heats": 1}))
    evening.look(by_number, most=2)
    evening.do(StartAll(in_ms=0))  # a new set at both tables
    assert evening.view("P1").results == ()
    assert len(evening.look(by_number)) == 6
    assert sorted(one.points for one in evening.club.played() if one.points) == [10.0 * n for n in range(1, 9)]


# ---- what comes of it


def test_standings_with_losses_and_points_are_those_computed_by_hand() -> None:
    evening = one_heat()
    assert evening.view("P3").club.loss == ()  # type: ignore[union-attr]
    evening.look(by_number)
    told = standings(evening.club.played())
    # P1 lost 1 point in 4 passes ... P8 lost 8: a quarter of a point more each.
    assert [(line.name, line.value) for line in told.loss] == [
        (f"P{number}", Fraction(number * 1_000, 4)) for number in range(1, 9)
    ]
    # P1 and P5 had the same rack, and so on; 50 points beat 10: one matchpoint of one.
    assert {line.name: (line.amount, line.of) for line in told.points} == {
        f"P{number}": (1 if number > 4 else 0, 1) for number in range(1, 9)
    }
    club = evening.view("P3").club
    assert club
    assert [(place.name, place.value) for place in club.loss] == [(f"P{n}", n / 4) for n in range(1, 9)]
    assert [(place.place, place.name) for place in club.points][:4] == [(1, "P5"), (1, "P6"), (1, "P7"), (1, "P8")]
    assert [place.name for place in club.loss if place.you] == ["P3"]


def test_losses_add_up_over_the_heats() -> None:
    evening = one_heat()
    evening.look(by_number)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT)
    evening.look(lambda heat: Reviewed(loss=0.5, unforced=6, points=1.0))
    told = {line.name: line for line in standings(evening.club.played()).loss}
    assert told["P2"].value == Fraction(2_000 + 500, 4 + 6)
    assert told["P2"].heats == 2


def test_after_the_heat_a_seat_sees_the_points_of_the_same_rack_elsewhere_once_they_are_known() -> None:
    evening = one_heat()
    assert [other.points for other in evening.view("P2").club.elsewhere] == [None]  # type: ignore[union-attr]
    evening.look(by_number)
    (other,) = evening.view("P2").club.elsewhere  # type: ignore[union-attr]
    assert (other.name, other.points) == ("P6", 60.0)
    (other,) = evening.view("P6").club.elsewhere  # type: ignore[union-attr]
    assert (other.name, other.points) == ("P2", 20.0)


def test_what_was_found_stays_with_the_person_wherever_they_sit() -> None:
    evening = one_heat(QUICK)
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=3))
    evening.do(Unseat(person=evening.key("P2")))
    evening.look(by_number)
    lines = {line.person: line for line in standings(evening.club.played()).loss}
    assert lines[evening.key("P1")].value == 250
    assert lines[evening.key("P2")].value == 500


def test_a_heat_that_cannot_be_judged_counts_as_looked_at_and_in_no_standing() -> None:
    evening = one_heat()
    evening.look(lambda heat: by_number(heat) if owner(heat) != "P4" else None)
    assert evening.club.left_to_look_at() == ()
    assert evening.club.results.looked == 8
    assert "P4" not in {line.name for line in standings(evening.club.played()).loss}


def test_what_is_found_twice_or_of_no_heat_changes_nothing() -> None:
    evening = one_heat()
    (first, *_) = evening.look(by_number)
    before, other = evening.club.played(), Reviewed(loss=99.0, unforced=1, points=99.0)
    for key in (first, SeatKey(9, 1, 0)):
        evening.club.results.take(SeatReview(table=key.table, heat=key.heat, seat=key.seat, reviewed=other))
    assert evening.club.played() == before
    assert evening.club.results.looked == 8


# ---- who is told


def test_a_faster_table_tells_a_slower_one_nothing_by_its_coach() -> None:
    """Whatever the faster table passes and whatever there is to find, the slower one is told the same to the byte."""

    def told(seed: bytes) -> list[bytes]:
        evening = ClubEvening(SAME_DEAL, tables=2, people=8)
        fast, slow = EIGHT[:4], EIGHT[4:]
        evening.do(StartAll(in_ms=0))
        evening.play(*fast, seed=seed, pause_ms=100)
        assert evening.look(by_tiles) == []
        evening.wait(3_000)
        assert evening.view("P5").phase == "heat"
        for name in slow:
            evening.say(name, ShowRack(on=True))
        shown = [TO_CLIENT.pack(evening.shown(role)) for role in ("watcher", "desk")]
        assert all(one.loss is None and one.points is None for one in evening.club.played())
        return [frame for name in slow for frame in evening.told[name]] + shown

    assert told(b"one way") == told(b"another way")


def evening_of(settings: Settings, seed: bytes) -> tuple[list[object], list[object]]:
    """Return the racks at the end of a heat and all that is told after it, but for what one's own seat lived."""
    evening = ClubEvening(settings, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    evening.play(*EIGHT, seed=seed, pause_ms=100)
    evening.look(by_tiles)
    finals = [next(file.heat.final for file in evening.files[name] if file.kind == "own heat") for name in EIGHT]
    told = [evening.view(name) for name in EIGHT] + [evening.shown("desk"), *evening.club.played()]
    return finals, [one.model_dump() for one in told]


def test_where_racks_stay_closed_nobody_is_told_anything_that_depends_on_them() -> None:
    one, two = evening_of(CLOSED, b"one way"), evening_of(CLOSED, b"another way")
    assert one[0] != two[0]
    assert one[1] == two[1]


def test_where_racks_are_open_the_same_comparison_sees_a_difference() -> None:
    (_, one), (_, two) = evening_of(QUICK, b"one way"), evening_of(QUICK, b"another way")
    assert one[-1] != two[-1]


def test_whoever_plays_is_not_disturbed_by_what_is_found_and_sees_it_after_the_heat() -> None:
    evening = one_heat()
    evening.do(StartAll(in_ms=0))
    before = {name: len(evening.told[name]) for name in EIGHT}
    evening.look(by_number)
    assert {name: len(evening.told[name]) for name in EIGHT} == before
    evening.play(*EIGHT)
    assert len(evening.view("P1").club.loss) == 8  # type: ignore[union-attr]

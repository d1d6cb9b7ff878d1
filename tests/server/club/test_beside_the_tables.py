"""Who stands beside the tables: what a watcher, a teacher and those who wait are shown, and where a teacher may sit."""

from typing import get_args

import pytest

from server.club.seating import MOST_WAITING, MOST_WATCHED
from shared.rules.intents import Arrange, Lift, Pass, ShowRack
from shared.wire.club_views import ClubRole
from shared.wire.desk_intents import (
    HoldClocks,
    LetTeacherSee,
    RunClocks,
    SeatPerson,
    StartAll,
    Unseat,
)
from shared.wire.messages import TO_CLIENT, Done, Refused
from tests.clubs import SAME_DEAL, ClubEvening
from tests.server.players import answer_to

# ---- who watches


def test_a_watcher_sees_seats_steps_and_results_and_no_tile() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    shown = evening.shown("watcher")
    assert [table.step for table in shown.tables] == ["first right", "first right"]
    assert all(chair.running and chair.left_ms and chair.owes for table in shown.tables for chair in table.chairs)
    assert shown.desk is None
    assert not any(chair.person or chair.rack for table in shown.tables for chair in table.chairs)
    tiles = evening.view("P1").heat.rack  # type: ignore[union-attr]
    assert not any(f"'{tile}'" in str(shown.model_dump()["tables"]) for tile in tiles)


def test_a_teacher_sees_the_racks_of_those_who_agreed_while_the_host_lets_them() -> None:
    evening = ClubEvening(tables=1, people=2)
    assert isinstance(evening.say("P1", ShowRack(on=True)), Refused)
    evening.do(LetTeacherSee(on=True))
    assert evening.shown().desk.teacher_code  # type: ignore[union-attr]
    assert isinstance(evening.say("P1", ShowRack(on=True)), Done)
    evening.do(StartAll(in_ms=0))

    def racks() -> list[bool]:
        return [bool(chair.rack) for chair in evening.shown("teacher").tables[0].chairs]

    assert racks() == [True, False, False, False]
    assert [chair.shows for chair in evening.view("P2").chairs] == [True, False, False, False]
    assert not any(chair.rack for chair in evening.shown("watcher").tables[0].chairs)
    assert not any(chair.rack for chair in evening.shown("desk").tables[0].chairs)
    evening.do(HoldClocks())
    assert racks() == [False] * 4
    evening.do(RunClocks())
    evening.say("P1", ShowRack(on=False))
    assert racks() == [False] * 4
    evening.say("P1", ShowRack(on=True))
    evening.do(LetTeacherSee(on=False))
    evening.do(LetTeacherSee(on=True))
    assert racks() == [False] * 4


# ---- a teacher


def test_a_player_who_agreed_is_told_that_a_teacher_watches_only_while_one_does() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(LetTeacherSee(on=True))
    evening.say("P1", ShowRack(on=True))

    def told() -> list[bool]:
        return [evening.view(name).club.watching for name in ("P1", "P2")]  # type: ignore[union-attr]

    assert told() == [False, False]
    evening.take(evening.club.teachers_are({b"t": "Tess"}))
    assert told() == [True, False]
    evening.say("P1", ShowRack(on=False))
    assert told() == [False, False]
    evening.say("P1", ShowRack(on=True))
    evening.take(evening.club.teachers_are({}))
    assert told() == [False, False]


def test_a_teacher_sits_at_no_table_until_every_table_is_through() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    evening.take(evening.club.teachers_are({b"t": "Tess"}))
    assert evening.come("Tess") == (0, 0)
    told = evening.refused(SeatPerson(person=evening.key("Tess"), table=2, chair=0))
    assert told == "Tess is here as a teacher, and a teacher sits at no table."
    evening.take(evening.club.teachers_are({}))
    told = evening.refused(SeatPerson(person=evening.key("Tess"), table=2, chair=0))
    assert told == "Tess was a teacher in heat 1 and may have seen racks of it."
    evening.play("P1", "P2", "P3", "P4")
    evening.do(SeatPerson(person=evening.key("Tess"), table=2, chair=0))
    evening.do(StartAll(in_ms=0))
    assert evening.view("Tess").heat_number == 2


def test_each_of_several_teachers_is_known_again_however_often_another_comes_and_goes() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    for name in ("Bea", "Tess"):
        evening.take(evening.club.teachers_are({name.encode(): name}))
        evening.take(evening.club.teachers_are({}))
    for _ in range(MOST_WATCHED):
        evening.take(evening.club.teachers_are({bytes([*b"Tess"]): "Tess"}))  # equal bytes, another object each time
        evening.take(evening.club.teachers_are({}))
    evening.take(evening.club.teachers_are({b"Bea": "Bea"}))
    evening.take(evening.club.teachers_are({}))
    assert [one.name for one in evening.club.record.watched] == ["Tess", "Bea"]
    for name in ("Bea", "Tess"):
        assert evening.come(name) == (0, 0)
        told = evening.refused(SeatPerson(person=evening.key(name), table=2, chair=0))
        assert told == f"{name} was a teacher in heat 1 and may have seen racks of it."


def test_who_is_asked_to_wait_is_one_who_stays_and_no_more_wait_than_may() -> None:
    evening = ClubEvening(tables=1, people=1)
    evening.do(Unseat(person=evening.key("P1")))
    [waits] = evening.club.record.waiting
    assert (waits.name, waits.left, waits.ready, waits.stand_in) == ("P1", False, False, False)
    for number in range(MOST_WAITING):
        evening.club.wait(f"W{number}", number.to_bytes(16))
    assert len(evening.club.record.waiting) == MOST_WAITING


def test_where_deals_differ_a_teacher_who_has_gone_sits_where_no_heat_is_running() -> None:
    evening = ClubEvening(tables=2, people=1)
    evening.do(StartAll(in_ms=0))
    evening.take(evening.club.teachers_are({b"t": "Tess"}))
    evening.take(evening.club.teachers_are({}))
    assert evening.come("Tess") == (2, 0), "not at the running table"
    assert "may have seen racks" in evening.refused(SeatPerson(person=evening.key("Tess"), table=1, chair=1))


@pytest.mark.parametrize("role", ["teacher", "watcher", "waiting"])
@pytest.mark.parametrize("agreed", [False, True], ids=["nobody agreed", "one agreed"])
def test_who_stands_beside_the_tables_is_shown_the_same_bytes_whatever_they_cannot_see(
    role: ClubRole, agreed: bool
) -> None:
    """Other hands of those who did not agree, passed at the same moments, change no byte of any picture."""

    def shown(seed: bytes) -> list[bytes]:
        evening = ClubEvening(SAME_DEAL, tables=2, people=8)
        evening.do(LetTeacherSee(on=True))
        if agreed:
            evening.say("P1", ShowRack(on=True))
        evening.take(evening.club.teachers_are({b"t": "Tess"}))
        evening.do(StartAll(in_ms=0))
        told = [TO_CLIENT.pack(evening.shown(role))]
        for name in ("P2", "P3", "P4", "P6"):
            view = evening.view(name)
            answer = answer_to(view, seed)
            assert isinstance(answer, Pass)
            evening.say(name, Lift(step=answer.step, tiles=answer.tiles[:2]))
            evening.say(name, answer)
            evening.wait(100)
            told += [TO_CLIENT.pack(evening.shown(role)), repr(evening.club.standings).encode()]
        return told

    assert shown(b"one way") == shown(b"another way")


def test_the_same_comparison_sees_a_rack_that_is_shown() -> None:
    def shown(moved: bool) -> bytes:
        evening = ClubEvening(SAME_DEAL, tables=2, people=8)
        evening.do(LetTeacherSee(on=True))
        evening.say("P1", ShowRack(on=True))
        evening.do(StartAll(in_ms=0))
        rack = evening.view("P1").heat.rack  # type: ignore[union-attr]
        evening.say("P1", Arrange(tiles=tuple(reversed(rack)) if moved else rack))
        return TO_CLIENT.pack(evening.shown("teacher"))

    assert shown(moved=False) != shown(moved=True)


def test_of_a_clubs_tables_nobody_is_told_votes_and_offers_who_may_still_play_the_deal() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    steps = set()
    while evening.table("P1").heat:
        evening.wait(500)
        for name in ("P1", "P2", "P3", "P4"):
            if evening.owes(name):
                evening.say(name, answer_to(evening.view(name), b"people"))
        for role in get_args(ClubRole):
            for table in evening.shown(role).tables:
                steps.add(table.step)
                for chair in table.chairs:
                    assert (chair.vote, chair.offer, chair.side, chair.side_offer) == (None, None, None, None)
    assert "courtesy offer" in steps

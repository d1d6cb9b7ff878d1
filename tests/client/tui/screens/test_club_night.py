"""A club night's own screens: the wall's, a teacher's, where a guest sits now, the evening's end; by keys, frozen."""

import pytest

from client.connection.link import Ended, Lost
from client.tui.screens.desk import DeskScreen
from client.tui.screens.end import SetEndScreen
from client.tui.screens.room import RoomScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.teacher import TeacherScreen
from shared.rules.intents import ShowRack
from shared.wire.desk_intents import (
    EndEvening,
    LetTeacherSee,
    RankFrom,
    RenameTable,
    SeatPerson,
    StartAll,
    WaitFor,
)
from tests.client.desks import desk_at
from tests.client.frozen import check_frozen, sized, text_of
from tests.clubs import QUICK, SAME_DEAL, ClubEvening

PEOPLE = [f"P{number}" for number in range(1, 8)]


def taught(evening: ClubEvening) -> ClubEvening:
    """An evening with a teacher at it, where two have agreed and a heat is running."""
    evening.do(LetTeacherSee(on=True))
    evening.do(RenameTable(table=2, name="By the window"))
    evening.say("P2", ShowRack(on=True))
    evening.say("P5", ShowRack(on=True))
    evening.take(evening.club.teachers_are({b"t": "Tess"}))
    evening.do(StartAll(in_ms=0))
    return evening


@sized
async def test_the_screen_for_the_wall(size: tuple[int, int]) -> None:
    async with desk_at(size, tables=3, people=7) as desk:
        await desk.press("w")
        assert isinstance(desk.app.screen, RoomScreen)
        check_frozen(desk.app, "room-before")
        desk.evening.do(StartAll(in_ms=0))
        desk.evening.play("P1", "P2", "P3", "P4", pause_ms=400)
        await desk.show()
        check_frozen(desk.app, "room-running")
        desk.evening.play(*PEOPLE, pause_ms=400)
        desk.evening.do(EndEvening())
        await desk.show()
        check_frozen(desk.app, "room-over")
        await desk.press("q")
        assert isinstance(desk.app.screen, DeskScreen)


@sized
async def test_the_wall_tells_no_secret_of_its_desk(size: tuple[int, int]) -> None:
    async with desk_at(size, tables=2, people=7) as desk:
        taught(desk.evening)
        await desk.show()
        await desk.press("d", "w")
        view = desk.model.view
        assert view
        assert view.desk
        assert view.desk.teacher_code
        for _ in range(4):
            text = text_of(desk.app)
            assert view.desk.code in text
            assert view.desk.desk_code not in text
            assert view.desk.teacher_code not in text
            desk.evening.wait(10_000)
            await desk.show()


async def test_a_machine_for_the_wall_alone_shows_the_same_to_a_watcher() -> None:
    evening = taught(ClubEvening(QUICK, tables=2, people=7))
    async with desk_at((80, 24), evening=evening, role="watcher", on_wall=True) as wall:
        assert isinstance(wall.app.screen, RoomScreen)
        text = text_of(wall.app)
        assert evening.club.record.code in text
        assert "racktempo join 192.0.2.20:15214" in text
        assert evening.club.record.teacher_code not in text
        await wall.press("q")
        assert not isinstance(wall.app.screen, RoomScreen)


@sized
async def test_a_teacher_goes_from_table_to_table(size: tuple[int, int]) -> None:
    evening = taught(ClubEvening(SAME_DEAL, tables=2, people=7))
    async with desk_at(size, role="teacher", evening=evening) as teacher:
        assert isinstance(teacher.app.screen, TeacherScreen)
        check_frozen(teacher.app, "teacher")
        await teacher.press("right")
        assert "By the window" in text_of(teacher.app)
        check_frozen(teacher.app, "teacher-second-table")
        evening.say("P5", ShowRack(on=False))
        await teacher.show()
        assert "has not agreed" in text_of(teacher.app)
        rack = evening.view("P6").heat.rack  # type: ignore[union-attr]
        assert rack
        await teacher.press("v")
        assert "No heat has been finished yet." in text_of(teacher.app)
        await teacher.press("s", "n", "f", "f")
        assert teacher.line.asked == []


@sized
async def test_who_is_given_another_chair_is_told_loudly_until_a_key_is_pressed(size: tuple[int, int]) -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.do(RenameTable(table=2, name="By the window"))
    async with desk_at(size, evening=evening, guest="P1") as guest:
        assert "Boathouse   Table 1, chair 1" in text_of(guest.app)
        evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=2))
        await guest.show()
        assert isinstance(guest.app.screen, SeatsScreen)
        check_frozen(guest.app, "moved")
        assert "By the window (table 2), chair 3" in text_of(guest.app)
        await guest.press("enter")
        assert guest.line.asked == [], "the key that was pressed to read on asks nothing"
        assert "Boathouse   By the window (table 2), chair 3" in text_of(guest.app)


@sized
async def test_at_the_end_of_the_evening_its_result_stays_and_nothing_tries_to_come_back(size: tuple[int, int]) -> None:
    evening = ClubEvening(QUICK, tables=2, people=7)
    async with desk_at(size, evening=evening, guest="P2") as guest:
        evening.do(StartAll(in_ms=0))
        evening.play(*PEOPLE, pause_ms=400)
        evening.do(EndEvening())
        await guest.show()
        assert isinstance(guest.app.screen, SetEndScreen)
        check_frozen(guest.app, "evening-over")
        for heard in (Lost("The host has closed.", 100), Ended("The evening is over.")):
            guest.app.hear(heard)
            await guest.settle()
            text = text_of(guest.app)
            assert "The evening's result" in text
            assert "The evening is over" in text
            assert "Trying again" not in text
        await guest.press("left")
        assert isinstance(guest.app.screen, SetEndScreen)
        await guest.press("q")
        assert not isinstance(guest.app.screen, SetEndScreen)


async def test_who_waits_or_watches_sees_the_result_at_the_end() -> None:
    for role in ("watcher", "waiting", "teacher"):
        evening = ClubEvening(QUICK, tables=1, people=5)
        async with desk_at((80, 24), evening=evening, role=role) as beside:  # type: ignore[arg-type]
            evening.do(StartAll(in_ms=0))
            evening.play("P1", "P2", "P3", "P4", pause_ms=400)
            evening.do(EndEvening())
            await beside.show()
            assert "less is better" in text_of(beside.app)


# ---- the desk


async def test_the_desks_own_code_is_shown_on_a_key_and_hidden_again() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        view = desk.model.view
        assert view
        assert view.desk
        assert view.desk.desk_code not in text_of(desk.app)
        await desk.press("d")
        assert view.desk.desk_code in text_of(desk.app)
        await desk.press("d")
        assert view.desk.desk_code not in text_of(desk.app)


async def test_what_is_asked_once_more_names_the_person_and_the_table() -> None:
    async with desk_at((80, 24), tables=2, people=5) as desk:
        desk.evening.do(RenameTable(table=1, name="By the window"))
        await desk.show()
        await desk.press("k")
        assert "Send P1 home, from By the window (table 1)? Press k again." in text_of(desk.app)
        await desk.press("c")
        assert "Close By the window (table 1)? 4 people will wait. Press c again." in text_of(desk.app)
        await desk.press("f")
        assert "End the evening for 5 people? Press f again." in text_of(desk.app)
        await desk.press("l")
        assert "Draw lots for all chairs of 2 tables? Press l again." in text_of(desk.app)


@pytest.mark.parametrize("name", ["Mary-Christabelle", "WWWWWWWWWWWWWWWW"])
async def test_the_question_with_the_longest_names_fits_80_columns(name: str) -> None:
    evening = ClubEvening(QUICK, tables=12)
    for number in range(1, 5):
        evening.come(f"{name[:13]} {number}")
    evening.do(RenameTable(table=1, name=name))
    evening.do(StartAll(in_ms=0))
    async with desk_at((80, 24), evening=evening) as desk:
        for key in "kc":
            await desk.press(key)
            assert f"Press {key} again." in text_of(desk.app)


async def test_heats_for_a_place_and_the_longest_wait_are_set_by_keys() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        for heats, said in ((1, "1 heat"), (2, "2 heats")):
            await desk.press("i")
            assert desk.line.asked[-1] == RankFrom(heats=heats)
            assert f"A place in the standings takes {said} now." in text_of(desk.app)
        await desk.press("j")
        assert desk.line.asked[-1] == WaitFor(ms=120_000)
        for ms in (300_000, 0, 30_000):
            await desk.press("j")
            assert desk.line.asked[-1] == WaitFor(ms=ms)


async def test_long_standings_scroll_and_how_many_more_is_true() -> None:
    evening = ClubEvening(QUICK.model_copy(update={"heats": 1}), tables=8, people=32)
    evening.do(StartAll(in_ms=0))
    evening.play(*(f"P{number}" for number in range(1, 33)), pause_ms=200)
    async with desk_at((80, 24), evening=evening) as desk:
        await desk.press("v")
        names = [line.name for line in evening.club.standings.speed]

        def seen() -> list[str]:
            return [word for line in text_of(desk.app).splitlines() for word in line.split() if word in names]

        first = seen()
        assert first == names[: len(first)]
        assert f"and {32 - len(first)} more" in text_of(desk.app)
        assert "up down more" in text_of(desk.app)
        found = set(first)
        for _ in range(4):
            await desk.press("pagedown")
            found |= set(seen())
        assert found == set(names)
        assert seen()[-1] == names[-1]
        await desk.press(*["pageup"] * 4)
        assert seen() == first

"""What a player sees of the evening beside their own table: a countdown, a teacher, other tables, the standings."""

from client.tui.screens.desk import DeskScreen
from client.tui.screens.end import HeatEndScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from shared.rules.intents import ShowRack
from shared.wire.desk_intents import LetTeacherSee, SeatPerson, StartAll, Unseat
from tests.client.desks import desk_at
from tests.client.frozen import check_frozen, sized, text_of
from tests.clubs import SAME_DEAL, ClubEvening
from tests.reviewers import by_name


def everybody(evening: ClubEvening) -> list[str]:
    return list(evening.tokens)


@sized
async def test_after_a_heat_that_other_tables_still_play_and_after_they_are_through(size: tuple[int, int]) -> None:
    evening = ClubEvening(SAME_DEAL, tables=3, people=12)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4", pause_ms=300)
    async with desk_at(size, evening=evening, guest="P2") as guest:
        check_frozen(guest.app, "evening-held")
        evening.play(*everybody(evening)[4:], pause_ms=300)
        await guest.show()
        await guest.press("right", "right")
        check_frozen(guest.app, "evening-elsewhere")
        await guest.press("right")
        check_frozen(guest.app, "evening-standings")
        await guest.press("right")
        assert "Heat 1 of 2" in text_of(guest.app)
        evening.look(by_name)
        await guest.show()
        await guest.press("left")
        check_frozen(guest.app, "evening-standings-whole")
        await guest.press("left")
        check_frozen(guest.app, "evening-elsewhere-points")


async def test_a_newcomer_sees_that_a_heat_was_played_without_them_and_who_played_that_their_record_comes() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2")
    evening.come("P3")
    for name, said in (("P1", "No record of your own of this heat is here yet"), ("P3", "You did not play this heat")):
        async with desk_at((80, 24), evening=evening, guest=name) as guest:
            assert said in text_of(guest.app)


async def test_who_comes_to_a_running_heat_is_asked_for_nothing_and_told_the_key_to_play() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    evening.come("Kim")
    async with desk_at((80, 24), evening=evening, guest="Kim") as kim:
        assert "First right: a bot plays in your seat; t: play yourself." in text_of(kim.app)
        await kim.press("t")
        assert "First right: lift 3 more" in text_of(kim.app)


async def test_while_the_coach_looks_a_guest_sees_how_far_it_is_above_the_standings_and_then_no_more() -> None:
    evening = ClubEvening(tables=1, people=3)
    evening.has_coach = True
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", pause_ms=300)
    async with desk_at((80, 24), evening=evening, guest="P1") as guest:
        await guest.press("right", "right")
        for looked, said in ((1, "the coach looks at 2 of 3"), (2, "")):
            evening.look(by_name, most=looked)
            await guest.show()
            assert "The evening so far" in text_of(guest.app)
            assert said in text_of(guest.app)
        assert "the coach" not in text_of(guest.app)


async def test_a_countdown_is_drawn_as_it_runs() -> None:
    evening = ClubEvening(tables=1, people=2)
    async with desk_at((80, 24), evening=evening, guest="P1") as guest:
        evening.do(StartAll(in_ms=10_000))
        await guest.show()
        assert "All tables start in 0:10." in text_of(guest.app)
        guest.line.now_ms.ms += 3_000
        guest.app.screen.tick()  # type: ignore[attr-defined]
        await guest.settle()
        assert "All tables start in 0:07." in text_of(guest.app)


async def test_a_teacher_sees_a_rack_only_when_its_player_says_so_and_the_screen_tells() -> None:
    evening = ClubEvening(tables=1, people=2)
    async with desk_at((80, 24), evening=evening, guest="P1") as guest:
        await guest.press("v")
        assert guest.line.asked == []
        evening.do(LetTeacherSee(on=True))
        await guest.show()
        assert "A teacher may watch" in text_of(guest.app)
        await guest.press("v")
        assert guest.line.asked == [ShowRack(on=True)]
        assert "A teacher may see your rack" in text_of(guest.app)
        guest.evening.take(guest.evening.club.teachers_are({b"teacher": "T"}))
        await guest.show()
        assert "teacher: watching. Your rack is seen" in text_of(guest.app)
        evening.do(StartAll(in_ms=0))
        await guest.show()
        assert isinstance(guest.app.screen, TableScreen)
        assert "teacher: watching" in text_of(guest.app)
        guest.evening.take(guest.evening.club.teachers_are({}))
        await guest.show()
        assert "teacher" not in text_of(guest.app)


async def test_who_is_moved_sees_the_new_table_at_once() -> None:
    evening = ClubEvening(tables=2, people=5)
    async with desk_at((80, 24), evening=evening, guest="P1") as guest:
        assert isinstance(guest.app.screen, SeatsScreen)
        evening.do(Unseat(person=evening.key("P1")))
        await guest.show()
        assert isinstance(guest.app.screen, DeskScreen)
        assert "You wait for a chair" in text_of(guest.app)
        evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=2))
        await guest.show()
        assert isinstance(guest.app.screen, SeatsScreen)
        assert guest.table.view
        assert guest.table.view.table == "Table 2"
        evening.do(StartAll(in_ms=0))
        evening.play("P1", "P5")
        await guest.show()
        assert isinstance(guest.app.screen, HeatEndScreen)

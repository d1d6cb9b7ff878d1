"""The desk by keys and by mouse, frozen as text at both sizes; and the same picture for those who watch."""

import pytest
from textual.widget import Widget

from client.storage.sets import kept_sets
from client.tui.screens.desk import DeskScreen
from client.tui.screens.sets import MadeScreen
from client.tui.widgets.desk import Tables
from server.club.seating import ClubOutput
from server.table.output import Joined
from shared.rules.intents import ShowRack
from shared.rules.set_line import TakeHome, read_line
from shared.wire.desk_intents import (
    CallOff,
    CloseTable,
    EndEvening,
    GiveTime,
    HoldClocks,
    LetBack,
    LetTeacherSee,
    OpenTable,
    PlayBy,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
)
from shared.wire.messages import NOTHING_HELD
from tests.client.desks import Desk, desk_at
from tests.client.frozen import check_frozen, sized, text_of
from tests.clubs import SAME_DEAL, ClubEvening
from tests.reviewers import by_name


@sized
async def test_before_the_first_heat(size: tuple[int, int]) -> None:
    async with desk_at(size) as desk:
        desk.evening.ready("P1", "P2")
        for name in ("Ada", "Bert", "Cy", "Dot", "Eve"):
            desk.evening.come(name)
        desk.evening.do(RenameTable(table=2, name="By the window"))
        await desk.show()
        check_frozen(desk.app, "desk-seating")
        await desk.press("down", "space", "right")
        check_frozen(desk.app, "desk-picked-up")
        await desk.press("question_mark")
        check_frozen(desk.app, "help-desk")


@sized
async def test_one_key_lets_the_machine_in_that_asks_for_somebodys_seat(size: tuple[int, int]) -> None:
    async with desk_at(size, people=6) as desk:
        evening, token = desk.evening, b"another machine!"
        evening.lose("P6")
        out = ClubOutput()
        assert evening.club.regain("P6", token, NOTHING_HELD, evening.now_ms, out)
        evening.take(out)
        await desk.show()
        assert "Another machine asks for P6's seat at Table 2. F5 lets it in." in " ".join(text_of(desk.app).split())
        check_frozen(desk.app, "desk-asked")
        person = evening.club.tables[2].record.chairs[1].person
        await desk.press("f5")
        assert desk.line.asked[-1] == LetBack(person=person)
        assert "Another machine" not in text_of(desk.app)
        found = evening.club.regain("P6", token, NOTHING_HELD, evening.now_ms, out)
        assert found
        assert isinstance(found.answer, Joined)
        await desk.press("f5")
        assert len(desk.line.asked) == 1, "nobody asks any more"


@pytest.mark.parametrize(
    ("seed", "told"), [(41, "the same deals"), (None, "It brings new deals: those of this evening have no seed")]
)
async def test_a_set_to_take_home_has_the_settings_of_the_evening_and_its_seed(seed: int | None, told: str) -> None:
    settings = SAME_DEAL.model_copy(update={"seed": seed, "level_ms": 150_000})
    async with desk_at((80, 24), settings=settings) as desk:
        await desk.press("m")
        await desk.until(lambda: isinstance(desk.app.screen, MadeScreen))
        assert told in " ".join(text_of(desk.app).split())
        (kept,) = kept_sets()
        assert kept.line in text_of(desk.app)
        taken = read_line(kept.line)
        assert isinstance(taken, TakeHome)
        wanted = settings.model_copy(update={"seed": taken.seed, "same_deal": False})
        assert taken.settings == wanted
        assert seed is None or taken.seed == seed
        await desk.press("q")
        assert isinstance(desk.app.screen, DeskScreen)


@sized
async def test_while_heats_are_running(size: tuple[int, int]) -> None:
    async with desk_at(size, settings=SAME_DEAL) as desk:
        desk.evening.do(LetTeacherSee(on=True))
        desk.evening.say("P5", ShowRack(on=True))
        await desk.press("s")
        check_frozen(desk.app, "desk-countdown")
        desk.evening.wait(10_000)
        desk.evening.play("P1", "P2", "P3", "P4", pause_ms=400)
        desk.evening.do(HoldClocks(table=3))
        await desk.show()
        check_frozen(desk.app, "desk-running")


@sized
async def test_standings(size: tuple[int, int]) -> None:
    async with desk_at(size, tables=2, people=7) as desk:
        await desk.press("v")
        check_frozen(desk.app, "desk-no-standings")
        desk.evening.do(StartAll(in_ms=0))
        desk.evening.play(*(f"P{number}" for number in range(1, 8)), pause_ms=500)
        await desk.show()
        check_frozen(desk.app, "desk-standings")


@sized
async def test_while_the_coach_looks_a_quiet_line_says_how_far_it_is(size: tuple[int, int]) -> None:
    async with desk_at(size, tables=2, people=7, settings=SAME_DEAL) as desk:
        desk.evening.has_coach = True
        desk.evening.do(StartAll(in_ms=0))
        desk.evening.play(*(f"P{number}" for number in range(1, 8)), pause_ms=500)
        desk.evening.look(by_name, most=5)
        await desk.show()
        check_frozen(desk.app, "desk-looking")
        await desk.press("v")
        check_frozen(desk.app, "desk-standings-looking")
        desk.evening.look(by_name)
        await desk.show()
        check_frozen(desk.app, "desk-standings-whole")
        await desk.press("e")
        assert [one.loss is not None for one in desk.kept[-1]].count(True) == 7


@sized
async def test_a_watcher_and_one_who_waits(size: tuple[int, int]) -> None:
    evening = ClubEvening(tables=1, people=5)
    evening.do(StartAll(in_ms=0))
    async with desk_at(size, role="watcher", evening=evening) as watcher:
        check_frozen(watcher.app, "watching")
    async with desk_at(size, role="waiting", evening=evening) as waiting:
        await waiting.press("space", "s", "f", "f")
        assert waiting.line.asked == []
        check_frozen(waiting.app, "waiting")


# ---- keys


async def test_a_person_is_picked_up_carried_and_put_down_by_keys() -> None:
    async with desk_at((80, 24), tables=6, people=20) as desk:
        await desk.press("space", "down", "right", "space")
        assert desk.evening.where("P1") == (2, 1)
        assert desk.evening.where("P6") == (1, 0)
        await desk.press("space", "escape")
        assert desk.model.held == ""
        await desk.press("u")
        assert desk.evening.where("P1") == (0, 0)


async def test_from_the_list_of_those_who_wait_to_a_chair_and_back_by_keys() -> None:
    async with desk_at((80, 24), tables=2, people=9) as desk:
        await desk.press("down", "down", "down", "down", "space", "up", "space")
        assert desk.evening.where("P9") == (1, 3)
        assert desk.evening.where("P4") == (0, 0)
        await desk.press("space", "down", "space")
        assert desk.evening.where("P9") == (0, 0)


ORDERS = [
    (("s",), StartAll()),
    (("s", "s"), CallOff()),
    (("p",), RunClocks()),
    (("h",), HoldClocks(table=1)),
    (("y",), GiveTime()),
    (("x",), GiveTime(table=1)),
    (("n",), OpenTable()),
    (("b",), SeatBots()),
    (("l", "l"), SeatAtRandom()),
    (("t",), LetTeacherSee(on=True)),
    (("f", "f"), EndEvening()),
    (("c", "c"), CloseTable(table=1)),
    (("r", "N", "e", "w", "enter"), RenameTable(table=1, name="New")),
]


@pytest.mark.parametrize(
    ("keys", "order"), ORDERS, ids=lambda value: " ".join(value) if isinstance(value, tuple) else ""
)
async def test_every_key_asks_what_the_help_says(keys: tuple[str, ...], order: object) -> None:
    async with desk_at((80, 24), tables=2, people=5) as desk:
        await desk.press(*keys)
        assert desk.line.asked[-1] == order


@pytest.mark.parametrize("key", ["c", "k", "f", "l"])
async def test_what_cannot_be_undone_is_asked_once_more(key: str) -> None:
    async with desk_at((80, 24), tables=2, people=5) as desk:
        await desk.press(key)
        assert desk.line.asked == []
        assert f"Press {key} again." in text_of(desk.app)
        await desk.press("down", key)
        assert desk.line.asked == []


async def test_a_person_is_sent_home_or_let_wait() -> None:
    async with desk_at((80, 24), tables=1, people=2) as desk:
        keys = [desk.evening.key(name) for name in ("P1", "P2")]
        await desk.press("k", "k", "down", "u")
        assert desk.line.asked == [SendHome(person=keys[0]), Unseat(person=keys[1])]


@sized
async def test_the_name_of_an_evening_is_whole_whatever_stands_beside_it(size: tuple[int, int]) -> None:
    name = "Tuesday at the Boathouse"
    async with desk_at(size, tables=6, people=23, settings=SAME_DEAL) as desk:
        desk.evening.club.record = desk.evening.club.record.with_(name=name)
        await desk.show()
        assert f"{name}  6 tables, 23 people  same deal for all" in text_of(desk.app)
        await desk.press("s")
        assert f"{name}  6 tables, 23 people" in text_of(desk.app)
        assert "starts in 0:10" in text_of(desk.app)
        desk.evening.do(EndEvening())
        await desk.show()
        assert f"{name}  6 tables, 23 people" in text_of(desk.app)
        assert "the evening is over" in text_of(desk.app)


async def test_what_was_said_of_a_key_goes_when_it_may_be_true_no_more_and_a_question_with_it() -> None:
    async with desk_at((80, 24), tables=1, people=4) as desk:
        for key, said in (("b", "There is no empty chair."), ("f", "Press f again.")):
            await desk.press(key)
            await desk.show()
            assert said in text_of(desk.app)
            desk.evening.wait(10_000)
            await desk.show()
            assert said in text_of(desk.app)
            desk.evening.wait(5_000)
            await desk.show()
            assert said not in text_of(desk.app)
        asked = list(desk.line.asked)
        await desk.press("f")
        assert desk.line.asked == asked, "the question that nobody sees any more is asked again"


async def test_a_question_is_answered_by_yes_and_no_too() -> None:
    """n would open a table, and y would give everybody ten seconds."""
    async with desk_at((80, 24), tables=1, people=1) as desk:
        for no in ("n", "escape"):
            await desk.press("f", no)
            assert desk.line.asked == []
            assert "Press f again" not in text_of(desk.app)
        await desk.press("f", "y")
        assert desk.line.asked == [EndEvening()]


async def test_an_evening_that_is_over_starts_no_tables() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        assert "s start all" in text_of(desk.app)
        desk.evening.do(EndEvening())
        await desk.show()
        assert "start all" not in text_of(desk.app)


async def test_what_the_club_refuses_is_said() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        await desk.press("space", "escape", "p")
        assert "No heat is running." in text_of(desk.app)


async def test_settings_are_changed_for_all_tables_from_their_screen() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        await desk.press("g", "3", "colon", "3", "0", "f5")
        (order,) = desk.line.asked
        assert isinstance(order, PlayBy)
        assert order.settings.level_ms == 210_000
        assert isinstance(desk.app.screen, DeskScreen)


async def test_the_settings_for_all_tables_are_not_called_those_of_a_table_that_opens() -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        await desk.press("g")
        text = text_of(desk.app)
        assert "Settings for all tables" in text
        assert "Play by these" in text
        assert "Open the table" not in text
        assert "Your name" not in text


async def test_the_results_are_written_from_the_desk() -> None:
    async with desk_at((80, 24), tables=1, people=2) as desk:
        await desk.press("e")
        assert "No heat has been finished yet." in text_of(desk.app)
        desk.evening.do(StartAll(in_ms=0))
        desk.evening.play("P1", "P2")
        await desk.show()
        await desk.press("e")
        assert "Written for Boathouse." in text_of(desk.app)
        assert len(desk.kept[0]) == 4


async def test_a_desk_where_nobody_is_is_left_at_once() -> None:
    async with desk_at((80, 24), tables=1, people=0) as desk:
        await desk.press("q")
        assert not isinstance(desk.app.screen, DeskScreen)


@pytest.mark.parametrize("begins", [False, True], ids=["before a heat", "during a heat"])
async def test_a_desk_with_people_is_left_on_a_second_key(begins: bool) -> None:
    async with desk_at((80, 24), tables=1, people=1) as desk:
        if begins:
            desk.evening.do(StartAll(in_ms=0))
            await desk.show()
        await desk.press("q")
        assert isinstance(desk.app.screen, DeskScreen)
        assert "Press q again." in text_of(desk.app)
        await desk.press("q")
        assert not isinstance(desk.app.screen, DeskScreen)


# ---- the mouse


async def drag(desk: Desk, start: tuple[int, int], end: tuple[int, int]) -> None:
    tables: Widget = desk.app.screen.query_one(Tables)
    await desk.pilot.mouse_down(tables, offset=start)
    await desk.pilot.mouse_up(tables, offset=end)
    await desk.settle()


def spot(desk: Desk, table: int, chair: int) -> tuple[int, int]:
    tables = desk.app.screen.query_one(Tables)
    zone = next(zone for zone in tables.canvas().zones if zone.key == f"spot {table} {chair}")
    return zone.x + 3, zone.y


async def test_a_person_is_dragged_from_chair_to_chair_and_to_the_list() -> None:
    async with desk_at((80, 24), tables=2, people=5) as desk:
        key = desk.evening.key("P2")
        await drag(desk, spot(desk, 0, 1), spot(desk, 1, 3))
        assert desk.line.asked == [SeatPerson(person=key, table=2, chair=3)]
        assert desk.evening.where("P2") == (2, 3)
        await drag(desk, spot(desk, 1, 3), spot(desk, -1, 0))
        assert desk.evening.where("P2") == (0, 0)
        await drag(desk, spot(desk, 0, 1), spot(desk, 0, 2))
        assert len(desk.line.asked) == 2  # an empty chair is not dragged


async def test_a_click_takes_a_place_in_hand_and_moves_nobody() -> None:
    async with desk_at((80, 24), tables=2, people=5) as desk:
        x, y = spot(desk, 1, 0)
        await desk.pilot.click(desk.app.screen.query_one(Tables), offset=(x, y))
        await desk.settle()
        assert (desk.model.at.table, desk.model.at.chair) == (1, 0)
        assert desk.line.asked == []


# ---- what is drawn


async def test_names_are_text_and_never_act() -> None:
    evening = ClubEvening(tables=1)
    evening.come("[red]Ann[/]")
    async with desk_at((80, 24), evening=evening) as desk:
        assert "[red]Ann[/]" in text_of(desk.app)


@pytest.mark.parametrize("tables", [1, 7, 19, 60])
async def test_the_table_in_hand_is_always_on_the_screen(tables: int) -> None:
    async with desk_at((80, 24), tables=tables, people=0) as desk:
        for _ in range(tables + 2):
            await desk.press("right")
        assert f"{tables:>2} Table {tables}" in text_of(desk.app)
        assert ("more tables" in text_of(desk.app)) == (tables > 6)


@sized
async def test_no_footer_is_cut_off(size: tuple[int, int]) -> None:
    async with desk_at(size, tables=2, people=5) as desk:
        for keys in ((), ("space",), ("escape", "s"), ("s",)):
            await desk.press(*keys)
            footer = desk.app.screen.keys()  # type: ignore[attr-defined]
            assert len(footer) <= 6
            assert text_of(desk.app).splitlines()[-1].rstrip().endswith(footer[-1][1])

"""Every screen, frozen as text at the smallest full size and at a large one."""

import pytest

from client.models.rack import PLACES
from client.theme import Look
from client.tui.ports import AtHome, AtHost, AtJoin
from client.tui.screens.end import SetEndScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import at


@sized
async def test_home(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        check_frozen(player.app, "home")
        await player.press("question_mark")
        check_frozen(player.app, "help-home")


@sized
async def test_host(size: tuple[int, int]) -> None:
    async with at(size, AtHost()) as player:
        await player.press("down", "3", "0", "down")
        check_frozen(player.app, "host")
        assert isinstance(player.app.screen, HostScreen)
        rows, seen = player.app.screen.form.rows(), text_of(player.app)
        for _ in rows:
            await player.press("down")
            seen += text_of(player.app)
        assert all(row.label in seen for row in rows)


async def test_a_low_screen_shows_the_setting_in_hand_and_that_there_are_more() -> None:
    async with at((80, 16), AtHost()) as player:
        screen = player.app.screen
        assert isinstance(screen, HostScreen)
        for row in screen.form.rows():
            shown = text_of(player.app)
            assert row.label in shown
            assert "▾" in shown or "▴" in shown
            await player.press("down")


@sized
async def test_join(size: tuple[int, int]) -> None:
    async with at(size, AtJoin()) as player:
        await player.press(*"192.0.2.20", "enter", *"otter", "space", *"plum")
        check_frozen(player.app, "join")


@sized
async def test_look(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        await player.press("o", "down")
        check_frozen(player.app, "look")


@sized
async def test_seats(size: tuple[int, int]) -> None:
    async with at(size, AtHost()) as player:
        await player.press("f5")
        await player.press("down", "b")
        check_frozen(player.app, "seats")


@sized
async def test_a_pass(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        check_frozen(player.app, "pass-dealt")
        player.line.pass_time(36_500)
        await player.press(*player.free()[:2])
        check_frozen(player.app, "pass-last-ten")
        await player.press(player.free()[2])
        check_frozen(player.app, "pass-ready")
        await player.press("enter")
        await player.others_play()
        check_frozen(player.app, "pass-fresh")
        await player.press("question_mark")
        check_frozen(player.app, "help-table")
        await player.press("x", "q")
        check_frozen(player.app, "leave")


@sized
async def test_a_blind_pass_and_waiting(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.play_to("first left")
        await player.press(player.free()[0], "2")
        check_frozen(player.app, "pass-blind")
        await player.press("enter")
        check_frozen(player.app, "pass-waiting")


@sized
async def test_a_pause(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.press("p")
        check_frozen(player.app, "paused")


@sized
async def test_the_go_on_question_and_a_stop(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.play_to("go on")
        check_frozen(player.app, "go-on")
        await player.press("0", "enter")
        await player.others_play()
        check_frozen(player.app, "stopped")


@sized
async def test_the_courtesy_and_the_end(size: tuple[int, int]) -> None:
    async with at(size, settings=Settings(seed=7, heats=1)) as player:
        await player.press("enter")
        await player.play_to("courtesy offer")
        await player.press("2")
        check_frozen(player.app, "courtesy-offer")
        await player.press("enter")
        await player.others_play()
        check_frozen(player.app, "courtesy-give")
        await player.play_to("the end")
        check_frozen(player.app, "set-end")
        assert isinstance(player.app.screen, SetEndScreen)
        assert [does for key, does, _ in player.app.screen.help_keys() if key == "n"] == ["new set"]
        await player.press("right")
        check_frozen(player.app, "set-end-all")
        named = [key for key, _, _ in player.app.screen.help_keys()]
        assert (named.count("n"), named.count("left right")) == (1, 1)


@sized
async def test_the_plan(size: tuple[int, int]) -> None:
    async with at(size, settings=Settings(seed=7, plan=True)) as player:
        await player.press("enter")
        await player.play_to("plan")
        await player.press(*player.free()[:2])
        check_frozen(player.app, "plan")


@sized
async def test_the_end_of_a_heat(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.play_to("courtesy give")
        screen = player.app.screen
        assert isinstance(screen, TableScreen)
        screen.tick()  # so that the table knows the rack's order, from whose right end the clock gives
        await player.settle()
        player.line.pass_time(600_000)
        await player.settle()
        check_frozen(player.app, "heat-end")


async def test_plain_borders_show_nothing_but_ascii() -> None:
    async with at((80, 24), look=Look(ascii=True)) as player:
        await player.press("enter")
        player.line.pass_time(36_500)
        await player.press(*player.free()[:3])
        check_frozen(player.app, "pass-ascii")
        assert text_of(player.app).isascii()
        await player.play_to("go on")
        await player.press("1")
        assert text_of(player.app).isascii()
        await player.press("p")
        assert text_of(player.app).isascii()


async def test_a_narrow_screen_shows_the_whole_rack_in_two_rows() -> None:
    async with at((50, 24)) as player:
        await player.press("enter")
        await player.press(*player.free()[:2])
        check_frozen(player.app, "pass-narrow")
        assert set(PLACES) <= set(text_of(player.app).replace("[", " ").replace("]", " ").split())


@pytest.mark.parametrize("size", [(80, 24), (100, 30)], ids=["80x24", "100x30"])
async def test_no_footer_is_cut_off(size: tuple[int, int]) -> None:
    async with at(size) as player:
        for start in ("seats", "first right", "first left", "go on", "courtesy offer", "courtesy give", "heat end"):
            if start == "first right":
                await player.press("enter")
            elif start == "heat end":
                await player.play_to("the end")
            elif start != "seats":
                await player.play_to(start)
            keys = player.app.screen.keys()  # type: ignore[attr-defined]
            assert sum(key not in ("p", "x") for _, _, key in keys) <= 6, "the host has two more"
            last_line = text_of(player.app).splitlines()[-1]
            assert last_line.rstrip().endswith(keys[-1][1]), start


@sized
async def test_the_card_at_the_table(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter", "v")
        check_frozen(player.app, "card-open")
        await player.press("z", "down", "r", "w", *"kong", "space", *"dr")
        check_frozen(player.app, "card-search")
        await player.press("enter", "v")
        check_frozen(player.app, "card-pinned")
        await player.press("f3")
        check_frozen(player.app, "route-open")


@sized
async def test_the_plan_with_a_hand_named(size: tuple[int, int]) -> None:
    async with at(size, settings=Settings(seed=7, plan=True)) as player:
        await player.press("enter")
        await player.play_to("plan")
        await player.press(*player.free()[:2], "z", "r")
        check_frozen(player.app, "plan-named")

"""A whole heat by keys alone, and another by mouse alone."""

import pytest
from textual.command import CommandPalette

from client.tui.ports import AtHome
from client.tui.screens.end import HeatEndScreen, SetEndScreen
from client.tui.screens.help import LeaveScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from client.tui.widgets.canvas import Drawn
from shared.rules.intents import Offer, Pass, Vote
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.player import Player, at


async def click(player: Player, key: str) -> None:
    """Click the middle of what stands for a key, as a mouse would."""
    for drawn in player.app.screen.query(Drawn):
        for zone in reversed(drawn.canvas().zones):
            if zone.key == key:
                await player.pilot.click(drawn, offset=(zone.x + zone.width // 2, zone.y + zone.height // 2))
                await player.settle()
                return
    raise AssertionError(f"nothing on the screen stands for {key!r}")


def answers(player: Player) -> list[str]:
    """What was asked of the table in the heat, by step."""
    found = []
    for intent in player.line.asked:
        match intent:
            case Pass():
                found.append(intent.step)
            case Vote():
                found.append("go on")
            case Offer():
                found.append("courtesy offer")
    return found


ALL_STEPS = [
    "first right",
    "first across",
    "first left",
    "go on",
    "second left",
    "second across",
    "last right",
    "courtesy offer",
    "courtesy give",
]


@pytest.mark.parametrize("hand", ["keys", "mouse"])
async def test_a_whole_heat_by_one_hand_alone(hand: str) -> None:
    async with at((80, 24), AtHome(), Settings(seed=7, heats=1)) as player:

        async def do(*keys: str) -> None:
            for key in keys:
                await (player.press(key) if hand == "keys" else click(player, key))

        await do("p")
        await do("enter")
        await do("enter")
        while step := player.model.step:
            assert isinstance(player.app.screen, TableScreen)
            if step.ask == "vote":
                await do("1", "enter")
            elif step.ask == "offer":
                await do("2", "enter")
            elif step.name == "first left":
                await do("1", *player.free()[:2], "enter")
            else:
                await do(*player.free()[: player.model.wanted], "enter")
            await player.others_play()
        assert isinstance(player.app.screen, SetEndScreen)
        assert answers(player) == ALL_STEPS
        assert player.model.view is not None
        (result,) = player.model.view.results
        own = next(seat for seat in result.seats if seat.chair == player.line.chair)
        assert [step.by for step in own.spent] == ["person"] * 9


async def test_a_dropped_tile_stays_by_mouse_too() -> None:
    async with at((80, 24)) as player:
        await click(player, "enter")
        letter = player.free()[0]
        await click(player, letter)
        assert len(player.model.rack.lifted) == 1
        await click(player, letter)
        assert player.model.rack.lifted == ()


async def test_a_question_says_what_enter_would_say() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.play_to("go on")
        assert "Enter confirms." not in text_of(player.app)
        await player.press("1")
        assert "You go on. Enter confirms." in text_of(player.app)
        await player.press("0")
        assert "You stop. Enter confirms." in text_of(player.app)
        await player.press("1", "enter")
        await player.play_to("courtesy offer")
        await player.press("2")
        assert "You offer 2. Enter confirms." in text_of(player.app)


async def test_arrows_and_space_do_what_letters_do() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.press("right", "right", "space")
        assert player.model.rack.lifted == (2,)
        moved = player.model.rack.tiles[2]
        await player.press("shift+left")
        assert player.model.rack.tiles[1] == moved
        assert player.model.rack.lifted == (1,)


async def test_the_table_hears_of_lifted_tiles_before_they_are_passed() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.press(*player.free()[:2])
        lifted = player.model.rack.lifted_tiles()
        assert isinstance(player.app.screen, TableScreen)
        player.app.screen.tick()
        heat = player.line.heat()
        assert heat is not None
        assert heat.lifted == lifted


async def test_the_next_heat_follows_and_the_deal_moves_on() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.play_to("the end")
        assert isinstance(player.app.screen, HeatEndScreen)
        await player.press("enter")
        assert isinstance(player.app.screen, TableScreen)
        assert player.model.heat is not None
        assert player.model.heat.seat != 0
        assert len(player.model.rack.tiles) == 13


async def test_after_the_set_every_heat_and_the_whole_can_be_looked_at() -> None:
    async with at((80, 24), settings=Settings(seed=7, heats=2)) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.press("enter")
        await player.play_to("the end")
        assert isinstance(player.app.screen, SetEndScreen)
        titles = [text_of(player.app).splitlines()[0].strip().split("   ")[0]]
        for _ in range(3):
            await player.press("right")
            titles.append(text_of(player.app).splitlines()[0].strip().split("   ")[0])
        assert titles == ["Heat 2 of 2", "The whole set", "Heat 1 of 2", "Heat 2 of 2"]
        await player.press("n")
        assert isinstance(player.app.screen, SeatsScreen)


@pytest.mark.parametrize(
    ("addresses", "host", "means"),
    [
        (("192.0.2.20:15214",), True, "it closes for everybody"),
        ((), True, "it ends here and is not kept"),
        ((), False, "a bot plays on in your seat"),
    ],
    ids=["host", "alone", "guest"],
)
async def test_leaving_a_running_heat_says_what_it_means(addresses: tuple[str, ...], host: bool, means: str) -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        assert player.app.is_at_table
        assert player.model.view
        player.app.session.keeps = bool(addresses)
        player.model.view = player.model.view.model_copy(update={"host": host})
        await player.press("q")
        assert isinstance(player.app.screen, LeaveScreen)
        assert means in " ".join(text_of(player.app).split())


@pytest.mark.parametrize(("addresses", "gives_up"), [(("192.0.2.20:15214",), False), ((), True)], ids=["host", "guest"])
async def test_a_host_keeps_the_chair_to_go_on_later(addresses: tuple[str, ...], gives_up: bool) -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        assert player.app.is_at_table
        player.app.session.keeps = bool(addresses)
        await player.press("q", "y")
        assert isinstance(player.app.screen, HomeScreen)
        assert ("leave" in [asked.kind for asked in player.line.asked]) == gives_up


async def test_the_quit_key_of_the_terminal_asks_too() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.press("ctrl+q")
        assert isinstance(player.app.screen, LeaveScreen)
        assert player.app.is_running
        assert player.app.is_at_table
        player.app.session.keeps = False
        await player.press("y")
        assert player.line.asked[-1].kind == "leave"


async def test_the_command_palette_offers_every_key_of_the_screen() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        offered = list(player.app.get_system_commands(player.app.screen))
        helps = {command.help for command in offered}
        assert {"key: s", "key: enter", "key: u", "key: p", "key: ?"} <= helps
        next(command for command in offered if command.help == "key: s").callback()
        assert player.model.rack.sort == "rank"
        await player.press("ctrl+p")
        assert isinstance(player.app.screen, CommandPalette)


async def test_the_look_can_be_changed_at_the_table() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        await player.press("o", "right", "q")
        assert isinstance(player.app.screen, TableScreen)
        assert player.app.look.theme == "light"


async def test_leaving_a_running_heat_asks_once() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        assert player.app.is_at_table
        player.app.session.keeps = False
        await player.press("q", "n")
        assert isinstance(player.app.screen, TableScreen)
        await player.press("q", "y")
        assert not isinstance(player.app.screen, TableScreen)
        assert player.line.asked[-1].kind == "leave"

"""One decision again, from any screen: as it stood, against its clock, judged, and back."""

from collections import Counter

import pytest

from client.tui.app import RacktempoApp
from client.tui.ports import AtHome, Choice
from client.tui.screens.decisions import DecisionScreen
from client.tui.screens.end import HeatEndScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.table import TableScreen
from shared.rules.decisions import Answer
from shared.rules.intents import Ready
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from tests.client.frozen import check_frozen, text_of
from tests.client.player import Player, at

SIZES = [(80, 24), (120, 40), (60, 20)]


async def play_a_heat(player: Player) -> SeatHeat:
    await player.press("enter")
    await player.play_to("the end")
    await player.until(lambda: player.model.own)
    return player.model.own[1]


def on_top(app: RacktempoApp) -> DecisionScreen:
    assert isinstance(app.screen, DecisionScreen)
    return app.screen


async def begin(player: Player, *choices: Choice) -> DecisionScreen:
    player.app.decide_again(choices)
    screen = on_top(player.app)
    await player.until(lambda: screen.model.phase == "deciding")
    return screen


async def test_a_choice_is_made_again_as_it_stood_while_a_table_is_open() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
        screen = await begin(player, Choice(heat, "first across", 3.5))
        decision = screen.model.decision
        assert decision is not None
        first, across = heat.steps[0], heat.steps[1]
        assert Counter(decision.rack) == Counter(heat.dealt) - Counter(first.given) + Counter(first.came)
        assert (decision.passed, decision.came, decision.length_ms) == (first.given, first.came, across.budget_ms)
        assert decision.then == Answer(across.given)
        assert player.app.is_at_table
        await player.press(*"abc", "enter")
        await player.until(lambda: screen.model.done[0].judgement)
        assert "In the heat: " in text_of(player.app)
        assert "3.5 points less than the best." in text_of(player.app)
        await player.press("enter")
        assert isinstance(player.app.screen, HeatEndScreen)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40", "60x20"])
async def test_how_a_choice_looks(size: tuple[int, int]) -> None:
    async with at(size, settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
        screen = await begin(player, Choice(heat, "first across", 3.5), Choice(heat, "go on"))
        player.line.pass_time(4_200)
        await player.press("a", "b", "c")
        check_frozen(player.app, "choice-asked")
        await player.press("enter")
        await player.until(lambda: screen.model.done[0].judgement)
        check_frozen(player.app, "choice-judged")
        await player.press("enter")
        await player.press("1", "enter")
        await player.until(lambda: screen.model.done[1].judgement)
        check_frozen(player.app, "choice-vote-judged")


async def test_every_choice_of_a_heat_can_be_made_again_from_home() -> None:
    steps: tuple[StepName, ...] = (
        "first right",
        "first left",
        "go on",
        "second left",
        "last right",
        "courtesy offer",
        "courtesy give",
    )
    async with at((80, 24), settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
    async with at((80, 24), AtHome()) as player:
        screen = await begin(player, *(Choice(heat, step) for step in steps))
        for number, step in enumerate(steps):
            await player.until(lambda: screen.model.phase == "deciding")
            decision = screen.model.decision
            assert decision is not None
            assert decision.step == step
            letters = "abcdefghijklmn"[: max(decision.wants, default=0)]
            await player.press(*(letters or ["1"]), "enter")
            await player.until(lambda number=number: screen.model.done[number].judgement)
            await player.press("enter")
        assert text_of(player.app).count(" s   ") == len(steps)
        await player.press("enter")
        assert isinstance(player.app.screen, HomeScreen)


async def test_the_clock_ends_a_choice_and_stands_still_while_help_is_read() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
        screen = await begin(player, Choice(heat, "first right"))
        await player.press("question_mark")
        player.line.pass_time(600_000)
        await player.press("q")
        assert screen.model.phase == "deciding"
        player.line.pass_time(600_000)
        screen.tick()
        await player.until(lambda: screen.model.done and screen.model.done[0].judgement)
        assert "Time ran out." in text_of(player.app)
        assert "The coach would pass " in text_of(player.app)


async def test_a_choice_that_cannot_be_made_again_says_why_and_leads_back() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
        player.app.decide_again([Choice(heat, "plan")])
        await player.until(lambda: "There was nothing to decide at plan in this heat." in text_of(player.app))
        await player.press("enter")
        assert isinstance(player.app.screen, HeatEndScreen)
        broken = heat.model_copy(update={"dealt": heat.dealt[:5]})
        player.app.decide_again([Choice(broken, "first right")])
        await player.until(lambda: "This heat does not add up" in text_of(player.app))


async def test_a_heat_that_begins_meanwhile_comes_on_top() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        heat = await play_a_heat(player)
        await begin(player, Choice(heat, "first right"))
        player.line.ask(Ready(), 1)
        await player.settle()
        assert isinstance(player.app.screen, TableScreen)

"""Drills of one decision from the screens: each kind, its goal, ten decisions, and what came of them."""

from datetime import UTC, datetime

import pytest

from client.storage.drilled import Memory, Round
from client.storage.history_db import HistoryEntry, Read
from client.storage.journal import Added, Journal
from client.storage.reviews import losses_of
from client.tui.ports import AtHome
from client.tui.screens.decisions import DecisionScreen
from client.tui.screens.drills import DrillScreen
from shared.coach.review import Review
from shared.rules.decisions import DRILLS, ROUND, Drill
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.versions import COACH
from tests.client.frozen import check_frozen, text_of
from tests.client.player import Player, at

SIZES = [(80, 24), (120, 40), (60, 20)]
FRESH: tuple[Drill, ...] = ("first", "tempting", "go on", "courtesy", "discard", "family")


async def begin(player: Player, drill: Drill) -> DecisionScreen:
    """Go from home to a drill and leave its goal behind."""
    await player.press("d", *["down"] * tuple(DRILLS).index(drill), "enter")
    await player.until(lambda: isinstance(player.app.screen, DecisionScreen))
    screen = player.app.screen
    assert isinstance(screen, DecisionScreen)
    assert DRILLS[drill].goal.split(",")[0] in " ".join(text_of(player.app).split())
    await player.press("enter")
    await player.until(lambda: screen.model.phase == "deciding")
    return screen


async def answer(player: Player, screen: DecisionScreen) -> None:
    """Answer the decision in sight with the first tiles, or the first number."""
    model, decided = screen.model, len(screen.model.done)
    free = [letter for at, letter in enumerate("abcdefghijklmn") if model.rack.may_lift(at)]
    for key in model.numbers[-1:] or free[: model.wanted]:
        screen.do(key)
    if len(model.done) == decided:  # a section is named by its number alone
        screen.do("enter")
    await player.until(lambda: model.done[decided].judgement or model.done[decided].trouble)
    assert not model.done[decided].trouble


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40", "60x20"])
async def test_the_drills_and_a_goal(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        await player.press("d")
        check_frozen(player.app, "drills")
        await player.press("down", "enter")
        await player.until(lambda: isinstance(player.app.screen, DecisionScreen))
        check_frozen(player.app, "drill-goal")


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40", "60x20"])
async def test_a_family_is_named_at_a_glance(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        screen = await begin(player, "family")
        check_frozen(player.app, "drill-family-asked")
        await answer(player, screen)
        check_frozen(player.app, "drill-family-judged")


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40", "60x20"])
async def test_a_first_discard(size: tuple[int, int]) -> None:
    async with at(size, AtHome()) as player:
        screen = await begin(player, "discard")
        check_frozen(player.app, "drill-discard-asked")
        await answer(player, screen)
        check_frozen(player.app, "drill-discard-judged")


@pytest.mark.parametrize("drill", FRESH)
async def test_ten_fresh_decisions_and_their_record_beside_earlier_rounds(drill: Drill) -> None:
    earlier = Round(played_s=1, best=4, close=2, costly=3, out=1, spent_ms=80_000, points=13.5)
    kept: list[tuple[Drill, Round]] = []

    def add_round(which: Drill, played: Round) -> str:
        kept.append((which, played))
        return ""

    journal = Journal(add_round=add_round, rounds=lambda which: (earlier,))
    async with at((80, 24), AtHome(), journal=journal) as player:
        screen = await begin(player, drill)
        racks = set()
        for number in range(ROUND):
            await player.until(lambda: screen.model.phase == "deciding")
            assert screen.model.decision is not None
            racks.add(screen.model.decision.rack)
            player.line.pass_time(1_500)
            await answer(player, screen)
            assert f"{number + 1} of {ROUND}" in text_of(player.app)
            screen.do("enter")
        assert len(racks) == ROUND
        await player.until(lambda: kept and screen.record)
        ((which, played),) = kept
        assert (which, played.count, played.spent_ms, played.out) == (drill, ROUND, 15_000, 0)
        shown = " ".join(text_of(player.app).split())
        assert "This round: 1.5 s" in shown
        assert "The one before: 8.0 s and 1.5 points lost a decision; 4 of 10 best, 1 out of time." in shown
        screen.do("enter")
        await player.settle()
        assert isinstance(player.app.screen, DrillScreen)


async def costly_heat() -> tuple[SeatHeat, HistoryEntry]:
    """A heat in which the first three tiles went at each pass, with its review."""
    reviews: list[Review] = []

    def add_review(heat: SeatHeat, review: Review) -> str:
        reviews.append(review)
        return ""

    journal = Journal(add=lambda *_: Added(is_new=True), add_review=add_review)
    async with at((80, 24), settings=Settings(seed=7), journal=journal) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: reviews)
        own = player.model.own[1]
    return own, HistoryEntry(1, own, coach=COACH, losses={loss.step: loss for loss in losses_of(reviews[0])})


async def test_what_cost_most_comes_again_and_what_came_of_it_decides_when_it_comes_back() -> None:
    heat, entry = await costly_heat()
    remembered: list[tuple[StepName, Memory]] = []

    def remember(of: SeatHeat, step: StepName, memory: Memory) -> str:
        assert of == heat
        remembered.append((step, memory))
        return ""

    journal = Journal(read=lambda: Read((entry,)), remember=remember)
    async with at((80, 24), AtHome(), journal=journal) as player:
        player.app.stamp = lambda: "2031-03-01T12:00:00+00:00"
        screen = await begin(player, "costliest")
        decision = screen.model.decision
        assert decision is not None
        assert decision.lost == max(loss.points for loss in entry.losses.values() if loss.points >= 2 * loss.error)
        player.line.pass_time(600_000)
        screen.tick()
        await player.until(lambda: remembered)
        ((step, memory),) = remembered
        assert step == decision.step
        assert memory.due > datetime(2031, 3, 1, 12, tzinfo=UTC)
        await player.until(lambda: "points less than the best." in text_of(player.app))


async def told(journal: Journal, *keys: str) -> str:
    async with at((80, 24), AtHome(), journal=journal) as player:
        await player.press("d", *keys)

        def holds() -> bool:
            screen = player.app.screen
            return not isinstance(screen, DrillScreen) or screen.told != ""

        await player.until(holds)
        return text_of(player.app)


async def test_with_nothing_that_cost_anything_the_screen_says_so() -> None:
    assert "No measurable mistakes yet." in await told(Journal(), "enter")


async def test_a_typed_rack_is_asked_about_and_a_bad_one_says_why() -> None:
    to_rack = ["up", "up", "up", "up"]
    assert "A rack has 13 or 14 tiles; these are 3." in await told(Journal(), *to_rack, *"123b", "enter")
    assert "10b has no such rank" in await told(Journal(), *to_rack, *"10b", "enter")
    async with at((80, 24), AtHome()) as player:
        await player.press("d", *to_rack, *"1123b", "space", *"567c", "space", *"9d", "space", *"neffj", "space", *"3d")
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, DecisionScreen))
        screen = player.app.screen
        assert isinstance(screen, DecisionScreen)
        await player.press("enter")
        asked = []
        for _ in range(3):
            await player.until(lambda: screen.model.phase == "deciding")
            assert screen.model.decision is not None
            asked.append(screen.model.decision.ask)
            await answer(player, screen)
            screen.do("enter")
        assert asked == ["family", "pass", "discard"]

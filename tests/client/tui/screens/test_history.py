"""The history on the screen: what it says of few and of many heats, the next clock, and heats looked at again."""

from dataclasses import replace
from random import Random

import pytest

from client.reports.history_stats import history_report
from client.storage.history_db import HistoryEntry, Read, StepLoss
from client.storage.journal import Added, Journal
from client.target import Named
from client.tui.ports import AtHome
from client.tui.screens.history import PAGES, HistoryScreen
from client.tui.screens.review import ReviewScreen
from client.tui.screens.seats import SeatsScreen
from shared.rules.seat_heat import SeatStep
from shared.rules.settings import Settings
from shared.rules.steps import PASSES
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.heats import entry, heat, step
from tests.client.here import CoachHere
from tests.client.player import at

KINDS = ("breaking a pair", "passing the likeliest hand's suit", "a late change of hand")


def played(count: int) -> tuple[HistoryEntry, ...]:
    """Return invented heats of two levels with invented losses."""
    dice = Random(5)
    found = []
    for number in range(1, count + 1):
        settings = Settings(level_ms=180_000 if number % 2 else 120_000, heats=3)
        steps = [step(name, dice.uniform(6, 22), length_s=settings.length_ms(name) / 1000) for name in PASSES]
        losses = [
            StepLoss(
                step=name,
                points=max(0.0, dice.gauss(0.5, 0.8)),
                error=0.2,
                luck=dice.gauss(0, 3),
                kinds=tuple(kind for kind in KINDS if dice.random() < 0.3),
            )
            for name in PASSES
        ]
        found.append(entry(heat(number, steps, settings=settings), losses, first=number - (number - 1) % 3))
    return tuple(found)


def journal(entries: tuple[HistoryEntry, ...]) -> Journal:
    return Journal(read=lambda: Read(entries), add=lambda *_: Added())


@sized
async def test_every_page_of_a_history(size: tuple[int, int]) -> None:
    async with at(size, AtHome(), journal=journal(played(31))) as player:
        await player.press("y")
        screen = player.app.screen
        assert isinstance(screen, HistoryScreen)
        await player.until(lambda: screen.report)
        for page in PAGES:
            check_frozen(player.app, f"history-{page.replace(' ', '-')}")
            await player.press("right")
        await player.press("question_mark")
        check_frozen(player.app, "help-history")


async def test_no_heats_are_no_trouble() -> None:
    async with at((80, 24), AtHome(), journal=journal(())) as player:
        await player.press("y")
        screen = player.app.screen
        assert isinstance(screen, HistoryScreen)
        await player.until(lambda: screen.report)
        for _ in PAGES:
            assert "No heats yet" in text_of(player.app) or screen.page
            await player.press("right", "down", "enter", "n")
        assert player.app.screen is screen


async def test_there_is_no_trend_from_few_heats() -> None:
    async with at((80, 24), AtHome(), journal=journal(played(7))) as player:
        await player.press("y", "right")
        await player.until(lambda: "not enough heats yet: 7 of 20" in text_of(player.app))


@pytest.mark.parametrize(
    ("lived", "mark"),
    [
        (step(), "-"),
        (step(by="timeout"), "out"),
        (step(seconds=21.0, budget_s=30.0), "over"),
    ],
    ids=["inside", "the clock answered", "longer than the level"],
)
async def test_the_list_of_heats_marks_those_outside_their_level(lived: SeatStep, mark: str) -> None:
    async with at(
        (80, 24), AtHome(), journal=journal((entry(heat(steps=[step("first across", 20.0), lived])),))
    ) as player:
        await player.press("y", "left")
        await player.until(lambda: "2031-03-01" in text_of(player.app))
        line = next(line for line in text_of(player.app).splitlines() if "2031-03-01" in line)
        assert line.split()[-1] == mark


async def test_the_list_says_what_the_chosen_heat_was_played_for() -> None:
    first, second = entry(heat(1)), entry(heat(2))
    named = (
        Named(step="first right", after_ms=4_000, hand="h1", words="run four pairs"),
        Named(step="second left", after_ms=900, words="Neighbours"),
    )
    async with at((80, 24), AtHome(), journal=journal((first, replace(second, targets=named)))) as player:
        await player.press("y", "left")
        await player.until(lambda: "2031-03-01" in text_of(player.app))
        assert "target: run four pairs, then Neighbours" in text_of(player.app)
        await player.press("down")
        assert "target:" not in text_of(player.app)


async def test_each_level_has_its_own_numbers() -> None:
    async with at((80, 24), AtHome(), journal=journal(played(12))) as player:
        await player.press("y", "right")
        await player.until(lambda: "All levels: 12 heats" in text_of(player.app))
        await player.press("down")
        assert "Level 3:00: 6 heats" in text_of(player.app)
        await player.press("down")
        assert "Level 2:00: 6 heats" in text_of(player.app)


async def test_the_next_clock_is_played_only_when_asked_for() -> None:
    asked: list[Settings] = []
    async with at((80, 24), AtHome(), journal=journal(played(6))) as player:
        solo = player.app.openers.solo
        player.app.openers = player.app.openers.__class__(
            solo=lambda settings, name, card: (asked.append(settings), solo(settings, name, card))[1],
            host=player.app.openers.host,
            join=player.app.openers.join,
        )
        await player.press("y")
        screen = player.app.screen
        assert isinstance(screen, HistoryScreen)
        await player.until(lambda: screen.offered)
        assert asked == []
        await player.press("n")
        assert isinstance(player.app.screen, SeatsScreen)
        assert asked == [screen.offered]
        assert screen.report is not None
        assert {offer.step: offer.next_ms for offer in screen.report.next_clock}.items() <= asked[0].lengths_ms.items()


async def test_a_heat_is_opened_from_the_last_page() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        (kept,) = player.model.own.values()
    coach = CoachHere()
    async with at((80, 24), AtHome(), journal=journal((HistoryEntry(1, kept),)), coach=coach) as player:
        await player.press("y", "left")
        await player.until(lambda: coach.asked == ["review_heat"])
        await player.press("enter")
        assert isinstance(player.app.screen, ReviewScreen)


async def test_losses_by_an_earlier_coach_are_not_mixed_with_todays_and_judged_anew_on_demand() -> None:
    async with at((80, 24), settings=Settings(seed=7)) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        (kept,) = player.model.own.values()
    loss = StepLoss(step="first right", points=77.7, error=0.1, luck=0.0)
    old = HistoryEntry(1, kept, coach="an earlier coach", losses={"first right": loss})
    coach = CoachHere()
    async with at((80, 24), AtHome(), journal=journal((old,)), coach=coach) as player:
        await player.press("y")
        await player.until(lambda: "1 heat judged by an earlier coach" in text_of(player.app))
        assert "77.7" not in text_of(player.app)
        assert coach.asked == []
        await player.press("a")
        await player.until(lambda: coach.asked == ["review_heat"])


def test_a_report_counts_only_losses_by_todays_coach() -> None:
    loss = StepLoss(step="first right", points=8.0, error=0.1, luck=0.0, kinds=("breaking a pair",))
    today = entry(heat(1, [step("first right")]), [loss])
    earlier = replace(today, id=2, coach="an earlier coach")
    alone, both = history_report(Read((today,))), history_report(Read((today, earlier)))
    assert alone.overall is not None
    assert both.overall is not None
    assert alone.overall.loss is not None
    assert both.overall.loss == alone.overall.loss
    assert (both.heats, both.older, alone.older) == (2, 1, 0)


async def test_a_heat_in_which_nobody_answered_is_marked_as_not_played() -> None:
    empty = entry(heat(steps=[step(by="timeout"), step("first across", by="timeout")]))
    async with at((80, 24), AtHome(), journal=journal((empty,))) as player:
        await player.press("y")
        await player.until(lambda: "No heats yet, not counting 1 not played." in text_of(player.app))
        await player.press("left")
        line = next(line for line in text_of(player.app).splitlines() if "2031-03-01" in line)
        assert line.rstrip().endswith("not played")

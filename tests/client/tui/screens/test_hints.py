"""Hints while a heat runs: never before a pass is committed, and with the numbers that the review will have."""

import pytest

from client.coach.queue import Looking
from client.theme import Look
from client.tui.screens.review import ReviewScreen
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.here import CoachHere
from tests.client.player import at

HINTS = Settings(seed=7, hints="after each pass")


@sized
async def test_after_a_pass_one_quiet_line_and_more_on_request(size: tuple[int, int]) -> None:
    async with at(size, settings=HINTS) as player:
        await player.press("enter")
        await player.press(*player.free()[:3], "enter")
        await player.others_play()
        await player.until(lambda: player.model.hint and player.model.hint.compared)
        check_frozen(player.app, "hint-line")
        await player.press("y")
        check_frozen(player.app, "hint-why")


@pytest.mark.parametrize("hints", ["none", "at the end"])
async def test_the_coach_is_not_asked_where_the_host_does_not_want_it(hints: str) -> None:
    coach = CoachHere()
    async with at((80, 24), settings=Settings.model_validate({"seed": 7, "hints": hints}), coach=coach) as player:
        await player.press("enter")
        await player.play_to("courtesy offer")
        assert coach.asked == []
        assert player.model.hint is None
        await player.press("y")
        assert "no hints while a heat runs" in text_of(player.app)


async def test_the_coach_is_not_asked_before_the_pass_is_committed() -> None:
    coach = CoachHere()
    async with at((80, 24), settings=HINTS, coach=coach) as player:
        await player.press("enter")
        await player.press(*player.free()[:3], "y")
        player.line.pass_time(5_000)
        await player.settle()
        assert coach.asked == []


async def test_a_pass_that_can_be_taken_back_is_not_judged_before_its_step_ends() -> None:
    coach = CoachHere()
    settings = Settings(seed=7, hints="after each pass", final_at="step end")
    async with at((80, 24), settings=settings, coach=coach) as player:
        await player.press("enter")
        await player.press(*player.free()[:3], "enter")
        assert player.model.stage == "answered"
        assert coach.asked == []
        await player.others_play()
        await player.until(lambda: player.model.hint and player.model.hint.compared)
        assert coach.asked == ["compare_made"]


async def test_a_hint_says_what_the_review_says_later() -> None:
    async with at((80, 24), settings=HINTS, look=Look(second_try=False)) as player:
        await player.press("enter")
        hints = {}
        for step in ("first across", "first left", "go on", "second across"):
            await player.play_to(step)
            await player.until(lambda: player.model.hint and player.model.hint.compared)
            assert player.model.hint is not None
            hints[player.model.hint.step] = player.model.hint.compared
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        await player.press("r")
        screen = player.app.screen
        assert isinstance(screen, ReviewScreen)
        looking: Looking = screen.looking()
        await player.until(lambda: looking.done == 1)
        assert looking.review is not None
        reviewed = {step.lived.step.step: step.verdict for step in looking.review.steps}
        assert len(hints) >= 3
        for step_name, compared in hints.items():
            verdict = reviewed[step_name]
            assert verdict is not None
            assert compared is not None
            assert (compared.ways, compared.own) == (verdict.ways, verdict.own)

"""Looking at a heat again on the screen: pages, a second try, other seats, stopping, and what the history gets."""

import pytest

from client.models.review import way_words
from client.storage.history_db import Read, Source
from client.storage.journal import Added, Journal
from client.theme import Look
from client.tui.screens.decisions import DecisionScreen
from client.tui.screens.end import HeatEndScreen
from client.tui.screens.review import ReviewScreen
from shared.coach.review import Review
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.here import CoachHere
from tests.client.player import Player, at
from tests.client.tui.screens.test_whole_heat import click

PLAN = Settings(seed=8, plan=True)


class Shelved:
    """A history that only remembers."""

    def __init__(self) -> None:
        self.heats: list[tuple[SeatHeat, Source, int]] = []
        self.reviews: list[Review] = []

    def journal(self) -> Journal:
        def add(heat: SeatHeat, source: Source, detail: str, first: int) -> Added:
            self.heats.append((heat, source, first))
            return Added(is_new=True)

        def add_review(heat: SeatHeat, review: Review) -> str:
            self.reviews.append(review)
            return ""

        return Journal(read=lambda: Read(()), add=add, add_review=add_review)


async def play_and_review(player: Player) -> ReviewScreen:
    """Play a heat with the leftmost tiles and open its review."""
    await player.press("enter")
    await player.play_to("plan")
    await player.press("z", "r", player.free()[0], "enter")
    await player.others_play()
    await player.until(lambda: isinstance(player.app.screen, HeatEndScreen) and player.model.own)
    await player.press("r")
    screen = player.app.screen
    assert isinstance(screen, ReviewScreen)
    return screen


@sized
async def test_every_page_of_a_review(size: tuple[int, int]) -> None:
    async with at(size, settings=PLAN, look=Look(second_try=True)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1 and not screen.looking().running)
        check_frozen(player.app, "review-glance")
        await player.press("right")
        check_frozen(player.app, "review-second-try")
        await player.press("s")
        check_frozen(player.app, "review-step")
        for _ in range(3):
            await player.press("right")
        check_frozen(player.app, "review-vote")
        await player.press("left", "left", "left", "left", "left")
        check_frozen(player.app, "review-end")
        await player.press("question_mark")
        check_frozen(player.app, "help-review")


async def test_a_second_try_is_asked_for_and_judged_before_the_answer() -> None:
    async with at((80, 24), settings=PLAN, look=Look(second_try=True)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1)
        await player.press("right")
        assert screen.hides()
        review = screen.looking().review
        assert review is not None
        verdict = review.steps[0].verdict
        assert verdict is not None
        best = verdict.ways[0].ranked.tiles
        assert " ".join(best) not in text_of(player.app)
        await player.press("a", "b", "enter")
        assert "Lift 3 tiles." in text_of(player.app)
        await player.press("a", "b", "m", "l", "k", "enter")
        await player.until(lambda: not screen.hides())
        assert "Your second try" in text_of(player.app)
        assert screen.tried


async def test_without_that_wish_the_answer_is_there_at_once() -> None:
    async with at((80, 24), settings=PLAN, look=Look(second_try=False)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1)
        await player.press("right")
        assert not screen.hides()
        assert "best hand" in text_of(player.app)
        assert "Better: " in text_of(player.app)


async def test_a_review_can_be_read_while_it_fills_in_and_be_stopped() -> None:
    shelved = Shelved()
    async with at((80, 24), settings=PLAN, journal=shelved.journal(), coach=CoachHere(held=3)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done > 0.1)
        assert screen.looking().running
        assert "Looking ..." in text_of(player.app)
        await player.press("right", "right", "right", "right", "right")
        assert "has not looked at this step yet" in text_of(player.app)
        await player.press("x")
        await player.until(lambda: not screen.looking().running)
        assert "Stopped." in text_of(player.app)
        assert "go on" in text_of(player.app).splitlines()[-1]
        assert not shelved.reviews


async def test_a_heat_and_its_whole_review_go_into_the_history() -> None:
    shelved = Shelved()
    async with at((80, 24), settings=PLAN, journal=shelved.journal()) as player:
        await play_and_review(player)
        await player.until(lambda: shelved.reviews)
        ((heat, source, first),) = shelved.heats
        assert (heat.number, source, first) == (1, "table", 1)
        assert shelved.reviews[0].ledger is not None


async def test_all_seats_can_be_looked_at_when_the_racks_were_opened() -> None:
    async with at((80, 24), settings=PLAN) as player:
        screen = await play_and_review(player)
        await player.until(lambda: player.model.whole)
        await player.press("q", "r")
        screen = player.app.screen
        assert isinstance(screen, ReviewScreen)
        assert len({heat.seat for heat in screen.heats}) == 4
        await player.press("down")
        await player.until(lambda: screen.looking().done == 1)
        assert "Wren" in text_of(player.app).splitlines()[0]


@pytest.mark.parametrize("is_said", [True, False])
async def test_where_values_count_the_review_says_what_points_are(is_said: bool) -> None:
    settings = Settings(seed=7, plan=True, play_for="values" if is_said else "winning")
    async with at((80, 24), settings=settings) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1)
        assert ("100 is the card's dearest hand" in " ".join(text_of(player.app).split())) == is_said


async def test_closed_racks_show_ones_own_seat_alone() -> None:
    async with at((80, 24), settings=Settings(seed=7, plan=True, open_racks=False)) as player:
        screen = await play_and_review(player)
        assert len(screen.heats) == 1


async def test_a_host_who_wants_no_hints_gets_no_review_at_the_table() -> None:
    async with at((80, 24), settings=Settings(seed=7, hints="none")) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        await player.press("r")
        assert isinstance(player.app.screen, HeatEndScreen)
        assert "review" not in text_of(player.app)


async def test_a_step_can_be_clicked_at_a_glance() -> None:
    async with at((80, 24), settings=PLAN) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1)
        await click(player, "page 3")
        assert screen.page == 3


async def test_a_choice_is_made_again_from_its_page_also_at_an_open_table() -> None:
    async with at((80, 24), settings=PLAN, look=Look(second_try=False)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1)
        assert screen.shell.is_at_table
        await player.press("right", "right", "g")
        await player.until(lambda: isinstance(player.app.screen, DecisionScreen) and player.app.screen.model.decision)
        again = player.app.screen
        assert isinstance(again, DecisionScreen)
        assert again.model.decision is not None
        assert again.model.decision.step == "first across"
        await player.press("q")
        assert player.app.screen is screen


async def test_at_60x20_a_page_longer_than_the_screen_is_marked_and_can_be_read_to_its_end() -> None:
    async with at((60, 20), settings=PLAN, look=Look(second_try=False)) as player:
        screen = await play_and_review(player)
        await player.until(lambda: screen.looking().done == 1 and not screen.looking().running)
        check_frozen(player.app, "review-glance")
        await player.press("right")
        assert screen.parts() > 1
        check_frozen(player.app, "review-step")
        shown = ""
        for part in range(screen.parts()):
            assert f"part {part + 1} of {screen.parts()}: space shows the next" in text_of(player.app)
            shown += text_of(player.app)
            await player.press("space")
        assert screen.part == 0
        review = screen.looking().review
        assert review is not None
        verdict = review.steps[0].verdict
        assert verdict is not None
        for way in verdict.ways:
            assert way_words(way) in shown
        words = " ".join(shown.split())
        assert all(sentence in words for sentence in verdict.own.words[:1])

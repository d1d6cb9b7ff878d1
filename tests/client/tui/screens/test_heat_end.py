"""The end of a heat on screen: complete before anything is pressed; times, racks and the same choice are a key away."""

from dataclasses import replace

import pytest

from client.storage.history_db import HistoryEntry, Read, Source, StepLoss
from client.storage.journal import Added, Journal
from client.target import Named
from client.tui.screens.decisions import DecisionScreen
from client.tui.screens.end import EndScreen, HeatEndScreen, SetEndScreen
from client.tui.screens.review import ReviewScreen
from client.tui.screens.table import TARGET
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.typed_tiles import typed
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.heats import entry, heat, step
from tests.client.here import CoachHere
from tests.client.player import Player, at


async def to_the_end(player: Player) -> EndScreen:
    """Play a heat to its end, and wait for what the coach says of it."""
    await player.press("enter")
    await player.play_to("the end")
    screen = player.app.screen
    assert isinstance(screen, EndScreen)
    await player.until(lambda: screen.end().points)
    return screen


@sized
async def test_before_anything_is_pressed_it_says_what_it_took_and_why(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        player.line.pass_time(21_300)
        await player.press(*(["v"] if size[0] < 116 else []), TARGET, "escape")
        await player.play_to("the end")
        screen = player.app.screen
        assert isinstance(screen, HeatEndScreen)
        await player.until(lambda: screen.end().points)
        check_frozen(player.app, "heat-end-target")
        end, shown = screen.end(), " ".join(text_of(player.app).split())
        assert end.costly
        for sentence in (end.time, end.points, end.costly.heading, end.costly.why, end.costly.name, end.target):
            assert " ".join(sentence.split()) in shown
        assert "first right 21.3 of 43 s" in shown


@pytest.mark.parametrize("size", [(60, 20), (40, 16)])
async def test_in_a_small_terminal_time_loss_and_the_costliest_decision_stay(size: tuple[int, int]) -> None:
    async with at(size) as player:
        screen = await to_the_end(player)
        end, shown = screen.end(), " ".join(text_of(player.app).split())
        assert end.costly
        for sentence in (end.time, end.points, end.costly.heading, end.costly.name):
            assert " ".join(sentence.split()) in shown


async def test_times_and_racks_are_a_key_away_and_lead_back() -> None:
    async with at((80, 24)) as player:
        await to_the_end(player)
        end = text_of(player.app)
        await player.press("t")
        check_frozen(player.app, "heat-end-times")
        await player.press("h")
        check_frozen(player.app, "heat-end-racks")
        await player.press("h")
        assert text_of(player.app) == end
        await player.press("t", "escape")
        assert text_of(player.app) == end


async def test_g_deals_that_choice_again_also_at_an_open_table_and_leads_back() -> None:
    async with at((80, 24)) as player:
        screen = await to_the_end(player)
        costly = screen.end().costly
        assert costly
        assert player.app.is_at_table
        await player.press("g")
        again = player.app.screen
        assert isinstance(again, DecisionScreen)
        await player.until(
            lambda: costly.step.capitalize() in text_of(player.app) or costly.step in text_of(player.app)
        )
        await player.press("q")
        assert player.app.screen is screen
        assert player.app.is_at_table


async def test_without_hints_it_says_so_and_shows_what_it_can() -> None:
    coach = CoachHere()
    async with at((80, 24), settings=Settings(seed=7, hints="none"), coach=coach) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        shown = text_of(player.app)
        assert "This table gives no hints" in shown
        assert "of 3:00, in time" in shown
        assert "others" in shown
        assert "cost" not in shown
        await player.press("g")
        assert isinstance(player.app.screen, HeatEndScreen)
        await player.press("t")
        assert "Wren" in text_of(player.app)


async def test_a_heat_that_nobody_played_says_that_it_counts_nowhere() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        player.line.pass_time(600_000)
        await player.until(lambda: player.model.own)
        assert "Your own history leaves it out." in " ".join(text_of(player.app).split())


async def test_while_the_coach_looks_it_says_so_and_time_is_there_already() -> None:
    async with at((80, 24), coach=CoachHere(held=3)) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.until(lambda: player.model.own)
        shown = text_of(player.app)
        assert "The coach is looking at this heat ..." in shown
        assert "of 3:00, in time" in shown


async def test_after_the_set_enter_shows_the_whole_and_n_deals_the_next() -> None:
    async with at((80, 24), settings=Settings(seed=7, heats=1)) as player:
        screen = await to_the_end(player)
        assert isinstance(screen, SetEndScreen)
        await player.press("enter")
        assert "The whole set" in text_of(player.app)
        await player.press("n")
        assert not isinstance(player.app.screen, EndScreen)


@pytest.mark.parametrize(("hints", "thinks"), [("at the end", True), ("none", False)])
async def test_alone_the_coach_thinks_ahead_and_shows_nothing_of_it(hints: str, thinks: bool) -> None:
    coach = CoachHere()
    settings = Settings.model_validate({"seed": 7, "hints": hints})
    async with at((80, 24), settings=settings, coach=coach) as player:
        player.model.alone = True
        await player.press("enter", "enter")
        await player.play_to("go on")
        if thinks:
            await player.until(lambda: coach.asked.count("look_ahead") == 3)
        assert ("look_ahead" in coach.asked) == thinks
        assert set(coach.asked) <= {"look_ahead"}
        assert player.model.hint is None


async def test_the_set_stands_beside_the_last_ones_with_the_habit_to_work_on_or_that_there_is_none() -> None:
    before = [
        entry(heat(at, [step(seconds=7.0)], played_at=f"2025-03-0{at}T10:00:00Z"), {"first right": 2.0})
        for at in (1, 2, 3)
    ]
    kept = list(before)

    def add(own: SeatHeat, source: Source, detail: str, first: int) -> Added:
        kept.append(replace(entry(own, {"first right": 1.0}, first=first), id=len(kept) + 1))
        return Added(True)

    journal = Journal(read=lambda: Read(tuple(kept)), add=add)
    async with at((80, 24), settings=Settings(seed=7, heats=1), journal=journal) as player:
        screen = await to_the_end(player)
        await player.press("enter")
        await player.until(lambda: len(screen.beside) == 3)
        shown = " ".join(text_of(player.app).split())
        assert "This set: 0:01, 1.0 points lost." in shown
        assert "Your last sets (3 heats): usually 0:07 a heat, 2.0 points lost on average." in shown
        assert "No habit yet" in shown


async def test_after_coming_back_with_a_fresh_program_the_named_target_is_there_out_of_the_history() -> None:
    named = Named(step="first right", after_ms=900, words="Stairs")
    kept: list[HistoryEntry] = []
    journal = Journal(read=lambda: Read(tuple(kept)))
    async with at((80, 24), journal=journal) as player:
        screen = await to_the_end(player)
        assert not screen.end().target
        (own,) = player.model.own.values()
        kept.append(replace(entry(own), targets=(named,)))
        player.model.own.clear()  # as a program that has just come back: the heat's record comes after the screen
        screen.tick()
        player.model.own[own.number] = own
        screen.tick()
        await player.until(lambda: screen.end().target)
        assert "You named Stairs at first right" in text_of(player.app)
        await player.press("r")
        review = player.app.screen
        assert isinstance(review, ReviewScreen)
        assert review.named == (named,)


@sized
async def test_a_habit_reads_well_at_the_end_of_a_set(size: tuple[int, int]) -> None:
    rack = typed("N N 1b 4c 5c 6c 7d 8d 9d E F R J")
    broken = StepLoss(step="first right", points=2.0, error=0.1, luck=0.0, best=rack[6:9])
    kept = [
        entry(
            heat(at, [step().model_copy(update={"given": ("N", *rack[2:4])})]).model_copy(update={"dealt": rack}),
            [broken],
        )
        for at in range(1, 13)
    ]
    journal = Journal(read=lambda: Read(tuple(kept)))
    async with at(size, settings=Settings(seed=7, heats=1), journal=journal) as player:
        screen = await to_the_end(player)
        await player.press("enter")
        await player.until(lambda: screen.beside)
        (habit,) = screen.beside
        assert habit == (
            "You break pairs: 12 of 12 times in 12 heats, 24 points lost. "
            "Instead: look for tiles that stand alone before you give one of two alike."
        )
        shown = [line.strip() for line in text_of(player.app).splitlines()]
        assert habit in " ".join(" ".join(shown).split())
        check_frozen(player.app, "set-end-habit")
